"""Devices that may ask from other computers: paired once by a code, known then by a secret of their own."""

from __future__ import annotations

import hashlib
import hmac
import json
import math
import secrets
import threading
from collections import deque
from dataclasses import dataclass
from time import monotonic
from typing import Any

from sqlalchemy import delete, select

from nestwright.workshop.changes import now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.tables import workshop as settings

__all__ = ["LIFE", "Device", "Devices", "cookie_name"]

KEY = "device."
LIFE = 10 * 60
"""Seconds for which a pairing code is good."""
TRIES = 5
"""Wrong codes after which the code is void, whoever tried them: of eight digits none can be guessed so."""
PER_MINUTE = 10
"""Wrong codes in a minute, whoever tried them, after which none is looked at until the minute is over."""


@dataclass(frozen=True)
class Device:
    """A paired device: key of its row, name, when it was paired (UTC ms)."""

    key: str
    name: str
    paired: int


def cookie_name(encrypted: bool) -> str:
    """Name of the cookie with a device's secret: over TLS one that no unencrypted page of the same host can set or read
    (RFC 6265bis, 4.1.3.2, the prefix __Host-)."""
    return "__Host-nw-device" if encrypted else "nw-device"


class Devices:
    """The paired devices of a workshop, and the one code that is open for pairing."""

    def __init__(self, workshop: Workshop) -> None:
        self.workshop = workshop
        self._lock = threading.Lock()
        self._code, self._until, self._left = "", 0.0, 0
        self._wrong: deque[float] = deque(maxlen=PER_MINUTE)
        self._known: dict[str, Device] | None = None

    def wait(self) -> int:
        """Seconds until a code is looked at again: 0 but after `PER_MINUTE` wrong ones within a minute."""
        with self._lock:
            if len(self._wrong) < PER_MINUTE:
                return 0
            return max(0, math.ceil(60 - (monotonic() - self._wrong[0])))

    def open_code(self) -> str:
        """A new pairing code of eight digits; the one before is void."""
        with self._lock:
            self._code = f"{secrets.randbelow(10**8):08d}"
            self._until, self._left = monotonic() + LIFE, TRIES
            return self._code

    def pair(self, code: str, name: str) -> str:
        """The secret of a new device for the right code, good once; "" for a wrong one or when none is open."""
        with self._lock:
            self._wrong.append(monotonic())
            if not self._code or monotonic() > self._until:
                self._code = ""
                return ""
            digits = "".join(c for c in code if c.isascii() and c.isdigit())
            if not hmac.compare_digest(digits, self._code):
                self._left -= 1
                if self._left <= 0:
                    self._code = ""
                return ""
            self._wrong.pop()
            self._code = ""
        secret = secrets.token_urlsafe(32)
        told = {"name": name, "hash": _hash(secret), "paired": now()}
        self.workshop.set(f"{KEY}{secrets.token_hex(6)}", json.dumps(told, ensure_ascii=False))
        self._known = None
        return secret

    def knows(self, secret: str) -> bool:
        """Whether a secret is that of a paired device."""
        return bool(secret) and _hash(secret) in self._all()

    def paired(self) -> list[Device]:
        """The devices, the newest first."""
        return sorted(self._all().values(), key=lambda one: -one.paired)

    def remove(self, key: str) -> None:
        """Let a device in no longer."""
        with writing(self.workshop.engine) as connection:
            connection.execute(delete(settings).where(settings.c.key == key, settings.c.key.startswith(KEY)))
        self._known = None

    def _all(self) -> dict[str, Device]:
        known = self._known
        if known is None:
            with reading(self.workshop.engine) as connection:
                rows = connection.execute(select(settings).where(settings.c.key.startswith(KEY))).all()
            known = {}
            for key, value in rows:
                told: dict[str, Any] = json.loads(value)
                known[told["hash"]] = Device(key, told["name"], told["paired"])
            self._known = known
        return known


def _hash(secret: str) -> str:
    # a plain hash is enough: there is nothing to guess in 256 random bits
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
