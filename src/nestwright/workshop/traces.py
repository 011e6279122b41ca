"""A channel as a line of so many points: few enough for a screen, however long the span and short the step."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.workshop.corrected import correction
from nestwright.workshop.course import bridge_of
from nestwright.workshop.moments import DAY
from nestwright.workshop.readings import HOUR, Channel, Moments, read_hours, read_raw
from nestwright.workshop.sensors import calibrations_of, scale_of, spans_at_references

__all__ = ["MOST_WIDTH", "Trace", "trace"]

Array = NDArray[np.float64]
Ends = tuple[Array, Array, Array]
"""Least, mean and most."""
MOST_WIDTH = 4000
"""Points of a line at the most; no screen is wider."""
MOST_RAW = 100_000
"""Readings up to which they are read one by one; beyond, the sums of their hours are."""


@dataclass(frozen=True)
class Trace:
    """A channel from `start` on and before `end` (UTC ms), in its own unit, corrected, in at most `width` + 1 points.

    `by`: "reading" (each by itself), "minutes" (steps, out of the readings) or "hour" (steps of whole hours or days,
    out of their sums). `at`: the reading's moment, or the middle of what its step holds, UTC ms (n,), rising; `low`,
    `mean`, `high` (n,), equal for readings; `error` standard uncertainty of the mean (n,), nan where nothing is known.
    `breaks`: (k,) numbers of the points before which the line is broken, because longer than `bridge` ms nothing was
    read. `unknown`: ms of the span from its first to its last reading that lie in such gaps. `references`: (from, to)
    UTC ms in which the logger stood at the references of a calibration. `calibrations` behind the correction.
    """

    channel: Channel
    by: str
    start: int
    end: int
    at: Moments
    low: Array
    mean: Array
    high: Array
    error: Array
    breaks: NDArray[np.int64]
    unknown: int
    bridge: float
    references: tuple[tuple[int, int], ...]
    calibrations: int

    def to_dict(self) -> dict[str, Any]:
        """JSON: columns with None before the points at which the line is broken."""
        at = np.insert(self.at, self.breaks, (self.at[self.breaks - 1] + self.at[self.breaks]) // 2)
        columns = {
            name: [None if x != x else x for x in np.insert(_few(one, digits), self.breaks, np.nan).tolist()]
            for name, one, digits in (
                ("low", self.low, 7),
                ("mean", self.mean, 7),
                ("high", self.high, 7),
                ("error", self.error, 3),
            )
        }
        return {
            "channel": self.channel.to_dict(),
            "by": self.by,
            "from": self.start,
            "to": self.end,
            "calibrations": self.calibrations,
            "references": [list(one) for one in self.references],
            "at": at.tolist(),
            **columns,
        }


def trace(connection: Connection, channel: Channel, low: int, high: int, width: int) -> Trace:
    """Readings of a channel from `low` on and before `high` (UTC ms) as a line of at most `width` + 1 points.

    Raises InputError for a calibration that cannot be read.
    """
    width = max(2, min(int(width), MOST_WIDTH))
    step = max(1, -(-(high - low) // width))
    hours = read_hours(connection, channel.id, low // HOUR * HOUR, high)
    if int(hours.n.sum()) <= MOST_RAW and step < HOUR:
        series = read_raw(connection, channel.id, low, high)
        begin = end = series.at
        n = np.ones(len(series.at), np.int64)
        parts: Ends = series.value, series.value, series.value
        by, bridge = "reading", 1000 * bridge_of(series.at)
    else:
        begin, n = hours.hour * HOUR, hours.n
        end, by = begin + HOUR, "hour"
        parts = hours.low, hours.mean, hours.high
        # from half a day on whole days: other steps would show the course of the day as slow waves that are not there
        whole = DAY if step > DAY // 2 else HOUR
        step = max(HOUR, -(-step // whole) * whole)
        sparse = len(begin) > 1 and np.median(np.diff(begin)) > HOUR
        bridge = max(1.0, 1000 * bridge_of(begin) - HOUR) if sparse else 1.0
    wide = begin[1:] - end[:-1]
    unknown = int(wide[wide > bridge].sum())
    if by == "hour" or len(begin) > width:
        begin, end, n, parts = _in_steps(begin, end, n, parts, step)
        by = by if by == "hour" else "minutes"
    at = (begin + end) // 2
    breaks = np.flatnonzero(begin[1:] - end[:-1] > bridge) + 1
    many, least, mean, most, error = _corrected(connection, channel, at, parts, n)
    spans = tuple((a, b) for a, b in spans_at_references(connection, channel.logger) if a < high and b > low)
    return Trace(channel, by, low, high, at, least, mean, most, error, breaks, unknown, bridge, spans, many)


def _in_steps(
    begin: Moments, end: Moments, n: NDArray[np.int64], parts: Ends, step: int
) -> tuple[Moments, Moments, NDArray[np.int64], Ends]:
    """Least, mean and most of what begins in each step."""
    if not len(begin):
        return begin, end, n, parts
    # steps as counted from the days, so that a picture that is moved along keeps its points
    origin = int(begin[0]) // DAY * DAY
    first = np.flatnonzero(np.diff((begin - origin) // step, prepend=-1))
    last = np.append(first[1:], len(begin)) - 1
    count = np.add.reduceat(n, first)
    low, mean, high = parts
    total = np.add.reduceat(mean * n, first)
    return (
        begin[first],
        end[last],
        count,
        (np.minimum.reduceat(low, first), total / count, np.maximum.reduceat(high, first)),
    )


def _corrected(
    connection: Connection, channel: Channel, at: Moments, parts: Ends, n: NDArray[np.int64]
) -> tuple[int, Array, Array, Array, Array]:
    scale = scale_of(channel)
    if scale is None:
        low, mean, high = parts
        return 0, low, mean, high, np.full(len(at), np.nan)
    made = [kept.calibration for kept in calibrations_of(connection, channel.id)]
    least, middle, most = (correction(made, scale, at, one) for one in parts)
    ends = scale.shown(least.value), scale.shown(most.value)
    error = np.hypot(scale.spread(middle.common), scale.spread(middle.own) / np.sqrt(n))
    # a curve may fall somewhere: then the least as read is the most
    return len(made), np.minimum(*ends), scale.shown(middle.value), np.maximum(*ends), error


def _few(values: Array, digits: int) -> Array:
    """Values as they are sent: more digits than a sensor has, and no more."""
    size = np.where((values == 0) | ~np.isfinite(values), 1.0, np.abs(values))
    factor = 10.0 ** (digits - 1 - np.floor(np.log10(size)))
    return np.round(values * factor) / factor
