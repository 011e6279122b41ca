"""Many plans at a glance: a dynamic programme over days and rooms, on garden paths that are bent by their room.

The paths run once without a wall. Under a room R a path keeps its own growth less the intake that the wall takes:
d log G = g - i (G / R)^power, with g its growth and i its intake per garden on that day. What the garden's size does to
the ants is left out; the best plans are therefore simulated in full afterwards.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.bells import Room, allowed, needs_lid
from nestwright.data import plan_values

Array = NDArray[np.float64]
Change = tuple[int, Room]
Steps = tuple[Change, ...]

__all__ = ["Change", "Outlook", "Steps", "Weights", "best_steps", "day_cost"]

MOST = 4
KEPT = 8
"""Histories kept for each number of changes and each room: they differ in the garden they leave behind."""
CRUSHED = 0.1
"""Share of paths that may find no room before a plan is dropped here."""


@dataclass(frozen=True)
class Weights:
    """What is weighed: the band of fill, and days that a change and a lid count."""

    low: float
    high: float
    handling: float
    lid: float

    def change(self, before: Room, after: Room) -> float:
        """Days that one change counts."""
        return self.handling + (self.lid if needs_lid(before, after) else 0.0)


@dataclass(frozen=True)
class Outlook:
    """Garden mL on the first morning (paths,), growth and intake per garden by day (paths, days), living mornings
    (paths, days + 1), and the power of the wall."""

    garden: Array
    growth: Array
    intake: Array
    alive: NDArray[np.bool_]
    power: float


def day_cost(fill: Array, low: float, high: float) -> Array:
    """What a day at this fill counts: 0 inside the band, 1 at its edges, more the further outside."""
    values = plan_values()
    full, empty = values["full_weight"].value, values["empty_weight"].value
    over = 1.0 + (full - 1.0) * np.minimum((fill - high) / max(1.0 - high, 1e-9), 1.0)
    under = 1.0 + (empty - 1.0) * (low - fill) / max(low, 1e-9)
    return np.where(fill > high, over, np.where(fill < low, under, 0.0))


def best_steps(
    outlook: Outlook, now: Room, rooms: list[Room], weights: Weights, *, every: int = 3, kept: int = KEPT
) -> list[tuple[float, Steps]]:
    """Plans in order of their cost on the bent paths, the dearest last; every number of changes up to 4 is among them.

    States of the programme are (number of changes, room); each keeps `kept` histories with the gardens they lead to.
    """
    known = [now, *rooms]
    usable = np.array([r.usable for r in known])
    making = np.array([r.making for r in known])
    price = np.array([[weights.change(a, b) if allowed(a, b) else np.inf for b in known] for a in known])
    price[:, 0] = np.inf  # what stood before is not put back
    garden = outlook.garden[None].copy()
    room, count, cost = np.zeros(1, dtype=int), np.zeros(1, dtype=int), np.zeros(1)
    history: list[tuple[tuple[int, int], ...]] = [()]
    days = outlook.growth.shape[1]
    # the first day on which a part can be there counts most where the garden is full already
    grid = {*range(every, days, every), *(max(1, int(np.ceil(m))) for m in making)}
    for day in range(days):
        if day in grid:
            grown = _changed(garden, room, count, cost, history, day, usable, making, price)
            garden, room, count, cost, history = _thinned(*grown, kept)
        fill = np.minimum(garden / usable[room][:, None], 1.5)
        garden = garden * np.exp(outlook.growth[:, day] - outlook.intake[:, day] * np.minimum(fill**outlook.power, 1.0))
        counted = day_cost(garden / usable[room][:, None], weights.low, weights.high) * outlook.alive[:, day + 1]
        cost = cost + counted.mean(axis=1)
    order = np.argsort(cost, kind="stable")
    return [(float(cost[i]), tuple((d, known[r]) for d, r in history[i])) for i in order]


def _changed(
    garden: Array,
    room: NDArray[np.int64],
    count: NDArray[np.int64],
    cost: Array,
    history: list[tuple[tuple[int, int], ...]],
    day: int,
    usable: Array,
    making: Array,
    price: Array,
) -> tuple[Array, NDArray[np.int64], NDArray[np.int64], Array, list[tuple[tuple[int, int], ...]]]:
    """All states, and all that one change on this day makes of them."""
    dearer = cost[:, None] + price[room]
    dearer[:, making > day] = np.inf
    dearer[count >= MOST] = np.inf
    crushed = (garden[:, None, :] > usable[None, :, None]).mean(axis=2)
    dearer[crushed > CRUSHED] = np.inf
    origin, to = np.nonzero(np.isfinite(dearer))
    return (
        np.concatenate([garden, garden[origin]]),
        np.concatenate([room, to]),
        np.concatenate([count, count[origin] + 1]),
        np.concatenate([cost, dearer[origin, to]]),
        history + [(*history[i], (day, int(j))) for i, j in zip(origin, to, strict=True)],
    )


def _thinned(
    garden: Array,
    room: NDArray[np.int64],
    count: NDArray[np.int64],
    cost: Array,
    history: list[tuple[tuple[int, int], ...]],
    kept: int,
) -> tuple[Array, NDArray[np.int64], NDArray[np.int64], Array, list[tuple[tuple[int, int], ...]]]:
    """The cheapest histories of each state."""
    key = count * (room.max() + 1) + room
    order = np.lexsort((cost, key))
    ordered = key[order]
    first = np.searchsorted(ordered, ordered, side="left")
    stay = order[np.arange(len(order)) - first < kept]
    return garden[stay], room[stay], count[stay], cost[stay], [history[i] for i in stay]
