"""A habitat while it is moved by hand: only the touched line is read again, all else is as it stands in the file."""

from __future__ import annotations

import time
import tomllib
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock
from typing import Any

from nestwright.document import Document, load_document
from nestwright.errors import InputError
from nestwright.web.habitat_text import groups_of, put

__all__ = ["Clock", "Opened", "Opener", "Overtook", "Turns"]

KEPT = 24


class Clock:
    """What each step of an answer took, for the header `server-timing` (W3C Server Timing)."""

    def __init__(self) -> None:
        self._last = time.perf_counter()
        self._steps: list[str] = []

    def __call__(self, name: str) -> None:
        """The step of this name is done."""
        now = time.perf_counter()
        self._steps.append(f"{name};dur={1e3 * (now - self._last):.2f}")
        self._last = now

    def header(self) -> str:
        return ", ".join(self._steps)


class Overtook(Exception):  # noqa: N818 - no fault: nobody waits for it any more
    """A newer change of the same page came while an answer was computed."""


class Turns:
    """The newest change of each page, so that long answers to older ones are given up."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._newest: OrderedDict[str, int] = OrderedDict()

    def take(self, page: str) -> Callable[[], None]:
        """A change of a page is the newest now."""
        with self._lock:
            self._newest[page] = self._newest.get(page, 0) + 1
            self._newest.move_to_end(page)
            while len(self._newest) > KEPT:
                self._newest.popitem(last=False)
        return self.watch(page)

    def watch(self, page: str) -> Callable[[], None]:
        """Raises Overtook, when called, once a newer change of the page has come; never for a page without name."""
        now = self._newest.get(page)

        def going() -> None:
            if page and self._newest.get(page) != now:
                raise Overtook

        return going


@dataclass(frozen=True)
class Opened:
    """A text, what it says, and where each value of a dotted key stands."""

    text: str
    document: Document
    places: dict[str, str]


class Opener:
    """The texts that were opened lately. What it gives back is what `load_document` of the same text gives."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._lately: OrderedDict[str, Opened] = OrderedDict()

    def open(self, text: str) -> Opened:
        """A text as it stands. Raises InputError for one that is no TOML."""
        with self._lock:
            found = self._lately.get(text)
            if found is not None:
                self._lately.move_to_end(text)
                return found
        document = load_document(text)
        places = {entry.key: entry.path for group in groups_of(document) for entry in group.entries}
        return self._keep(Opened(text, document, places))

    def changed(self, text: str, values: dict[str, str]) -> Opened:
        """A text with values put into it by dotted key. Raises InputError."""
        opened = self.open(text.replace("\r\n", "\n"))
        for key, value in values.items():
            if key not in opened.places:
                raise InputError("there is no value of this key", field=key[:80])
            opened = self._put(opened, key, value)
        return self._keep(opened) if values else opened

    def _put(self, opened: Opened, key: str, value: str) -> Opened:
        path = opened.places[key]
        text = put(opened.text, opened.document, path, value)
        row = text.split("\n")[opened.document.lines[path] - 1]
        try:
            (name, told), *others = tomllib.loads(row).items()
        except ValueError:
            return self.open(text)  # says what is wrong, and at which line of the whole
        steps = _steps(path)
        if others or isinstance(told, dict) or name in READ_ANEW or name != steps[-1]:
            return self.open(text)
        document = opened.document
        try:
            tables = _with(document.tables, steps, told)
        except (KeyError, IndexError, TypeError):  # a key in quotes, with a dot in it
            return self.open(text)
        return Opened(text, Document(tables, document.lines, document.path), opened.places)

    def _keep(self, opened: Opened) -> Opened:
        with self._lock:
            self._lately[opened.text] = opened
            while len(self._lately) > KEPT:
                self._lately.popitem(last=False)
        return opened


READ_ANEW = frozenset({"name", "chamber", "kind", "above", "closes", "format"})
"""Keys whose change has the whole text read again: those by which a part may be called, since dotted keys change with
them, and the file's form, which is judged where a text is read."""


def _steps(path: str) -> list[str | int]:
    """The steps of a path as `path_text` writes it: "vent[2].count"."""
    steps: list[str | int] = []
    for part in path.split("."):
        name, *numbers = part.split("[")
        steps += [name, *(int(n) for number in numbers if (n := number.rstrip("]")).isdecimal())]
    return steps


def _with(value: Any, steps: list[str | int], told: Any) -> Any:
    """Tables with one value exchanged; what is not on the way to it is shared."""
    if not steps:
        return told
    made = value.copy()
    made[steps[0]] = _with(value[steps[0]], steps[1:], told)
    return made
