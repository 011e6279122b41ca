"""The rooms that a sizing looks at: a few hours that stand for a record, or a rectangle of rooms."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.room_air import Room
from nestwright.physics import air

Array = NDArray[np.float64]

DIRECTIONS = 16
DECILES = (0.1, 0.3, 0.5, 0.7, 0.9)


@dataclass(frozen=True)
class RoomPoints:
    """Steady rooms of one air: `temperature` K and `vapour_pressure` Pa, shape (n,); the rest as in `Room`.

    `pressure` is None where that of the habitat's altitude is meant.
    """

    name: str
    temperature: Array
    vapour_pressure: Array
    pressure: float | None
    co2: float
    o2: float

    @property
    def relative_humidity(self) -> Array:
        return np.asarray(self.vapour_pressure / air.saturation_pressure(self.temperature))


def representative(room: Room, pressure: float | None) -> RoomPoints:
    """At most 26 knots of a room's record: the outermost in 16 directions, and those at every other decile.

    The outermost are corners of the convex hull of (temperature, vapour pressure), each scaled by its standard
    deviation. At every other decile of either quantity stands the knot whose other quantity is the median of its
    neighbours.
    """
    t, e = room.temperature, room.vapour_pressure
    scaled = np.column_stack([(x - x.mean()) / (x.std() or 1.0) for x in (t, e)])
    angles = 2 * np.pi * np.arange(DIRECTIONS) / DIRECTIONS
    chosen = set(np.argmax(scaled @ np.array([np.cos(angles), np.sin(angles)]), axis=0).tolist())
    for one, other in ((t, e), (e, t)):
        order = np.argsort(one, kind="stable")
        reach = max(1, len(order) // 40)
        for share in DECILES:
            middle = int(share * (len(order) - 1))
            near = order[max(0, middle - reach) : middle + reach + 1]
            chosen.add(int(near[np.argsort(other[near], kind="stable")[len(near) // 2]]))
    pairs = np.unique(np.column_stack([t, e])[sorted(chosen)], axis=0)
    return RoomPoints(room.name, pairs[:, 0], pairs[:, 1], pressure, room.co2, room.o2)


def rectangle(
    temperature: tuple[float, float], relative_humidity: tuple[float, float], points: int = 5, like: Room | None = None
) -> RoomPoints:
    """A grid of `points` x `points` rooms between two temperatures (K) and two relative humidities (0 to 1)."""
    rows: list[tuple[float, float]] = []
    for k, t in enumerate(np.linspace(*temperature, points)):
        across = np.linspace(*relative_humidity, points)[:: 1 if k % 2 == 0 else -1]
        rows += [(float(t), float(h * air.saturation_pressure(t))) for h in across]
    name = (
        f"{temperature[0] - 273.15:.3g} to {temperature[1] - 273.15:.3g} degC, "
        f"{relative_humidity[0] * 100:.3g} to {relative_humidity[1] * 100:.3g} %"
    )
    table = np.array(rows)
    co2, o2 = (like.co2, like.o2) if like else (4.5e-4, 0.2095)
    return RoomPoints(name, table[:, 0], table[:, 1], None, co2, o2)


def count(groups: Sequence[RoomPoints]) -> int:
    return sum(len(g.temperature) for g in groups)
