"""Which limits bind where, and how far a value stands inside them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.data import limit_tolerances
from nestwright.habitat.assemble import Assembly
from nestwright.habitat.model import OwnLimit

Array = NDArray[np.float64]

WORDS = {
    "temperature": "temperature",
    "relative_humidity": "humidity",
    "co2": "CO2",
    "o2": "O2",
    "drip": "drip on the garden",
    "garden_water": "garden's water",
}


@dataclass(frozen=True)
class BoundLimit:
    """One limit of one zone; `low`/`high` in the quantity's SI unit, `tolerance` scales its margin."""

    name: str
    zone: str
    quantity: str
    low: float | None
    high: float | None
    tolerance: float
    source: str
    mark: str

    def margin(self, value: Array) -> Array:
        """Distance inside the band, negative outside, in the quantity's own unit."""
        value = np.asarray(value, dtype=float)
        inside = np.full(value.shape, np.inf)
        if self.low is not None:
            inside = np.minimum(inside, value - self.low)
        if self.high is not None:
            inside = np.minimum(inside, self.high - value)
        return inside


def bound_limits(assembly: Assembly) -> tuple[BoundLimit, ...]:
    """Limits of the species card, with the builder's own in their place, for every zone of their role."""
    own: dict[tuple[str, str], OwnLimit] = {(limit.role, limit.quantity): limit for limit in assembly.habitat.limits}
    tolerances = limit_tolerances()
    found = []
    seen = set()
    entries = [(c.role, c.quantity, c.low, c.high, c.source, c.mark) for c in assembly.card.limits]
    entries += [
        (r, q, None, None, "", "")
        for (r, q) in own
        if (r, q) not in {(c.role, c.quantity) for c in assembly.card.limits}
    ]
    for role, quantity, low, high, source, mark in entries:
        mine = own.get((role, quantity))
        if mine is not None:
            low, high, source, mark = mine.low, mine.high, "the builder's own limit", "own"
        for zone, zone_role in assembly.roles.items():
            if zone_role != role or (zone, quantity) in seen:
                continue
            if quantity in ("drip", "garden_water") and zone not in {z for z, *_ in assembly.gardens}:
                continue
            seen.add((zone, quantity))
            name = f"{zone}: {WORDS[quantity]}"
            found.append(BoundLimit(name, zone, quantity, low, high, tolerances[quantity], source, mark))
    return tuple(found)
