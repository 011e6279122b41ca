"""Spells in which readings lie beyond a limit: from when to when, how deep, how much."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.sensing.crossings import share_above

__all__ = ["Episode", "Spells", "spells_above"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Episode:
    """One spell beyond a limit, within readings without a gap.

    start, end: s; depth: furthest beyond the limit; area: unit of the value times hours; `cut_start`, `cut_end`: it
    may have begun earlier or gone on, where there is no reading.
    """

    side: str
    start: float
    end: float
    hours: float
    depth: float
    area: float
    cut_start: bool
    cut_end: bool

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)


@dataclass(frozen=True)
class Spells:
    """All spells beyond one limit in order of time, as arrays of one length; fields as in `Episode`."""

    side: str
    start: Array
    end: Array
    depth: Array
    area: Array
    cut_start: NDArray[np.bool_]
    cut_end: NDArray[np.bool_]

    def one(self, i: int) -> Episode:
        start, end = float(self.start[i]), float(self.end[i])
        cuts = bool(self.cut_start[i]), bool(self.cut_end[i])
        return Episode(self.side, start, end, (end - start) / 3600, float(self.depth[i]), float(self.area[i]), *cuts)

    def worst(self, count: int) -> list[Episode]:
        """The `count` spells of largest area, largest first."""
        return [self.one(int(i)) for i in np.argsort(-self.area, kind="stable")[:count]]

    def longest(self) -> list[Episode]:
        """The longest spell, if there is any."""
        return [self.one(int(np.argmax(self.end - self.start)))] if len(self.start) else []


def spells_above(time: Array, excess: Array, known: NDArray[np.bool_], side: str) -> Spells:
    """Spells of excess above 0.

    Parameters
    ----------
    time : s, rising, shape (n,).
    excess : how far beyond the limit, shape (n,).
    known : whether the time from reading i to i + 1 is bridged, shape (n - 1,).
    side : name of the side, "above" or "below".
    """
    out = excess > 0
    if not out.any():
        none, no = np.empty(0), np.empty(0, bool)
        return Spells(side, none, none, none, none, no, no)
    joined = out[1:] & out[:-1] & known
    first = np.flatnonzero(out & ~np.concatenate([[False], joined]))
    last = np.flatnonzero(out & ~np.concatenate([joined, [False]]))
    share, mean = share_above(excess[:-1], excess[1:], at_limit=False)
    step = np.diff(time)
    area = np.concatenate([[0.0], np.cumsum(np.where(known, mean * step, 0.0))])
    lead = np.concatenate([[False], known])[first]
    trail = np.concatenate([known, [False]])[last]
    # the part of the segment before (after) the spell that is beyond the limit; clipped where there is no segment
    before, behind = np.maximum(first - 1, 0), np.minimum(last, len(step) - 1)
    if len(step):
        start = time[first] - np.where(lead, share[before] * step[before], 0.0)
        end = time[last] + np.where(trail, share[behind] * step[behind], 0.0)
    else:
        start, end = time[first], time[last]
    total = area[np.where(trail, last + 1, last)] - area[np.where(lead, first - 1, first)]
    # deepest reading from each first to each last: runs do not touch, so every second piece is a run
    edges = np.stack([first, last + 1], axis=1).ravel()
    depth = np.maximum.reduceat(np.append(excess, -np.inf), edges)[::2]
    return Spells(side, start, end, depth, total / 3600, ~lead, ~trail)
