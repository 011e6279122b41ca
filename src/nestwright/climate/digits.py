"""Digits that a figure has: what its interval leaves of it."""

from __future__ import annotations

import math


def decimals_within(low: float, high: float, most: int) -> int:
    """Decimals that an interval leaves to a value, at most `most`.

    Two digits of its half-width when that begins with 1 to 3.54, else one: the rounding rule of the Particle
    Data Group's Review of Particle Physics, Introduction, section 5.3 (from memory).
    """
    half = abs(high - low) / 2
    if half == 0 or not math.isfinite(half):
        return most
    power = math.floor(math.log10(half))
    return max(0, min(most, -power + (half / 10.0**power < 3.55)))
