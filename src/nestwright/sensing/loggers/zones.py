"""From the clock on a logger's face to UTC, through summer time."""

from __future__ import annotations

import functools
import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nestwright.errors import InputError

__all__ = ["Clock", "check_zone", "fixed_offset"]

_FIXED = re.compile(r"(?:UTC|GMT)(?:\s*([+-])(\d{1,2})(?::?(\d{2}))?)?", re.ASCII | re.I)
_FIRST, _LAST = 1989, 2101


def fixed_offset(zone: str) -> int | None:
    """UTC offset in ms of a zone written as "UTC" or "UTC+01:00"; None for any other."""
    match = _FIXED.fullmatch(zone.strip())
    if match is None:
        return None
    minutes = int(match[2] or 0) * 60 + int(match[3] or 0)
    return None if minutes > 14 * 60 else minutes * 60_000 * (-1 if match[1] == "-" else 1)


def check_zone(zone: str, *, file: str = "", line: int = 0) -> str:
    """The zone itself, "" for an unknown one. Raises InputError when no zone of this name is known here."""
    if zone == "" or fixed_offset(zone) is not None:
        return zone
    try:
        ZoneInfo(zone)
        return zone
    except (ValueError, KeyError, OSError, ModuleNotFoundError):
        raise InputError(
            "no time zone of this name is known here", file=file, line=line, field="zone", found=repr(zone),
            allowed='"Europe/Vienna" and the like (IANA), "UTC", "UTC+01:00"',
        ) from None  # fmt: skip


@functools.cache
def _changes(zone: str) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Instants (ms UTC) at which the zone's offset changes, shape (k,), and the offsets between, shape (k + 1,)."""
    tz = ZoneInfo(zone)

    def offset(second: int) -> int:
        shift = (datetime(1970, 1, 1, tzinfo=UTC) + timedelta(seconds=second)).astimezone(tz).utcoffset()
        return round((shift or timedelta()).total_seconds())

    start, stop = (int(datetime(y, 1, 1, tzinfo=UTC).timestamp()) for y in (_FIRST, _LAST))
    times, offsets = [], [offset(start)]
    # A week is shorter than any summer time (a break of it in Ramadan lasts a month).
    for week in range(start, stop, 7 * 86400):
        if offset(week + 7 * 86400) == offsets[-1]:
            continue
        low, high = week, week + 7 * 86400
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if offset(middle) == offsets[-1] else (low, middle)
        times.append(high)
        offsets.append(offset(high))
    return np.array(times, np.int64) * 1000, np.array(offsets, np.int64) * 1000


@dataclass
class Clock:
    """Turns local times into UTC, in the order of the file; remembers between pieces where it stood.

    In the hour that comes twice in autumn the rows' own order tells the passes apart: the clock steps back once
    (in a file that runs from new to old, forward). A single pass is taken as the first.
    """

    zone: str
    newest_first: bool = False
    step: int = 0
    """Usual step between rows, ms; at an hour or more, an equal time in the double hour is its second pass."""
    _last: int | None = None
    _last_utc: int = 0
    _in_twice: bool = False
    _late: bool = False

    def to_utc(self, local: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_]]:
        """UTC ms of local ms, shape (n,); which rows stand in an hour that spring skips (read with the offset of
        before, so that they come out shifted forward), and which in the hour that comes twice."""
        n = len(local)
        fixed = 0 if self.zone == "" else fixed_offset(self.zone)
        if fixed is not None:
            return local - fixed, np.zeros(n, np.bool_), np.zeros(n, np.bool_)
        times, offsets = _changes(self.zone)
        before, after = offsets[:-1], offsets[1:]
        early = offsets[np.searchsorted(times + np.maximum(before, after), local, "right")]
        late = offsets[np.searchsorted(times + np.minimum(before, after), local, "right")]
        utc = local - early
        twice, skipped = early > late, early < late
        for k in np.flatnonzero(twice).tolist():
            now, last = int(local[k]), int(local[k - 1]) if k else self._last
            last_utc = int(utc[k - 1]) if k else self._last_utc
            passes = now - int(early[k]), now - int(late[k])
            if last is None or not (twice[k - 1] if k else self._in_twice):
                self._late = self.newest_first
                if last is not None and self._even(passes[not self._late] - last_utc):
                    # a shift that is no multiple of the step shows by the step which pass it is
                    self._late ^= not self._even(passes[self._late] - last_utc)
            else:
                back = now - last if self.newest_first else last - now
                if back > 0 or (back == 0 and self.step >= early[k] - late[k]):
                    self._late = not self.newest_first
            utc[k] = passes[self._late]
        if n:
            self._last, self._last_utc, self._in_twice = int(local[-1]), int(utc[-1]), bool(twice[-1])
        return utc, skipped, twice

    def _even(self, step: int) -> bool:
        return self.step > 0 and abs(abs(step) - self.step) <= self.step // 10
