"""How long the water of a build lasts, and when it was last filled: kept among what was measured on the build."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from nestwright.errors import InputError
from nestwright.units import UnitProblem, parse_quantity
from nestwright.workshop.builds import Made, measure_build
from nestwright.workshop.changes import Act

__all__ = ["FILLED", "LASTS", "Water", "parse_days", "told_filled", "told_lasts", "water_of"]

LASTS = "water lasts"
FILLED = "water filled"
_DAYS = re.compile(r"(\d+(?:\.\d+)?)(?:\s*(?:to|-)\s*(\d+(?:\.\d+)?))?\s*(?:days?|d)?", re.ASCII)
LONGEST = 3650.0


@dataclass(frozen=True)
class Water:
    """`every`: days that the water lasts, low and high; None where that is not told. `filled`: last, None: unknown."""

    every: tuple[float, float] | None
    filled: date | None


def parse_days(text: str, field: str) -> tuple[float, float]:
    """Days told as "9" or "8 to 11". Raises InputError."""
    match = _DAYS.fullmatch(text.strip())
    low, high = (float(match[1]), float(match[2] or match[1])) if match else (0.0, 0.0)
    if not 0.25 <= low <= high <= LONGEST:
        raise InputError(
            "is no number of days", field=field, found=repr(text[:40]), allowed="0.25 to 3650 days, as 9 or '8 to 11'"
        )
    return low, high


def told_lasts(done: Act, made: Made, every: tuple[float, float], day: date, note: str = "") -> None:
    """Record how long the water of a build lasts."""
    low, high = every
    text = f"{low:g} day" if low == high else f"{low:g} to {high:g} day"
    measure_build(done, made.id, LASTS, text, day.isoformat(), note)


def told_filled(done: Act, made: Made, day: date, amount: str = "") -> None:
    """Record that the water of a build was filled. Raises InputError for an amount that is none of water."""
    if amount:
        try:
            parse_quantity(amount, "water")
        except UnitProblem as problem:
            raise InputError(problem.message, field="amount", found=problem.found, allowed=problem.allowed,
                             nearest=problem.nearest) from None  # fmt: skip
    measure_build(done, made.id, FILLED, amount or "full", day.isoformat())


def water_of(made: Made) -> Water:
    """What the record tells of a build's water: the newest entries count; one that cannot be read tells nothing."""
    every, filled = None, None
    for row in made.measured:
        if row["what"] == LASTS:
            try:
                every = parse_days(str(row["value"]).removesuffix("day"), LASTS)
            except InputError:
                continue
        elif row["what"] == FILLED and row["day"]:
            day = date.fromisoformat(row["day"])
            filled = day if filled is None else max(filled, day)
    return Water(every, filled)
