"""Telling of alarms: by mail (SMTP) and by webhook (HTTP POST of JSON), as WORKSHOP/alarms.toml sets it up."""

from __future__ import annotations

import json
import os
import smtplib
import ssl
import time
import urllib.error
import urllib.request
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from email.headerregistry import Address
from email.message import EmailMessage
from email.utils import formatdate, make_msgid
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from nestwright.document import Document, read_document
from nestwright.errors import FileError, InputError, nearest_name

__all__ = ["FILE", "Mail", "NoticeError", "Notices", "Webhook", "mail_of", "post", "read_notices", "send_mail"]

FILE = "alarms.toml"
PAUSE = 2.0
"""Seconds before the second try; twice as long before each further one."""
SECURITY = ("starttls", "tls", "none")


class NoticeError(Exception):
    """A notice that could not be delivered: where to, and why, in one line."""


@dataclass(frozen=True)
class Mail:
    """A mail server and who writes to whom. `password_from`: name of the environment variable with the password."""

    host: str
    port: int
    security: str
    sender: str
    to: tuple[str, ...]
    user: str = ""
    password_from: str = ""
    timeout: float = 20.0
    tries: int = 3


@dataclass(frozen=True)
class Webhook:
    """An address that takes a POST of JSON. `token_from`: environment variable with a token for its header
    `Authorization: Bearer`."""

    url: str
    token_from: str = ""
    timeout: float = 20.0
    tries: int = 3


@dataclass(frozen=True)
class Notices:
    mail: Mail | None = None
    webhook: Webhook | None = None

    @property
    def ways(self) -> tuple[str, ...]:
        """Names of the ways that are set up."""
        return tuple(name for name in ("mail", "webhook") if getattr(self, name) is not None)


@dataclass
class _Table:
    """A table of the file that is being read, with its faults."""

    document: Document
    name: str
    errors: list[InputError]

    def fault(self, key: str, message: str, found: Any = None, allowed: str = "", nearest: str = "") -> None:
        field = f"{self.name}.{key}" if self.name else key
        shown = "" if found is None else repr(found)[:80]
        self.errors.append(
            InputError(
                message,
                file=self.document.path,
                line=self.document.lines.get(field, 0) or self.document.lines.get(self.name, 0),
                field=field,
                found=shown,
                allowed=allowed,
                nearest=nearest,
            )
        )

    def text(self, values: Mapping[str, Any], key: str, default: str | None = None) -> str:
        found = values.get(key, default)
        if found is None:
            self.fault(key, "is missing")
        elif not isinstance(found, str) or (default is None and not found.strip()):
            self.fault(key, "must be a text", found)
        elif any(not c.isprintable() for c in found):
            self.fault(key, "must be one line of characters that can be seen", found)
        else:
            return found.strip()
        return ""

    def number(self, values: Mapping[str, Any], key: str, default: float, low: float, high: float) -> float:
        found = values.get(key, default)
        if isinstance(found, bool) or not isinstance(found, int | float) or not low <= found <= high:
            self.fault(key, "must be a number in its range", found, f"{low:g} to {high:g}")
            return default
        return float(found)

    def known(self, values: Mapping[str, Any], keys: Sequence[str]) -> None:
        for key in values:
            if key not in keys:
                self.fault(key, "unknown key", key, ", ".join(keys), nearest_name(key, keys))


def read_notices(folder: Path) -> Notices:
    """How alarms are told, from alarms.toml of a workshop's folder; nothing set up where there is no such file.

    Raises FileError with every fault of the file. Passwords do not stand in it: only the name of the environment
    variable that holds one.
    """
    path = folder / FILE
    if not path.exists():
        return Notices()
    document = read_document(path)
    errors: list[InputError] = []
    top = _Table(document, "", errors)
    top.known(document.tables, ("mail", "webhook"))
    tables: dict[str, Mapping[str, Any]] = {}
    for name in ("mail", "webhook"):
        found = document.tables.get(name)
        if isinstance(found, dict):
            tables[name] = found
        elif found is not None:
            top.fault(name, "must be a table", found, f"[{name}]")
    mail = _mail(_Table(document, "mail", errors), tables["mail"]) if "mail" in tables else None
    webhook = _webhook(_Table(document, "webhook", errors), tables["webhook"]) if "webhook" in tables else None
    if errors:
        raise FileError(errors)
    return Notices(mail, webhook)


