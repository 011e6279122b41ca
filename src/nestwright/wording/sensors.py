"""What a calibration lacks, in words, and the decimals that an uncertainty leaves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.workshop.at_reference import AtReference

__all__ = ["advice", "decimals_of"]


def advice(found: AtReference) -> str:
    """What to do about a point that is not at rest."""
    if found.few:
        return "more readings: a longer time at the reference, or a logger set to a shorter interval"
    if found.wait is not None:
        hours = math.ceil(max(found.wait, 0.5))
        return f"a later end: leave the box closed for up to {hours} h more, then import its readings again"
    return "a stretch at rest: leave the box closed in a room of steady temperature, and tell a later end"


def decimals_of(error: float, unit: str) -> int:
    """Decimals that a value with this standard uncertainty has; by its unit where that is not known."""
    if not math.isfinite(error) or error <= 0:
        return 0 if unit in ("ppm", "lx") else 2
    # a step of the last digit is no more than the uncertainty
    return max(0, math.ceil(-math.log10(error)))
