"""What stands before every page: who may ask, from where, how much, and what a browser may do with the answer."""

from __future__ import annotations

import asyncio
import ipaddress
import re
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import quote, unquote, urlsplit

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from nestwright.web.devices import Devices, cookie_name
from nestwright.web.named import STROKE

__all__ = ["HEADERS", "MOST_BYTES", "Guard"]

MOST_BYTES = 40_000_000
"""Of a request's body: a photograph of a phone, or a month of a logger's file. Larger files are for the command."""
OWN_NAMES = frozenset({"127.0.0.1", "localhost", "[::1]", "testserver"})
OPEN = frozenset({"/pair", "/trust", "/ca.crt"})
"""What a device that is not paired may ask for, besides the files of the page itself."""
MOST_BYTES_OPEN = 10_000
"""Of a request's body from a device that is not paired: a code and a name."""
BODY_SECONDS = 30.0
"""In which a body has to be there, and a second more for each `BODY_BYTES` that have come: a phone far from its
station is slow, one that sends a byte now and then only holds a place."""
BODY_BYTES = 20_000
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
HEADERS = {
    "content-security-policy": "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "font-src 'self'; connect-src 'self'; form-action 'self'; manifest-src 'self'; worker-src 'self'; "
    "frame-ancestors 'none'; base-uri 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), payment=(), usb=()",
    "x-frame-options": "DENY",
}
"""OWASP Secure Headers; nothing inline, nothing from another place, in no frame."""

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]


class Guard:
    """ASGI: refuses what may not come in, and sets the headers of every answer.

    - 421 for a host name that is not ours (against rebinding of names);
    - 403 for a change that another site asks for (Fetch Metadata and Origin, OWASP Cross-Site Request Forgery
      Prevention Cheat Sheet);
    - 401, or the pairing page, for a device that is not paired; this computer itself needs no pairing;
    - 413 for a body that is too large, also where its length was not told or was told wrong; 408 for one that does not
      come.
    """

    def __init__(self, app: Any, devices: Devices, names: tuple[str, ...] = (), lan: bool = False) -> None:
        self.app, self.devices, self.lan = app, devices, lan
        self.names = OWN_NAMES | {name.lower() for name in names}

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        request = Request(scope)
        answer = self._refusal(request)
        if answer is not None:
            await answer(scope, receive, _with_headers(send, scope))
            return
        scope.setdefault("state", {})["bench"] = _is_here(request)
        most = MOST_BYTES if self._is_let_in(request) else MOST_BYTES_OPEN
        scope["path"] = _path(scope)
        got = 0
        fault: Response | None = None
        whole = False
        loop = asyncio.get_running_loop()
        begin = loop.time()

        async def limited() -> Message:
            nonlocal got, fault, whole
            if whole:  # what comes then is only that the asking side is gone, however late
                return await receive()
            try:
                async with asyncio.timeout_at(begin + BODY_SECONDS + got / BODY_BYTES):
                    message = await receive()
            except TimeoutError:
                fault = _plain(408, "the body of the request did not come in time", close=True)
                return {"type": "http.disconnect"}
            got += len(message.get("body", b""))
            whole = not message.get("more_body", False)
            if got > most:
                fault = _plain(413, TOO_LARGE if most == MOST_BYTES else "is too large", close=True)
                return {"type": "http.disconnect"}
            return message

        begun = False

        async def watched(message: Message) -> None:
            nonlocal begun
            if fault is not None and not begun:
                return
            begun = True
            await send(message)

        try:
            await self.app(scope, limited, _with_headers(watched, scope))
        except Exception:
            if fault is None:
                raise
        if fault is not None and not begun:
            await fault(scope, receive, _with_headers(send, scope))

    def _refusal(self, request: Request) -> Response | None:
        host = request.headers.get("host", "").lower()
        told_host = HOST.fullmatch(host)
        if told_host is None or told_host[1] not in self.names:
            return _plain(421, "this address is not one of this workshop's page")
        here = _is_here(request)
        if not here and not self.lan:
            return _plain(403, "this page answers only the computer that it runs on")
        if request.method not in SAFE_METHODS and not _same_site(request, host):
            return _plain(403, "a change must come from a page of this workshop")
        told = request.headers.get("content-length", "0")
        if not (told.isascii() and told.isdecimal() and len(told) < 16):
            return _plain(400, "the length of the body is no number")
        if int(told) > MOST_BYTES:
            return _plain(413, TOO_LARGE)
        # the path that a page is found by, not one put together with what the asking side says its host is
        path = str(request.scope["path"])
        if path not in OPEN and not path.startswith("/static/") and not self._is_let_in(request):
            if request.method == "GET" and "text/html" in request.headers.get("accept", ""):
                return RedirectResponse("/pair", 303)
            return _plain(401, "this device is not paired: open /pair")
        return None

    def _is_let_in(self, request: Request) -> bool:
        cookie = cookie_name(request.scope.get("scheme") == "https")
        return _is_here(request) or self.devices.knows(request.cookies.get(cookie, ""))


HOST = re.compile(r"([a-z0-9._-]+|\[[0-9a-f:.]+\])(?::[0-9]{1,5})?")
"""A host as a request may name it: name and port, nothing that would pass for a path (RFC 9110, 7.2)."""
TOO_LARGE = f"is larger than {MOST_BYTES // 1_000_000} MB; the command `nestwright readings import` takes larger files"


def _path(scope: Message) -> str:
    """The path decoded, but that a stroke within a name stays apart from those between the steps (`render.Named`)."""
    raw = bytes(scope.get("raw_path") or b"").partition(b"?")[0]
    if b"%2f" not in raw.lower():
        return str(scope["path"])
    told = re.sub("%2f", quote(STROKE), raw.decode("ascii", "replace"), flags=re.IGNORECASE)
    return unquote(told)


def _is_here(request: Request) -> bool:
    """Whether the asking computer is this one."""
    client = request.client
    if client is None or client.host == "testclient":
        return True
    try:
        return ipaddress.ip_address(client.host.partition("%")[0]).is_loopback
    except ValueError:
        return False


def _same_site(request: Request, host: str) -> bool:
    """Whether a change was asked for by a page of ours: browsers tell it, and no other site can tell it for them."""
    site = request.headers.get("sec-fetch-site")
    if site is not None and site not in ("same-origin", "none"):
        return False
    origin = request.headers.get("origin")
    if origin is not None:
        return urlsplit(origin).netloc.lower() == host
    return site is not None


def _plain(status: int, text: str, *, close: bool = False) -> Response:
    return PlainTextResponse(text + "\n", status, {"connection": "close"} if close else None)


def _with_headers(send: Send, scope: Message) -> Send:
    static = str(scope.get("path", "")).startswith("/static/")

    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            there = {key for key, _ in message["headers"]}
            more = HEADERS | {"cache-control": "public, max-age=31536000, immutable" if static else "no-cache"}
            message["headers"] = [
                *message["headers"],
                *((k.encode(), v.encode()) for k, v in more.items() if k.encode() not in there),
            ]
        await send(message)

    return sending
