"""Thresholds of the alarms (data/alarms.toml), and figures in the words of an alarm."""

from __future__ import annotations

import math

from nestwright.data import Value, read_values
from nestwright.rounding import range_texts

__all__ = ["alarm_value", "alarm_values", "days_text", "hours_text", "ranged", "rounded"]


def alarm_values() -> dict[str, Value]:
    """Every threshold by name, in the unit that it tells."""
    return read_values("alarms.toml")


def alarm_value(name: str) -> float:
    """One threshold in its own unit."""
    return float(alarm_values()[name].value)


def ranged(low: float, middle: float, high: float, unit: str = "") -> str:
    """A middle with its range, as "78 % (70 to 86 %)": no more digits than the range bears out, and as many as the
    figure has elsewhere."""
    if not (math.isfinite(high - low) and high > low):
        return _with(rounded(middle), unit)
    small, mid, large = range_texts(low, middle, high)
    if small == large:
        return _with(mid, unit)
    span = f"{small} to {_with(large, unit)}"
    return span if mid in (small, large) else f"{_with(mid, unit)} ({span})"


def rounded(value: float, digits: int = 3) -> str:
    """A number of at most so many significant digits, without noughts behind the point."""
    if value == 0 or not math.isfinite(value):
        return f"{value:.0f}"
    return _fixed(value, digits - 1 - math.floor(math.log10(abs(value))), trim=True)


def hours_text(hours: float) -> str:
    """A span in the unit that suits it: minutes, hours or days."""
    if hours < 1:
        return f"{60 * hours:.0f} min"
    return f"{rounded(hours, 2)} h" if hours < 48 else f"{hours / 24:.0f} days"


def days_text(days: float) -> str:
    """So many days: "today", "1 day", "30 days"."""
    return "1 day" if round(days) == 1 else f"{days:.0f} days"


def _fixed(value: float, decimals: int, *, trim: bool = False) -> str:
    text = f"{round(value, decimals) + 0.0:.{min(max(decimals, 0), 6)}f}"
    return text.rstrip("0").rstrip(".") if trim and "." in text else text


def _with(text: str, unit: str) -> str:
    return f"{text} {unit}".rstrip()
