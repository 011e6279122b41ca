"""Values with their ranges as text: as many digits as the range bears out, counts whole, large volumes in litres."""

from __future__ import annotations

import re

from nestwright.rounding import LEAST, finest, number_text, range_texts, three

__all__ = [
    "FULLER",
    "LITRES_FROM",
    "between",
    "coming_days",
    "in_litres",
    "ranged",
    "span_of_days",
    "three",
    "volume_text",
]

LITRES_FROM = 10_000.0
"""mL from which a volume is told in litres."""
FULLER = (
    "A fill over 100 %: the garden is larger than what it stands in can hold. It presses against it, grows no further, "
    "and is to be moved on (`nestwright plan`); or a volume is told wrong."
)


def ranged(
    low: float, middle: float, high: float, digits: int = 2, *, whole: bool = False, least: float = LEAST
) -> str:
    """A middle with its range, such as "45 (21 to 80)"; the middle alone where the range is no wider.

    Each has `digits` significant digits, and more where the range is narrower than these can show; an end that is a
    hundred times the middle has one. Where the middle cannot be told from an end the two ends stand alone. With
    `whole` it is a count: no decimals. What is no nought but below `least` is told as "under" it.
    """
    low_text, middle_text, high_text = range_texts(low, middle, high, digits, whole=whole, least=least)
    if low_text == high_text:
        return middle_text
    span = f"{low_text} to {high_text}"
    return span if middle_text in (low_text, high_text) else f"{middle_text} ({span})"


def between(low: float, high: float, digits: int = 2, *, whole: bool = False, least: float = LEAST) -> str:
    """The two ends of a range, such as "21 to 80", with the digits of `ranged`; one where both read the same."""
    ends = [number_text(x, digits, finest(high - low), whole, least) for x in (low, high)]
    return ends[0] if ends[0] == ends[1] else " to ".join(ends)


def volume_text(millilitres: float) -> str:
    """A volume to three digits: "90 mL", "1500 mL", from 10 L on "25 L"."""
    if millilitres >= LITRES_FROM:
        return f"{three(millilitres / 1000)} L"
    return f"{three(millilitres)} mL"


def in_litres(text: str) -> str:
    """A text in which volumes of `LITRES_FROM` and more are told in litres: "the chamber's 150 L"."""
    return re.sub(r"\b(\d{5,}) mL\b", lambda found: volume_text(float(found[1])), text)


def span_of_days(n: float) -> str:
    """So many days: "1 day", "30 days"."""
    return "1 day" if round(n) == 1 else f"{n:.0f} days"


def coming_days(n: float) -> str:
    """The days to come: "the next day", "the next 14 days"."""
    return "the next day" if round(n) == 1 else f"the next {span_of_days(n)}"