def _mail(table: _Table, values: Mapping[str, Any]) -> Mail:
    table.known(values, ("host", "port", "security", "from", "to", "user", "password_from", "timeout_s", "tries"))
    security = table.text(values, "security", "starttls")
    if security not in SECURITY:
        table.fault("security", "unknown word", security, ", ".join(SECURITY), nearest_name(security, SECURITY))
    port = {"starttls": 587, "tls": 465}.get(security, 25)
    to = values.get("to")
    told = [to] if isinstance(to, str) else to
    if not isinstance(told, list) or not told or not all(isinstance(one, str) for one in told):
        table.fault("to", "must be an address or a list of them", to)
        told = []
    sender = table.text(values, "from")
    for key, one in [("from", sender), *(("to", str(one)) for one in told)]:
        if one and not _address(one):
            table.fault(key, "is no mail address", one, "one as name@example.org")
    user = table.text(values, "user", "")
    password_from = table.text(values, "password_from", "")
    if "password" in values:
        table.fault("password", "does not belong into a file", None, "password_from: the name of a variable")
    if bool(user) != bool(password_from):
        table.fault("user", "user and password_from belong together")
    if user and security == "none":
        table.fault("security", "a password would go over the line in the clear", security, "starttls, tls")
    return Mail(
        table.text(values, "host"),
        int(table.number(values, "port", port, 1, 65535)),
        security,
        sender,
        tuple(map(str, told)),
        user,
        password_from,
        table.number(values, "timeout_s", 20, 0.1, 60),
        int(table.number(values, "tries", 3, 1, 5)),
    )


def _address(text: str) -> bool:
    """Whether a text is a plain address, so that it can be nothing else in a header."""
    try:
        made = Address(addr_spec=text)
    except (ValueError, IndexError):
        return False
    except Exception as error:  # the parser's own faults derive from MessageError
        if type(error).__module__.startswith("email"):
            return False
        raise
    return bool(made.username and made.domain) and text.isascii() and not any(c.isspace() or c in ",;<>" for c in text)


def _webhook(table: _Table, values: Mapping[str, Any]) -> Webhook:
    table.known(values, ("url", "token_from", "timeout_s", "tries"))
    url = table.text(values, "url")
    try:
        parts = urlsplit(url)
        good = parts.scheme in ("http", "https") and bool(parts.hostname) and (parts.port or 1) > 0
        good = good and url.isascii() and not any(c.isspace() for c in url)
    except ValueError:
        good = False
    if url and not good:
        table.fault("url", "is no address of the web", url, "http:// or https:// with a host")
    return Webhook(
        url,
        table.text(values, "token_from", ""),
        table.number(values, "timeout_s", 20, 0.1, 60),
        int(table.number(values, "tries", 3, 1, 5)),
    )


def mail_of(mail: Mail, subject: str, lines: Sequence[str], key: str) -> EmailMessage:
    """A mail in plain text. `key` makes its Message-ID: a second sending of the same can be recognised.

    A subject with a line break, or any character that cannot be seen, is refused with InputError: names come from the
    record and must not become headers.
    """
    if any(not c.isprintable() for c in subject):
        raise InputError("must be one line of characters that can be seen", field="subject", found=repr(subject[:80]))
    made = EmailMessage()
    made["From"] = mail.sender
    made["To"] = ", ".join(mail.to)
    made["Subject"] = subject
    made["Date"] = formatdate(localtime=True)
    made["Message-ID"] = f"<{key}@nestwright>" if key.isascii() and key.isalnum() else make_msgid(domain="nestwright")
    made["Auto-Submitted"] = "auto-generated"  # RFC 3834: no out-of-office replies, please
    made.set_content("\n".join(_one_line(line) for line in lines) + "\n")
    return made


