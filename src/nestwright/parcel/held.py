"""Losses that were predicted, held against those that were found: does the risk keep its word?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

__all__ = ["Held", "Predicted", "held_against"]

FEWEST = 10
"""Parcels below which nothing is said of the risk: chance alone hides twice too much or too little."""


@dataclass(frozen=True)
class Predicted:
    """A parcel that came: its name, the chance of a loss as it was predicted, and whether it was lost."""

    name: str
    chance: float
    lost: bool

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


@dataclass(frozen=True)
class Held:
    """Predicted losses beside found ones: `expected` how many on the average, in 8 of 10 records from `low` to `high`
    if every chance were right; `found` how many were. `verdict`: too few (to tell), kept, too low (more were lost than
    predicted), too high."""

    parcels: tuple[Predicted, ...]
    expected: float
    low: int
    high: int
    found: int

    @property
    def verdict(self) -> str:
        if len(self.parcels) < FEWEST:
            return "too few"
        return "too low" if self.found > self.high else "too high" if self.found < self.low else "kept"

    def to_dict(self) -> dict[str, Any]:
        return {
            "parcels": [one.to_dict() for one in self.parcels],
            "expected": self.expected,
            "low": self.low,
            "high": self.high,
            "found": self.found,
            "verdict": self.verdict,
        }


def held_against(parcels: Sequence[Predicted]) -> Held:
    """Hold predicted chances against what was found.

    Notes
    -----
    The number of losses is then a sum of unlike coin tosses (Poisson binomial), whose chances are worked out exactly;
    it takes the parcels as independent, which those of one cold week are not.
    """
    chances = np.array([one.chance for one in parcels])
    number = np.ones(1)
    for p in chances:
        number = np.convolve(number, [1.0 - p, p])
    below = np.cumsum(number)
    low, high = (int(np.searchsorted(below, share - 1e-12)) for share in (0.1, 0.9))
    return Held(tuple(parcels), float(chances.sum()), low, high, sum(one.lost for one in parcels))
