"""Sizes that are searched for while a person waits: what was asked, and the work."""

from __future__ import annotations

import hashlib
import math
from dataclasses import dataclass
from typing import Any

from nestwright.document import Document, load_document
from nestwright.errors import InputError
from nestwright.letters import count_of
from nestwright.units import shown
from nestwright.web.jobs import Job, Stopped

__all__ = ["Asked", "Sizing", "asked", "find_sizes"]

HALF = 120.0
"""Choices after which the bar stands at half: how many a search takes is not known before its end."""


@dataclass(frozen=True)
class Asked:
    """A habitat's text as it stood in the designer, what is free in it, and the room or the window to hold in."""

    stem: str
    text: str
    base: str
    """`sum_of` the saved text that `text` was made from."""
    free: tuple[str, ...]
    """As "vent.crown.count=4..40"."""
    room: str
    """As `read_room` takes it; "" for the window."""
    window: str

    @property
    def key(self) -> str:
        parts = (self.stem, self.text, self.base, *self.free, self.room, self.window)
        return "size:" + hashlib.sha256("\0".join(parts).encode()).hexdigest()


@dataclass(frozen=True)
class Sizing:
    """What was asked and what was found: a climate.size_results.SizeResult, or else None and why."""

    asked: Asked
    found: Any
    error: InputError | None = None


def asked(
    stem: str, text: str, base: str, chosen: list[str], bounds: dict[str, tuple[str, str]], room: str, window: str
) -> Asked:
    """What a form asks for, held against the habitat before any work begins. Raises InputError."""
    from nestwright.climate.size_free import parse_free, parse_window, resolve
    from nestwright.climate.sizing import MOST_FREE

    document: Document = load_document(text)
    if not 1 <= len(chosen) <= MOST_FREE:
        allowed = "tick one to four"
        raise InputError("too many or no free values", field="free", found=str(len(chosen)), allowed=allowed)
    free = []
    for key in chosen:
        if key not in bounds:
            raise InputError("has no bounds", field="free", found=shown(key[:80]))
        low, high = bounds[key]
        told = f"{key}={low.strip()}..{high.strip()}"
        resolve(document.tables, parse_free(told))
        free.append(told)
    if not room:
        parse_window(window)
    return Asked(stem, text, base, tuple(free), room, "" if room else window)


def find_sizes(what: Asked, job: Job) -> Sizing:
    """Search; a stopped search gives the best so far. Nothing is raised: the text that was asked with comes back."""
    from nestwright.climate.rooms import read_room
    from nestwright.climate.size_free import WINDOW_FORM, parse_window
    from nestwright.climate.sizing import size
    from nestwright.wording.figures import figure

    def progress(tried: int, best: float) -> None:
        margin = figure(best, 1, sign=True)
        job.title = f"Sizing: {count_of(tried, 'choice')} tried, best worst margin {margin} tolerances"
        try:
            job.report(1.0 - math.exp(-math.log(2.0) * tried / HALF))
        except Stopped:
            raise KeyboardInterrupt from None  # as in the terminal: the search ends with its best so far

    temperature, humidity = parse_window(what.window or WINDOW_FORM)
    try:
        document, rooms = load_document(what.text), [read_room(what.room)] if what.room else []
        found = size(document, what.free, rooms, temperature=temperature, relative_humidity=humidity, progress=progress)
    except KeyboardInterrupt:
        return Sizing(what, None)
    except InputError as error:
        return Sizing(what, None, error)
    return Sizing(what, found)
