"""How long a connection is waited for, and how many one device may hold: a slow or idle one must not keep others out.

The server's own limits begin with the first answer; a connection on which nothing is asked would stay for ever
(the attack is known as slow HTTP headers: CWE-400).
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

__all__ = ["Patient"]

HEAD_SECONDS = 15.0
"""From the connection, or the first byte of a next request, to the end of a request's head."""
PER_DEVICE = 64
"""Connections of one address at a time; a browser holds some six."""


class Patient(H11Protocol):
    """A connection that is closed when the head of its request does not come in time."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        super().connection_made(transport)
        if self.client and not self.client[0].startswith("127."):
            held = [one for one in self.connections if isinstance(one, Patient) and one.client]
            if sum(one.client[0] == self.client[0] for one in held if one.client) > PER_DEVICE:
                transport.abort()
                return
        self._watch()

    def data_received(self, data: bytes) -> None:
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        self._rest()
        super().connection_lost(exc)

    def _watch(self) -> None:
        if self.cycle is not None and not self.cycle.response_complete:
            self._rest()  # a request is being answered; its body has limits of its own (`Guard`)
        elif self._late is None:
            self._late = self.loop.call_later(HEAD_SECONDS, self._give_up)

    def _give_up(self) -> None:
        self._late = None
        if (self.cycle is None or self.cycle.response_complete) and not self.transport.is_closing():
            self.transport.close()

    def _rest(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None
