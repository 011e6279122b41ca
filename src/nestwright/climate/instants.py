"""Dates and times as loggers write them."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from nestwright.errors import InputError

__all__ = ["read_instants", "time_zone"]

_CLOCK = r"(?:[T ,]+(\d{1,2}):(\d{2})(?::(\d{2})(?:[.,]\d+)?)?\s*([AaPp])?\.?[Mm]?\.?)?"
_DATED = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{2})" + _CLOCK, re.ASCII)
_YEAR_FIRST = re.compile(r"(\d{4})[./-](\d{1,2})[./-](\d{1,2})" + _CLOCK, re.ASCII)


def time_zone(name: str, *, file: str = "", line: int = 0) -> tzinfo:
    """The time zone of a name such as "Europe/Vienna". Raises InputError when it is not known."""
    try:
        return ZoneInfo(name)
    except (ValueError, KeyError, OSError, ModuleNotFoundError):
        raise InputError(
            "no time zone of this name is known here", file=file, line=line, field="time_zone", found=repr(name),
            allowed='a name of the IANA data base, such as "Europe/Vienna"',
        ) from None  # fmt: skip


def read_instants(
    texts: Sequence[str], *, day_first: bool | None = None, zone: tzinfo | None = None
) -> tuple[list[datetime | None], tuple[str, ...]]:
    """Instants of one column, all on one clock without summer time.

    Parameters
    ----------
    texts : sequence of str
        ISO 8601, or day.month.year (also with / or -), with or without a clock time, am and pm.
    day_first : bool, optional
        Whether 03/04/2024 is 3 April. If not given it is, unless a row can only be read with the month first and none
        only with the day first.
    zone : tzinfo, optional
        Zone of the logger's clock, so that summer time can be taken out. Where rows carry an offset that is used.

    Returns
    -------
    list of datetime or None, tuple of str
        Naive instants in the order of `texts`, None for what cannot be read; remarks on how dates were read.
    """
    if day_first is None:
        dated = [m for m in (_DATED.fullmatch(t.strip()) for t in texts) if m]
        needs_month_first = any(int(m[2]) > 12 for m in dated)
        needs_day_first = any(int(m[1]) > 12 for m in dated)
        day_first = not (needs_month_first and not needs_day_first)
        unsure = bool(dated) and not needs_month_first and not needs_day_first
        remarks = ("dates could be read either way: taken as day first",) if unsure else ()
    else:
        remarks = ()
    made = [_one(text.strip(), day_first) for text in texts]
    aware = next((m.tzinfo is not None for m in made if m is not None), False)
    if aware:
        return _from_offsets(made), remarks
    naive = [None if m is None or m.tzinfo is not None else m for m in made]
    return (naive if zone is None else _without_summer_time(naive, zone)), remarks


def _one(text: str, day_first: bool) -> datetime | None:
    match = _DATED.fullmatch(text)
    try:
        if match is None:
            match = _YEAR_FIRST.fullmatch(text)
            if match is None:
                return datetime.fromisoformat(text) if len(text) >= 10 else None
            year, month, day = (int(match[k]) for k in (1, 2, 3))
        else:
            first, second, year = (int(match[k]) for k in (1, 2, 3))
            day, month = (first, second) if day_first else (second, first)
            year += 2000 if year < 100 else 0
        hour, minute, second_ = (int(match[k] or 0) for k in (4, 5, 6))
        if match[7]:
            if not 1 <= hour <= 12:
                return None
            hour = hour % 12 + (12 if match[7] in "pP" else 0)
        return datetime(year, month, day, hour, minute, second_)
    except (ValueError, OverflowError):
        return None


def _from_offsets(made: Sequence[datetime | None]) -> list[datetime | None]:
    # All on the clock of the first row; rows without an offset, among others with one, cannot be placed.
    offset = next(m.utcoffset() for m in made if m is not None and m.tzinfo is not None) or timedelta(0)
    placed: list[datetime | None] = []
    for m in made:
        try:
            shift = None if m is None or m.tzinfo is None else m.utcoffset()
            placed.append(None if m is None or shift is None else m.replace(tzinfo=None) - shift + offset)
        except OverflowError:
            placed.append(None)
    return placed


def _without_summer_time(naive: Sequence[datetime | None], zone: tzinfo) -> list[datetime | None]:
    # In the hour that comes twice the clock runs back, which tells the second pass from the first.
    placed: list[datetime | None] = []
    before: datetime | None = None
    fold = 0
    for m in naive:
        if m is None:
            placed.append(None)
            continue
        try:
            twice = zone.utcoffset(m.replace(fold=0)) != zone.utcoffset(m.replace(fold=1))
            fold = (1 if fold or (before is not None and m < before) else 0) if twice else 0
            exact = m.replace(tzinfo=zone, fold=fold)
            placed.append(m - (exact.dst() or timedelta(0)))
        except OverflowError:
            placed.append(None)
        before = m
    return placed
