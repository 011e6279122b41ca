"""A limit's verdict in words, and the decimals that a quantity is told with."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.climate.results import LimitResult

__all__ = ["QUANTITY_DECIMALS", "verdict"]

# The solver is held to 0.05 K, 0.2 % RH and 0.02 % gas: no decimal beyond those is printed.
QUANTITY_DECIMALS = {"temperature": 1, "relative_humidity": 1, "co2": 2, "o2": 2, "drip": 2, "garden_water": 2}


def verdict(limit: LimitResult) -> str:
    """One of four words for a limit: the verdict, and whether the uncertain inputs could turn it round."""
    word = "holds" if limit.held else "fails"
    return word if limit.sure else f"{word}, not sure"
