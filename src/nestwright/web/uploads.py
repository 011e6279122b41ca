"""Files that a browser sent and that wait to be looked through: few, for an hour, gone with the program."""

from __future__ import annotations

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, BinaryIO

from starlette.requests import Request

from nestwright.errors import InputError
from nestwright.letters import one_line
from nestwright.units import UnitProblem

__all__ = ["Sent", "Uploads", "uploads_of"]

MOST = 6
"""Files that are kept at once: of 40 MB each (`guard.MOST_BYTES`)."""
SECONDS = 3600.0
PIECE = 1 << 20


@dataclass
class Sent:
    """One file: where it lies, how it was called, when it came (s), and what is known of it by now."""

    token: str
    path: Path
    name: str
    at: float
    known: dict[str, Any] = field(default_factory=dict)


class Uploads:
    """The files that wait, in a folder of their own that ends with the program."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._folder = TemporaryDirectory(prefix="sent-")
        self._all: dict[str, Sent] = {}
        self._lock = threading.Lock()
        self._clock = clock

    def take(self, source: BinaryIO, name: str) -> Sent:
        """Keep a file; the oldest goes where there are too many. Raises InputError for a disk that is full."""
        token = secrets.token_urlsafe(12)
        path = Path(self._folder.name) / token
        try:
            with path.open("wb") as out:
                while piece := source.read(PIECE):
                    out.write(piece)
        except OSError as error:
            path.unlink(missing_ok=True)
            raise InputError("could not be kept", field="file", found=error.strerror or str(error)) from None
        made = Sent(token, path, _plain(name), self._clock())
        with self._lock:
            self._all[token] = made
            late = [one for one in self._all.values() if made.at - one.at > SECONDS]
            held = [one for one in self._all.values() if one not in late]
            gone = late + held[: max(0, len(held) - MOST)]
            for one in gone:
                del self._all[one.token]
        for one in gone:
            one.path.unlink(missing_ok=True)
        return made

    def find(self, token: str) -> Sent | None:
        """A file that waits, or waited: its own bytes may be gone once they are stored."""
        return self._all.get(token)

    def drop(self, token: str) -> None:
        """Forget a file."""
        with self._lock:
            one = self._all.pop(token, None)
        if one is not None:
            one.path.unlink(missing_ok=True)


def _plain(name: str) -> str:
    """A file's name as it is shown: without folders and what cannot be seen."""
    last = name.replace("\\", "/").rpartition("/")[2].strip()[:120]
    try:
        return str(one_line(last)) or "file"
    except UnitProblem:
        return "file"


_MAKING = threading.Lock()


def uploads_of(request: Request) -> Uploads:
    """Those of the application, made with the first."""
    state = request.app.state
    with _MAKING:
        if not hasattr(state, "uploads"):
            state.uploads = Uploads()
    found: Uploads = state.uploads
    return found
