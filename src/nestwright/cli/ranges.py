"""Values with their ranges as text: as many digits as the range bears out, counts whole, large volumes in litres."""

from __future__ import annotations

import math
import re

from nestwright.cli.output import significant

__all__ = ["LITRES_FROM", "between", "in_litres", "ranged", "span_of_days", "three", "volume_text"]

LITRES_FROM = 10_000.0
"""mL from which a volume is told in litres."""
_MOST_DIGITS = 4


def ranged(low: float, middle: float, high: float, digits: int = 2, *, whole: bool = False) -> str:
    """A middle with its range, such as "45 (21 to 80)"; the middle alone where the range is no wider.

    Each has `digits` significant digits, and more where the range is narrower than these can show. With `whole` it is
    a count: no decimals.
    """
    finest = _finest(high - low)
    low_text, middle_text, high_text = (_number(x, digits, finest, whole) for x in (low, middle, high))
    return middle_text if low_text == high_text else f"{middle_text} ({low_text} to {high_text})"


def between(low: float, high: float, digits: int = 2, *, whole: bool = False) -> str:
    """The two ends of a range, such as "21 to 80", with the digits of `ranged`."""
    return " to ".join(_number(x, digits, _finest(high - low), whole) for x in (low, high))


def _finest(spread: float) -> int | None:
    """The decimal place down to which a range of this width tells anything."""
    return math.floor(math.log10(spread / 3)) if spread > 0 and math.isfinite(spread) else None


def _number(value: float, digits: int, finest: int | None, whole: bool) -> str:
    if whole:
        value = float(round(value))
    elif 0 < value < 0.001:
        return "under 0.001"
    if value == 0 or not math.isfinite(value):
        return significant(value, digits)
    size = math.floor(math.log10(abs(value)))
    if finest is not None:
        digits = max(digits, min(size - finest + 1, _MOST_DIGITS))
    if whole:
        # a count of few is told to the last one, and none has a decimal
        digits = min(digits, size + 1)
    return significant(value, digits)


def volume_text(millilitres: float) -> str:
    """A volume to three digits: "90 mL", "1500 mL", from 10 L on "25 L"."""
    if millilitres >= LITRES_FROM:
        return f"{three(millilitres / 1000)} L"
    return f"{three(millilitres)} mL"


def in_litres(text: str) -> str:
    """A text in which volumes of `LITRES_FROM` and more are told in litres: "the chamber's 150 L"."""
    return re.sub(r"\b(\d{5,}) mL\b", lambda found: volume_text(float(found[1])), text)


def three(value: float) -> str:
    """Three significant digits without noughts behind the point."""
    text = significant(value, 3)
    return text.rstrip("0").rstrip(".") if "." in text else text


def span_of_days(n: float) -> str:
    """So many days: "1 day", "30 days"."""
    return "1 day" if round(n) == 1 else f"{n:.0f} days"
