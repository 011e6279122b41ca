"""The texts of the colony file that are no plain quantities: days, counts, leaves, amounts. Each is read to one value.

Every reader raises `nestwright.units.UnitProblem`, which tells what was found, what is allowed and the nearest word.
"""

from __future__ import annotations

import math
import re
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from nestwright.units import KINDS, UnitProblem, has_unit_of, parse_quantity, shown, split_unit

__all__ = [
    "COUNT_PATTERN",
    "MOST",
    "Amount",
    "Count",
    "Leaf",
    "format_count",
    "format_number",
    "parse_amount",
    "parse_count",
    "parse_day",
    "parse_error",
    "parse_garden",
    "parse_leaf",
    "parse_wait",
]

MOST = 20_000_000
"""Largest count that is taken; it keeps slips of the pen out and is no biology."""

_ML = 1e6  # mL in a cubic metre
_DAY = 86400.0  # s
_COUNT = re.compile(r"\s*(?:(about|~)\s*)?(\d{1,60})\s*", re.ASCII)
_BAND = re.compile(r"\s*(\d{1,60})\s*(?:\bto\b|-|–)\s*(\d{1,60})\s*", re.ASCII)
_ISO = re.compile(r"\s*(\d{4})-(\d{2})-(\d{2})\s*", re.ASCII)
_DAY_FIRST = re.compile(r"\s*([0-9]{1,2})([./])\s*([0-9]{1,2})[./]\s*([0-9]{4})\s*")
_PLAIN = re.compile(r"\s*[+-]?[\d.]+\s*", re.ASCII)
_COUNT_ALLOWED = "a whole number as 60, a guess as 'about 60', or a band as '50 to 80'"
_LEAF_ALLOWED = "fresh mass or leaf area, as '3 g' or '40 cm2'"
_AMOUNT_ALLOWED = "a volume as '20 mL', a share as '30 %', a count as 25, or leaves as '3 g'"
COUNT_PATTERN = r"^\s*(?:(?:about\s*|~\s*)?\d{1,12}|\d{1,12}\s*(?:to|-|–)\s*\d{1,12})\s*$"


@dataclass(frozen=True)
class Count:
    """A number of animals: its value, the two ends of a band (else both the value), and how it was had."""

    value: float
    low: int
    high: int
    how: Literal["exact", "guess", "band"]

    @property
    def spread(self) -> float:
        """Relative standard deviation of a band taken as even on a log scale; 0 for the others."""
        return math.log(self.high / self.low) / math.sqrt(12) if self.how == "band" else 0.0


@dataclass(frozen=True)
class Leaf:
    """Fresh leaves: g by mass, or cm2 by area."""

    value: float
    unit: Literal["g", "cm2"]


@dataclass(frozen=True)
class Amount:
    """How much of an event: mL, share 0 to 1, count, or leaves in g or cm2. `counted` keeps how a count was had."""

    value: float
    unit: Literal["mL", "share", "count", "g", "cm2"]
    counted: Count | None = None


def parse_day(value: Any) -> date:
    """A calendar day: a TOML date, or the same as a text, 2025-11-03."""
    allowed = "a day as 2025-11-03"
    if isinstance(value, datetime):
        raise UnitProblem("is a time of day; a record counts in whole days", shown(str(value)), allowed)
    if isinstance(value, date):
        return value
    match = _ISO.fullmatch(value) if isinstance(value, str) else None
    if match is None:
        other = _DAY_FIRST.fullmatch(value) if isinstance(value, str) else None
        nearest = _meant(other) if other else ""
        # the day first or the month: where only a person knows, the order is shown and not the day
        meant = f", year-month-day: {other[4]}-MM-DD" if other and not nearest else ""
        raise UnitProblem("is not a day", shown(value), f"{allowed}{meant}", nearest)
    try:
        return date(int(match[1]), int(match[2]), int(match[3]))
    except ValueError:
        raise UnitProblem("is not a day of the calendar", shown(value), allowed) from None


def _meant(told: re.Match[str]) -> str:
    """The day that a text such as 3.11.2026 means; "" where it can be read in two ways, or in none."""
    first, second, year = int(told[1]), int(told[3]), int(told[4])
    # with points the day comes first wherever it is written so; with strokes it depends on the country
    orders = [(second, first)] if told[2] == "." else [(second, first), (first, second)]
    found = set()
    for month, day in orders:
        with suppress(ValueError):
            found.add(date(year, month, day).isoformat())
    return found.pop() if len(found) == 1 else ""


