"""How fast a garden grows over the days to come, and when it has doubled and tripled."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.forecast import span
from nestwright.colony.results import BAND, DateSpan

Array = NDArray[np.float64]

__all__ = ["Pace", "pace_of"]

SPAN = 14
"""Days over which the growth per day is told: two weeks even out what chance does to one."""


@dataclass(frozen=True)
class Pace:
    """Growth of the garden: `per_day` 1/d as 10, 50, 90 % over the next `days`; when it has doubled and tripled."""

    days: int
    per_day: tuple[float, float, float]
    doubled: DateSpan
    tripled: DateSpan

    def to_dict(self, start: date) -> dict[str, Any]:
        return {
            "days": self.days,
            "per_day": list(self.per_day),
            "doubled": self.doubled.to_dict(start),
            "tripled": self.tripled.to_dict(start),
        }


def pace_of(garden: Array, first: float) -> Pace:
    """Pace of gardens mL, shape (paths, days + 1), from the day `first` of the record on.

    The growth per day is the logarithm of the ratio of two volumes over the days between them; a garden that is lost
    counts as a hundredth of a millilitre. Quantiles are over the paths.
    """
    days = min(SPAN, garden.shape[1] - 1)
    kept = np.maximum(garden, 0.01)
    rate = np.log(kept[:, days] / kept[:, 0]) / max(days, 1)
    low, middle, high = (float(x) for x in np.quantile(rate, BAND))
    today = kept[:, :1]
    doubled = span("doubled", "the garden is twice what it is today", kept >= 2 * today, first)
    tripled = span("tripled", "the garden is three times what it is today", kept >= 3 * today, first)
    return Pace(days, (low, middle, high), doubled, tripled)
