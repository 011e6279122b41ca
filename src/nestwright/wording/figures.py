"""Numbers as text with the digits that they have, and as JSON."""

from __future__ import annotations

import math
from typing import Any

from nestwright.rounding import significant

__all__ = ["JSON_DIGITS", "as_json", "figure", "share_text", "significant"]

JSON_DIGITS = 6
"""Significant digits in JSON: more than any figure has, few enough to read."""


def figure(value: float | None, decimals: int, *, sign: bool = False, none: str = "none") -> str:
    """A number with fixed decimals, without a minus before zero; `none` where there is no number."""
    if value is None or not math.isfinite(value):
        return none
    rounded = round(value, decimals) + 0.0
    return f"{rounded:+.{decimals}f}" if sign and rounded else f"{rounded:.{decimals}f}"


def share_text(percent: float | None) -> str:
    """A share of hours in words that never round up to all nor down to none; "" for no share."""
    if percent is None:
        return ""
    if percent in (0, 100):
        return "all" if percent else "none"
    return "under 0.1 %" if percent < 0.1 else "over 99.9 %" if percent > 99.9 else f"{figure(percent, 1)} %"


def as_json(result: Any) -> Any:
    """The same structure with numbers at `JSON_DIGITS` significant digits and null for what is not finite."""
    if isinstance(result, dict):
        return {str(key): as_json(value) for key, value in result.items()}
    if isinstance(result, list | tuple):
        return [as_json(value) for value in result]
    if isinstance(result, bool) or result is None or isinstance(result, int | str):
        return result
    if hasattr(result, "item"):
        return as_json(result.item())
    if isinstance(result, float):
        return float(f"{result:.{JSON_DIGITS}g}") if math.isfinite(result) else None
    raise TypeError(f"no JSON for {type(result).__name__}")
