"""How many digits a number bears, told the same wherever a figure is told."""

from __future__ import annotations

import math

__all__ = ["LEAST", "finest", "number_text", "range_texts", "significant", "three"]

LEAST = 0.001
"""What is smaller is told as under it, where nothing else is asked for."""
VAGUE = 100.0
"""Times the middle from which an end of a range has one digit."""
_MOST_DIGITS = 4


def significant(value: float | None, digits: int = 2, *, none: str = "none") -> str:
    """A number with so many significant digits, never in powers of ten between 0.001 and 100000."""
    if value is None or not math.isfinite(value):
        return none
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, decimals):.{max(0, decimals)}f}" if decimals <= digits + 3 else f"{value:.{digits - 1}e}"


def range_texts(
    low: float, middle: float, high: float, digits: int = 2, *, whole: bool = False, least: float = LEAST
) -> tuple[str, str, str]:
    """Low, middle and high of a range as texts.

    Each has `digits` significant digits, and more where the range is narrower than these can show; an end that is a
    hundred times the middle has one. With `whole` it is a count: no decimals. What is no nought but below `least` is
    told as "under" it.
    """
    place = finest(high - low)
    vague = high > VAGUE * max(middle, least)
    return (
        number_text(low, digits, place, whole, least),
        number_text(middle, digits, place, whole, least),
        number_text(high, 1 if vague else digits, None if vague else place, whole, least),
    )


def finest(spread: float) -> int | None:
    """The decimal place down to which a range of this width tells anything."""
    return math.floor(math.log10(spread / 3)) if spread > 0 and math.isfinite(spread) else None


def number_text(value: float, digits: int, finest: int | None, whole: bool, least: float) -> str:
    """A number with `digits` significant digits, more down to the decimal place `finest`."""
    if whole:
        value = float(round(value))
    elif 0 < value < least:
        return f"under {three(least)}"
    if value == 0 or not math.isfinite(value):
        return significant(value, digits)
    size = math.floor(math.log10(abs(value)))
    if finest is not None:
        digits = max(digits, min(size - finest + 1, _MOST_DIGITS))
    if least > LEAST:
        # nothing is told finer than what is too little to be told
        digits = max(1, min(digits, size - math.floor(math.log10(least)) + 1))
    if whole:
        # a count of few is told to the last one, and none has a decimal
        digits = min(digits, size + 1)
    return significant(value, digits)


def three(value: float) -> str:
    """Three significant digits without noughts behind the point."""
    text = significant(value, 3)
    return text.rstrip("0").rstrip(".") if "." in text else text
