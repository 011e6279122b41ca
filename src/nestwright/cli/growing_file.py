"""The courses of growth in the JSON of a forecast, every key that is read checked first."""

from __future__ import annotations

import json
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError, nearest_name

if TYPE_CHECKING:
    from nestwright.climate.growing import Growth

__all__ = ["ALLOWED", "COURSES", "read_courses"]

COURSES = ("low", "middle", "high")
ALLOWED = "the JSON of `nestwright forecast COLONY --json`"
UNITS = {"garden": "mL", "workers": "1"}
MOST = {"garden": 1e7, "workers": 1e8}
"""Above these no garden (mL) nor colony is: a slip, or a file that is none of ours."""
LONGEST = 36525
"""Days: a hundred years."""


def read_courses(path: Path) -> tuple[str, date, dict[str, Growth]]:
    """Species, day 0 and the low, middle and high course of growth of a forecast's JSON.

    Raises InputError, with the key, for a file that cannot be read, is no JSON, lacks a key or a day, or has a value
    that is no number, out of order or out of bounds.
    """
    import numpy as np

    from nestwright.climate.growing import Growth

    document = _Part(path, _document(path), "")
    fit, bands = document.part("fit"), document.part("bands")
    species = fit.text("species")
    recorded, horizon = fit.whole("days"), document.whole("horizon_days")
    start = _start(fit, recorded + horizon)
    values = {name: _band(bands.part(name), name, recorded, horizon) for name in UNITS}
    day = np.arange(recorded, recorded + horizon + 1, dtype=float)
    courses = {
        name: Growth(day, np.array(values["garden"][name]) * 1e-6, np.array(values["workers"][name]))
        for name in COURSES
    }
    return species, start, courses


def _document(path: Path) -> Any:
    """What the file says as JSON."""
    try:
        text = path.read_text("utf-8-sig")
    except FileNotFoundError:
        raise InputError("there is no such file", file=str(path), field="--forecast", allowed=ALLOWED) from None
    except UnicodeDecodeError:
        raise InputError("is no text in UTF-8, so no JSON", file=str(path), allowed=ALLOWED) from None
    except OSError as error:
        raise InputError("cannot be read", file=str(path), found=error.strerror or "", allowed=ALLOWED) from None
    try:
        return json.loads(text)
    except json.JSONDecodeError as error:
        rest = text[error.pos :].strip().splitlines()
        found = repr(rest[0][:40]) if rest else "the end of the file" if text.strip() else "an empty file"
        raise InputError("is no JSON", file=str(path), line=error.lineno, found=found, allowed=ALLOWED) from None
    except (ValueError, RecursionError):
        raise InputError("is no JSON that can be read", file=str(path), allowed=ALLOWED) from None


class _Part:
    """A table of the document: its values by key, and errors that name the key in full."""

    def __init__(self, path: Path, value: Any, name: str) -> None:
        self.path, self.name = path, name
        if not isinstance(value, dict):
            message = "is no table of keys" if name else "is no forecast"
            raise InputError(message, file=str(path), field=name, found=_shown(value), allowed=ALLOWED)
        self.values = value

    def error(self, key: str, message: str, found: str, allowed: str, nearest: str = "") -> InputError:
        field = f"{self.name}.{key}" if self.name else key
        return InputError(message, file=str(self.path), field=field, found=found, allowed=allowed, nearest=nearest)

    def get(self, key: str) -> Any:
        if key in self.values:
            return self.values[key]
        there = ", ".join(repr(str(one)) for one in list(self.values)[:6]) or "no key at all"
        raise self.error(key, "is not there: is no forecast, or cut", there, ALLOWED, nearest_name(key, self.values))

    def part(self, key: str) -> _Part:
        return _Part(self.path, self.get(key), f"{self.name}.{key}" if self.name else key)

    def text(self, key: str) -> str:
        value = self.get(key)
        if not isinstance(value, str) or not value.strip():
            raise self.error(key, "is no name", _shown(value), "the name of a species")
        return value

    def whole(self, key: str) -> int:
        value = self.get(key)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= LONGEST or value % 1:
            raise self.error(key, "is no number of days", _shown(value), f"a whole number, 0 to {LONGEST}")
        return int(value)


def _start(fit: _Part, last: int) -> date:
    """First day of the record, such that the last day of the forecast is in the calendar."""
    value = fit.get("start")
    try:
        start = date.fromisoformat(value)
        start + timedelta(days=last)
    except (TypeError, ValueError, OverflowError):
        raise fit.error(
            "start", "is no date", _shown(value), "a date as 2026-03-31 (the forecast's last before 10000)"
        ) from None
    return start


def _band(part: _Part, name: str, recorded: int, horizon: int) -> dict[str, list[float]]:
    """Low, middle and high of one quantity, a value for each day of the forecast."""
    if (unit := part.get("unit")) != UNITS[name]:
        raise part.error("unit", "is another unit", _shown(unit), f'"{UNITS[name]}"')
    wanted = f"the days {recorded} to {recorded + horizon}, every one once"
    days = _numbers(part, "day", None, recorded + horizon)
    for number, day in enumerate(days):
        if day != recorded + number or number > horizon:
            raise part.error(
                "day", "has a day missing, twice or out of order", f"{day:g} at place {number + 1}", wanted
            )
    if len(days) != horizon + 1:
        raise part.error("day", "ends before the forecast does", f"{len(days)} days", f"{horizon + 1}: {wanted}")
    made = {key: _numbers(part, key, horizon + 1, MOST[name]) for key in COURSES}
    for lower, upper in (("low", "middle"), ("middle", "high")):
        for number, (a, b) in enumerate(zip(made[lower], made[upper], strict=True)):
            if a > b:
                raise part.error(lower, f"is above {upper}", _place(number, a), f"at most {b:g} there")
    return made


def _numbers(part: _Part, key: str, count: int | None, most: float) -> list[float]:
    """A list of finite numbers, 0 to `most`; `count` None: as many as there are, not none."""
    value = part.get(key)
    if not isinstance(value, list) or not value:
        raise part.error(key, "is no list of numbers", _shown(value), "a number for each day")
    for number, one in enumerate(value):
        good = isinstance(one, int | float) and not isinstance(one, bool)
        if not good or not 0 <= one <= most:  # which nothing that is not finite is
            raise part.error(key, "has a value that cannot be", _place(number, one), f"numbers, 0 to {most:,.0f}")
    if count is not None and len(value) != count:
        raise part.error(key, "has not a value for each day", f"{len(value)} values", f"{count}, as many as days")
    return [float(one) for one in value]


def _place(number: int, value: Any) -> str:
    return f"{_shown(value)} at place {number + 1}"


def _shown(value: Any) -> str:
    """A value of the file in a few words of JSON."""
    if isinstance(value, dict):
        return "a table of keys"
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, int) and abs(value) > 10**30:
        return "a number of too many digits"
    text = json.dumps(value, ensure_ascii=False)
    return text if len(text) <= 40 else text[:40] + "..."
