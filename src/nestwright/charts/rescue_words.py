"""Counts, volumes and chances of a rescue as text, the same in its picture and on the screen.

Two digits, which is what such ranges bear out; no powers of ten; mL below 10 L, L below 1000 L, m3 from there on.
"""

from __future__ import annotations

import math

__all__ = ["PER", "chance", "count", "count_range", "ends", "parts", "volume", "volume_range", "whole_up"]

UNITS = ((1e6, "m3"), (1e4, "L"), (0.0, "mL"))
"""Least volume, mL, that is told in each unit."""
PER = {"m3": 1e6, "L": 1e3, "mL": 1.0}
"""mL in each unit."""
GROUPED = 10_000
"""Counts from which thousands are set apart."""


def rounded(value: float, digits: int) -> float:
    """A value at so many digits."""
    return float(f"{value:.{digits - 1}e}") if math.isfinite(value) else value


def figure(value: float, digits: int, whole: bool = False) -> str:
    """A number at so many digits, without noughts behind the point; `whole` keeps them."""
    if not math.isfinite(value):
        return "unknown"
    value = rounded(value, digits)
    if value == 0:
        return "0"
    text = f"{value:,.0f}" if value >= GROUPED else f"{value:.{max(0, digits - 1 - math.floor(math.log10(value)))}f}"
    return text if whole else text.rstrip("0").rstrip(".") if "." in text else text


def count(value: float, digits: int = 2) -> str:
    """A whole number at so many digits: "1200", "1,000,000"."""
    return figure(float(round(value)), digits) if math.isfinite(value) else "unknown"


def count_range(low: float, middle: float, high: float) -> str:
    """A count with the ends of its range: "1200 (330 to 3300)"; alone where the range is none."""
    shown = [count(x) for x in (low, middle, high)]
    return shown[1] if shown[0] == shown[2] else f"{shown[1]} ({shown[0]} to {shown[2]})"


def parts(millilitres: float, digits: int, whole: bool = False) -> tuple[str, str]:
    """Figure and unit of a volume; `whole` keeps noughts behind the point."""
    millilitres = rounded(millilitres, digits)
    if millilitres < 0.1:
        return "0", "mL"
    unit = next(unit for least, unit in UNITS if millilitres >= least)
    return figure(millilitres / PER[unit], digits, whole), unit


def volume(millilitres: float, digits: int = 3) -> str:
    """A volume: "12.5 mL", "50 L", "5 m3"."""
    return " ".join(parts(millilitres, digits)) if math.isfinite(millilitres) else "unknown"


def volume_range(low: float, middle: float, high: float) -> str:
    """A volume with the ends of its range, "43 L (12 to 90)"; each with its unit where these differ.

    Both digits are always shown, so that "1.0" stands beside "1.1"; an end that is the middle is not said again.
    """
    shown = [parts(x, 2, whole=True) for x in (low, middle, high)]
    if shown[0] == shown[2]:
        return " ".join(parts(middle, 2))
    # none has no unit of its own
    units = {unit for number, unit in shown if number != "0"}
    low_text, middle_text, high_text = (
        number if number == "0" or len(units) == 1 else f"{number} {unit}" for number, unit in shown
    )
    if len(units) == 1:
        middle_text += f" {units.pop()}"
    return f"{middle_text} ({ends(low_text, high_text, shown[1] == shown[0], shown[1] == shown[2])})"


def ends(low: str, high: str, at_low: bool, at_high: bool) -> str:
    """The two ends of a range, or the one of them that is not the middle itself."""
    return f"up to {high}" if at_low else f"from {low}" if at_high else f"{low} to {high}"


def chance(share: float) -> str:
    """A chance in whole percent, never all and never none."""
    if not math.isfinite(share):
        return "unknown"
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def whole_up(x: float) -> int:
    """A number of workers: up to the next whole one, at two digits."""
    n = math.ceil(x - 1e-9)
    step = 10 ** max(0, len(str(n)) - 2)
    return -(-n // step) * step
