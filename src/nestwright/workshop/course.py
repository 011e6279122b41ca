"""The course of a channel over a span: raw readings of a short one, hours of a long one, corrected, with its gaps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.sensing.sensor_values import sensor_value
from nestwright.workshop.corrected import correction, usual_step
from nestwright.workshop.moments import DAY, local_ms
from nestwright.workshop.readings import HOUR, Channel, read_hours, read_raw
from nestwright.workshop.sensors import calibrations_of, scale_of

__all__ = ["Course", "DayRow", "bridge_of", "by_day", "course"]

Array = NDArray[np.float64]
Moments = NDArray[np.int64]
MOST_RAW = 20_000
"""Readings up to which each is shown by itself: more cannot be told apart on a page."""


@dataclass(frozen=True)
class Course:
    """A channel from `start` on and before `end` (UTC ms), in its own unit.

    `by`: "reading" or "hour". `at`: moment of the reading, or begin of the hour, UTC ms (n,); `n` readings in it;
    `low`, `mean`, `high` (n,), equal for readings. `common`, `own`: standard uncertainties of the mean, (n,), nan for a
    quantity that is not calibrated. `gaps`: (from, to) UTC ms without readings. `calibrations` behind the correction;
    `raw`: not corrected, as asked.
    """

    channel: Channel
    by: str
    start: int
    end: int
    at: Moments
    n: Moments
    low: Array
    mean: Array
    high: Array
    common: Array
    own: Array
    gaps: tuple[tuple[int, int], ...]
    calibrations: int
    raw: bool

    @property
    def error(self) -> Array:
        return np.hypot(self.common, self.own)


@dataclass(frozen=True)
class DayRow:
    """One day on the workshop's clock: readings, hours with readings, least, mean over those hours, most."""

    day: date
    n: int
    hours: int
    low: float
    mean: float
    high: float


def bridge_of(at: Moments) -> float:
    """Longest time between two readings that is no gap, s: `bridge` of `data/sensors.toml`, or `gap_steps` usual
    steps of this logger where that is more (judgement)."""
    return max(
        sensor_value("settling", "bridge").value, sensor_value("settling", "gap_steps").value * usual_step(at[:100_000])
    )


def course(
    connection: Connection, channel: Channel, low: int, high: int, *, raw: bool = False, by: str | None = None
) -> Course:
    """Readings of a channel from `low` on and before `high`, UTC ms; `by` "reading", "hour", or as fits the span.

    Hours are those that lie in the span with any part. Raises InputError for a calibration that cannot be read.
    """
    hours = read_hours(connection, channel.id, low // HOUR * HOUR, high)
    by = by or ("reading" if int(hours.n.sum()) <= MOST_RAW else "hour")
    if by == "reading":
        series = read_raw(connection, channel.id, low, high)
        at, n, middle = series.at, np.ones(len(series.at), np.int64), series.at
        values = [series.value] * 3
        gaps = _gaps(at, at, low, high, bridge_of(at) * 1000)
    else:
        at, n = hours.hour * HOUR, hours.n
        middle = at + HOUR // 2
        values = [hours.low, hours.mean, hours.high]
        # an hour counts as whole when it has a reading: what is missing within it is told by the readings only
        gaps = _gaps(at, at + HOUR, low, high, max(1.0, bridge_of(at) * 1000 - HOUR) if _sparse(at) else 1.0)
    scale, made = scale_of(channel), []
    none = np.full(len(at), np.nan)
    common = own = none
    if scale is not None:
        made = [] if raw else [k.calibration for k in calibrations_of(connection, channel.id)]
        found = [correction(made, scale, middle, v) for v in (values if by == "hour" else values[:1])]
        values = [scale.shown(f.value) for f in found] if by == "hour" else [scale.shown(found[0].value)] * 3
        middling = found[len(found) // 2]
        common, own = scale.spread(middling.common), scale.spread(middling.own) / np.sqrt(n)
    least, mean, most = values
    return Course(channel, by, low, high, at, n, least, mean, most, common, own, gaps, len(made), raw)


def _sparse(at: Moments) -> bool:
    return usual_step(at) > HOUR / 1000


def _gaps(begin: Moments, end: Moments, low: int, high: int, bridge: float) -> tuple[tuple[int, int], ...]:
    """Where from the end of one reading to the next begin more than `bridge` ms pass, with both ends of the span."""
    if not len(begin):
        return ((low, high),) if high > low else ()
    left = np.concatenate([[min(low, int(begin[0]))], end])
    right = np.concatenate([begin, [max(high, int(end[-1]))]])
    wide = np.flatnonzero(right - left > bridge)
    return tuple((int(left[k]), int(right[k])) for k in wide)


def by_day(found: Course, zone: ZoneInfo) -> list[DayRow]:
    """Days of a course with readings. An hour belongs to the day in which it begins."""
    if not len(found.at):
        return []
    local = local_ms(found.at, zone)
    days, first, which = np.unique(local // DAY, return_index=True, return_inverse=True)
    edges = np.append(first, len(local))
    rows = []
    for k, day in enumerate(days.tolist()):
        here = slice(int(edges[k]), int(edges[k + 1]))
        if k and which[here.start] != k:  # a clock set back at midnight: days that interlock
            here = slice(int(np.flatnonzero(which == k)[0]), int(np.flatnonzero(which == k)[-1]) + 1)
        hours, hour_of = np.unique(found.at[here] // HOUR, return_inverse=True)
        mean = np.bincount(hour_of, found.mean[here] * found.n[here]) / np.bincount(hour_of, found.n[here])
        rows.append(
            DayRow(
                date(1970, 1, 1) + timedelta(days=day),
                int(found.n[here].sum()),
                len(hours),
                float(found.low[here].min()),
                float(mean.mean()),
                float(found.high[here].max()),
            )
        )
    return rows