def _one_line(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def send_mail(mail: Mail, message: EmailMessage, pause: float = PAUSE) -> None:
    """Hand a mail to the server. Raises NoticeError when it was not taken for every recipient after all tries."""
    password = ""
    if mail.user:
        password = os.environ.get(mail.password_from, "")
        if not password:
            raise NoticeError(f"mail: the environment variable {mail.password_from} with the password is not set")
    where = f"mail by {mail.host}:{mail.port}"
    for left in reversed(range(mail.tries)):
        try:
            _hand_over(mail, message, password)
            return
        except smtplib.SMTPAuthenticationError:
            raise NoticeError(f"{where}: user or password was refused") from None
        except ssl.SSLCertVerificationError as error:
            raise NoticeError(f"{where}: its certificate cannot be trusted: {error.verify_message}") from None
        except smtplib.SMTPNotSupportedError:
            raise NoticeError(f"{where}: it does not offer what alarms.toml asks for ({mail.security})") from None
        except smtplib.SMTPRecipientsRefused as error:
            who = ", ".join(error.recipients)
            if not left or all(code >= 500 for code, _ in error.recipients.values()):
                raise NoticeError(f"{where}: {who} was refused: {_answer(error.recipients)}") from None
        except (smtplib.SMTPException, OSError) as error:
            if not left or getattr(error, "smtp_code", 0) >= 500:
                raise NoticeError(f"{where}: {_reason(error)}") from None
        time.sleep(pause * 2 ** (mail.tries - 1 - left))


def _hand_over(mail: Mail, message: EmailMessage, password: str) -> None:
    context = ssl.create_default_context()
    link: smtplib.SMTP
    if mail.security == "tls":
        link = smtplib.SMTP_SSL(mail.host, mail.port, timeout=mail.timeout, context=context)
    else:
        link = smtplib.SMTP(mail.host, mail.port, timeout=mail.timeout)
    with link:
        if mail.security == "starttls":
            link.starttls(context=context)
        if mail.user:
            link.login(mail.user, password)
        refused = link.send_message(message)
        if refused:  # some of several: what they were not told must not count as told
            raise smtplib.SMTPRecipientsRefused(refused)


def _answer(recipients: Mapping[str, tuple[int, bytes]]) -> str:
    code, said = next(iter(recipients.values()))
    return _one_line(f"{code} {said.decode('utf-8', 'replace')}")[:200]


class _Unmoved(urllib.request.HTTPRedirectHandler):
    """A POST must not become a GET elsewhere, nor a token go to another host."""

    def redirect_request(self, *_: Any) -> None:
        return None


def post(webhook: Webhook, document: Mapping[str, Any], pause: float = PAUSE) -> None:
    """POST a document as JSON. Raises NoticeError when no answer of 2xx came after all tries; a refusal (4xx but 408
    and 429) is not tried again."""
    headers = {"Content-Type": "application/json; charset=utf-8", "User-Agent": "nestwright"}
    if webhook.token_from:
        token = os.environ.get(webhook.token_from, "")
        if not token:
            raise NoticeError(f"webhook: the environment variable {webhook.token_from} with the token is not set")
        if not token.isascii() or not token.isprintable():
            raise NoticeError(f"webhook: the token in {webhook.token_from} cannot stand in a header")
        headers["Authorization"] = f"Bearer {token}"
    data = json.dumps(document, ensure_ascii=False).encode()
    where = f"webhook {urlsplit(webhook.url).netloc.rpartition('@')[2]}"
    opener = urllib.request.build_opener(_Unmoved)
    for left in reversed(range(webhook.tries)):
        request = urllib.request.Request(webhook.url, data, headers, method="POST")
        try:
            with opener.open(request, timeout=webhook.timeout) as answer:
                answer.read(1024)
            return
        except urllib.error.HTTPError as error:
            error.close()
            if not left or (error.code < 500 and error.code not in (408, 429)):
                raise NoticeError(f"{where}: answered {error.code} {_one_line(str(error.reason))[:100]}") from None
        except OSError as error:
            if not left:
                raise NoticeError(f"{where}: {_reason(error)}") from None
        except Exception as error:
            # a server that does not speak HTTP
            if not left or not type(error).__module__.startswith("http"):
                raise NoticeError(f"{where}: {_reason(error)}") from None
        time.sleep(pause * 2 ** (webhook.tries - 1 - left))


def _reason(error: BaseException) -> str:
    inner = getattr(error, "reason", None)
    if isinstance(inner, BaseException):
        error = inner
    # the mail library turns a time-out into a closed connection
    if isinstance(error, TimeoutError) or str(error).endswith("timed out"):
        return "no answer in time"
    text = getattr(error, "strerror", None) or str(error) or type(error).__name__
    return _one_line(str(text))[:200]
