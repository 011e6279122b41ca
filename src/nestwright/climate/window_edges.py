"""Where the window of a habitat ends: between the points of its map, by one rule for command, page and papers."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.results import WindowMap

__all__ = ["extent", "held_at"]

Array = NDArray[np.float64]


def held_at(window: WindowMap, humidity: float) -> tuple[float, float] | None:
    """The longest run of room temperatures (K) at a room humidity (0 to 1) in which every limit is held; None where
    there is none.

    The margin is taken as straight between the points of the map, along both of its sides.
    """
    h = window.relative_humidity
    at = float(np.clip(np.interp(humidity, h, np.arange(len(h))), 0, len(h) - 1))
    low = min(int(at), len(h) - 2)
    share = at - low
    worst = (1 - share) * window.worst[:, low] + share * window.worst[:, low + 1]
    runs = _runs(window.temperature, worst)
    return max(runs, key=lambda run: run[1] - run[0]) if runs else None


def extent(window: WindowMap) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """The room temperatures (K) and the room humidities (0 to 1) between which the window lies; None for none."""
    t, h, worst = window.temperature, window.relative_humidity, window.worst
    along = [run for j in range(len(h)) for run in _runs(t, worst[:, j])]
    across = [run for i in range(len(t)) for run in _runs(h, worst[i])]
    if not along:
        return None
    return (min(a for a, _ in along), max(b for _, b in along)), (min(a for a, _ in across), max(b for _, b in across))


def _runs(x: Array, margin: Array) -> list[tuple[float, float]]:
    """First and last `x` of each run of margins not below 0, to where the straight line between points is 0."""
    found: list[tuple[float, float]] = []
    inside = np.flatnonzero(margin >= 0)
    for first, last in _spans(inside):
        found.append((_edge(x, margin, first, first - 1), _edge(x, margin, last, last + 1)))
    return found


def _spans(inside: NDArray[np.int64]) -> list[tuple[int, int]]:
    parts = np.split(inside, np.flatnonzero(np.diff(inside) > 1) + 1) if inside.size else []
    return [(int(part[0]), int(part[-1])) for part in parts]


def _edge(x: Array, margin: Array, held: int, beyond: int) -> float:
    if not 0 <= beyond < len(x):
        return float(x[held])
    share = margin[held] / (margin[held] - margin[beyond])
    return float(x[held] + share * (x[beyond] - x[held]))
