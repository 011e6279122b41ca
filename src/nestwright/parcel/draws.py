"""Parcels as they may turn out: what nobody knows yet, the same for all, and what differs from one to the next."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from nestwright.parcel.calendar import hours_late
from nestwright.parcel.delay import DelayBelief

__all__ = ["Draws", "Spread", "draw_parcels"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Spread:
    """How a value may turn out. factor: log-normal about `middle`, `spread` of the logarithm; shift: normal; even: from
    `middle` - `spread` to `middle` + `spread`. `of`: "all" for what is the same for every parcel and not known, "each"
    for what differs from one parcel to the next."""

    name: str
    kind: Literal["factor", "shift", "even"]
    middle: float
    spread: float
    of: Literal["all", "each"]

    def draw(self, n: int, rng: np.random.Generator) -> Array:
        if self.kind == "even":
            return self.middle + self.spread * rng.uniform(-1.0, 1.0, n)
        moved = self.spread * rng.standard_normal(n)
        return self.middle * np.exp(moved) if self.kind == "factor" else self.middle + moved


@dataclass(frozen=True)
class Draws:
    """Parcels, outer times inner of them: every `inner` share one state of what is not known. days_late and values are
    of shape (outer * inner,)."""

    outer: int
    inner: int
    days_late: NDArray[np.int64]
    values: dict[str, Array]

    def hours_late(self, due: date) -> Array:
        """Hours after the promised moment for parcels due on that day, shape (outer * inner,)."""
        most = int(self.days_late.max(initial=0))
        return np.array([hours_late(due, k) for k in range(most + 1)])[self.days_late]


def draw_parcels(
    spreads: Sequence[Spread], delays: DelayBelief, route: str, *, outer: int = 50, inner: int = 200, seed: int = 1
) -> Draws:
    """Draw outer * inner parcels. The same seed gives the same parcels, so that days and packings can be
    compared. Spreads of one name act together: factors are multiplied, shifts added."""
    rng = np.random.default_rng(seed)
    values: dict[str, Array] = {}
    for one in spreads:
        drawn = np.repeat(one.draw(outer, rng), inner) if one.of == "all" else one.draw(outer * inner, rng)
        if one.name in values:
            drawn = values[one.name] * drawn if one.kind == "factor" else values[one.name] + drawn
        values[one.name] = drawn
    late, further = delays.draw_chances(route, outer, rng)
    days = rng.geometric(1 - np.repeat(further, inner))
    is_late = rng.random(outer * inner) < np.repeat(late, inner)
    return Draws(outer, inner, np.where(is_late, np.minimum(days, delays.most), 0), values)