def parse_count(value: Any) -> Count:
    """Read 60 or "60" (exact), "about 60" or "~60" (guess), "50 to 80" (band).

    A band becomes its geometric middle.

    Examples
    --------
    >>> parse_count("about 60")
    Count(value=60.0, low=60, high=60, how='guess')
    >>> round(parse_count("50 to 80").value, 1)
    63.2
    """
    if isinstance(value, int) and not isinstance(value, bool):
        if value < 0:
            raise UnitProblem("is negative", shown(value), _COUNT_ALLOWED)
        return _exact(value, value, "exact")
    if not isinstance(value, str):
        raise UnitProblem("is not a count", shown(value), _COUNT_ALLOWED)
    if match := _COUNT.fullmatch(value):
        number = int(match[2])
        if match[1] and number == 0:
            raise UnitProblem("a guess cannot be nought", shown(value), "0 without 'about' when none is left")
        return _exact(number, value, "guess" if match[1] else "exact")
    if match := _BAND.fullmatch(value):
        low, high = int(match[1]), int(match[2])
        if low < 1:
            raise UnitProblem("the lower end of a band must be at least 1", shown(value), _COUNT_ALLOWED)
        if low >= high:
            raise UnitProblem("the lower end is not below the upper end", shown(value), _COUNT_ALLOWED)
        _exact(high, value, "exact")
        return Count(math.sqrt(low * high), low, high, "band")
    if re.fullmatch(r"\s*-\s*\d+\s*", value, re.ASCII):
        raise UnitProblem("is negative", shown(value), _COUNT_ALLOWED)
    misspelt = re.fullmatch(r"\s*[A-Za-z.]+\s*([1-9]\d{0,7})\s*", value, re.ASCII)
    nearest = f"about {misspelt[1]}" if misspelt else ""
    if re.fullmatch(r"\s*[1-9]\d{0,2}(?:,\d{3})+\s*", value, re.ASCII):
        nearest = value.strip().replace(",", "")
    raise UnitProblem("cannot be read as a count", shown(value), _COUNT_ALLOWED, nearest)


def _exact(number: int, given: Any, how: Literal["exact", "guess"]) -> Count:
    if number > MOST:
        raise UnitProblem("is more than any colony has", shown(given), f"at most {MOST}")
    return Count(float(number), number, number, how)


def format_count(count: Count) -> str:
    """A count as a text of the file, which `parse_count` reads back to the same."""
    if count.how == "band":
        return f"{count.low} to {count.high}"
    return f"about {count.low}" if count.how == "guess" else f"{count.low}"


def format_number(value: float) -> str:
    """A volume or a count for a remark: three digits, but never fewer than stand before the point."""
    return f"{value:.0f}" if value >= 100 else f"{value:.3g}"


def parse_garden(value: Any) -> float:
    """A garden volume, "32 mL", in mL; "0 mL" when there is none."""
    number, _ = split_unit(value, "volume")
    return 0.0 if number == 0 else parse_quantity(value, "volume") * _ML


def parse_error(value: Any) -> float:
    """A relative standard error, "20 %": at least 0.1 %, because nothing here is known better."""
    share = parse_quantity(value, "share")
    if share < 0.001:
        raise UnitProblem("no observation is that exact", shown(value), "0.1 to 100 %, as '20 %'")
    return share


def parse_leaf(value: Any) -> Leaf:
    """Fresh leaves by mass, "3 g", or by area, "40 cm2"."""
    amount = _measured(value, _LEAF_ALLOWED)
    if amount is None or amount.unit not in ("g", "cm2"):
        raise UnitProblem("cannot be read as an amount of leaves", shown(value), _LEAF_ALLOWED)
    return Leaf(amount.value, "g" if amount.unit == "g" else "cm2")


def parse_amount(value: Any) -> Amount:
    """How much of an event, in whatever measure it is told; which measures an event takes is judged elsewhere."""
    if isinstance(value, str) and not _PLAIN.fullmatch(value):
        amount = _measured(value, _AMOUNT_ALLOWED)
        if amount is not None:
            return amount
        if not re.match(r"\s*(?:about\b|~|\d+\s*(?:to\b|-|–))", value, re.ASCII):
            raise UnitProblem("cannot be read as an amount", shown(value), _AMOUNT_ALLOWED)
    counted = parse_count(value)
    return Amount(counted.value, "count", counted)


def parse_wait(value: Any) -> float:
    """A time to make something, "9 day", in days."""
    return parse_quantity(value, "interval") / _DAY


_MEASURES: tuple[tuple[str, Literal["mL", "share", "g", "cm2"], float], ...] = (
    ("volume", "mL", _ML),
    ("share", "share", 1.0),
    ("mass", "g", 1e3),
    ("area", "cm2", 1e4),
)


def _measured(value: Any, allowed: str) -> Amount | None:
    """The value in the measure that its unit belongs to, None when the unit belongs to none of them."""
    for kind, unit, factor in _MEASURES:
        if not isinstance(value, str) or not has_unit_of(value, kind):
            continue
        number, spelt = split_unit(value, kind)
        try:
            if number == 0:  # the kinds differ in whether they take nought; here every measure may be nought
                return Amount(0.0, unit)
            return Amount(parse_quantity(value, kind) * factor, unit)
        except UnitProblem as problem:
            one = problem.allowed if spelt in KINDS[kind].units else allowed
            raise UnitProblem(problem.message, problem.found, one) from None
    return None
