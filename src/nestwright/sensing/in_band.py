"""Hours that readings spend in a band and beyond it, with what is not known counted as not known."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.errors import InputError
from nestwright.intervals import EIGHT_IN_TEN
from nestwright.sensing.crossings import sums_above
from nestwright.sensing.episodes import Episode, Spells, spells_above

__all__ = ["TimeInBand", "chance_inside", "time_in_band", "wet_hours"]

Array = NDArray[np.float64]

_BAND = (0.1, 0.5, 0.9)
_ENDS = (-EIGHT_IN_TEN, 0.0, EIGHT_IN_TEN)
"""Common errors, in standard errors, that give 10, 50 and 90 % of what moves one way with them."""
_NODES = (-2.0, -EIGHT_IN_TEN, -0.6, 0.0, 0.6, EIGHT_IN_TEN, 2.0)
"""Common errors at which the hours between two limits, which do not move one way, are computed."""

Range = tuple[float, float, float]


@dataclass(frozen=True)
class TimeInBand:
    """Hours of a span by where the value was; areas in unit of the value times hours.

    hours = known + unknown, known = inside + above + below: by the corrected readings as they stand. The ranges are
    10, 50 and 90 % over what the errors leave open, within the known hours. `episodes`: the worst ones by area.
    `longest`: the longest one.
    """

    low: float | None
    high: float | None
    hours: float
    known: float
    unknown: float
    longest_gap: float
    inside: float
    above: float
    below: float
    excess: float
    deficit: float
    inside_range: Range
    above_range: Range
    below_range: Range
    excess_range: Range
    deficit_range: Range
    episode_count: int
    episodes: tuple[Episode, ...]
    longest: Episode | None

    @property
    def inside_bounds(self) -> tuple[float, float]:
        """Hours inside if none, and if all, of the unknown hours were inside."""
        return self.inside, self.inside + self.unknown

    def to_dict(self) -> dict[str, Any]:
        names = ("low", "high", "hours", "known", "unknown", "longest_gap", "inside", "above", "below")
        found: dict[str, Any] = {name: getattr(self, name) for name in (*names, "excess", "deficit", "episode_count")}
        for name in ("inside_range", "above_range", "below_range", "excess_range", "deficit_range", "inside_bounds"):
            found[name] = list(getattr(self, name))
        found["episodes"] = [e.to_dict() for e in self.episodes]
        found["longest"] = self.longest.to_dict() if self.longest else None
        return found


def chance_inside(value: ArrayLike, error: ArrayLike, low: float | None, high: float | None) -> Array:
    """Chance that each value, with its standard uncertainty (normal), lies from `low` to `high`; either may be None."""
    from scipy.special import ndtr

    value, error = np.broadcast_arrays(np.asarray(value, dtype=float), np.asarray(error, dtype=float))
    safe = np.where(error > 0, error, 1.0)

    def under(limit: float, at_limit: bool) -> Array:
        sure = value <= limit if at_limit else value < limit
        return np.asarray(np.where(error > 0, ndtr((limit - value) / safe), sure))

    top = under(high, True) if high is not None else np.ones(value.shape)
    bottom = under(low, False) if low is not None else np.zeros(value.shape)
    return np.asarray(np.where(np.isfinite(value), top - bottom, np.nan))


def time_in_band(
    time_s: ArrayLike,
    value: ArrayLike,
    low: float | None,
    high: float | None,
    bridge: float,
    *,
    common: ArrayLike = 0.0,
    own: ArrayLike = 0.0,
    start: float | None = None,
    end: float | None = None,
    worst: int = 5,
) -> TimeInBand:
    """Hours inside, above and below a band, areas beyond it and the worst spells.

    Parameters
    ----------
    time_s : s, rising, shape (n,).
    value : corrected readings, SI, shape (n,); not-a-number is a reading that is missing.
    low, high : the band, in the unit of `value`; either may be None, not both. The limits are inside.
    bridge : longest time between two readings over which a straight line is drawn, s. A longer one is unknown.
    common : standard uncertainty that all readings share, wholly correlated (`Corrected.common`), scalar or (n,).
    own : standard uncertainty of each reading for itself (`Corrected.own`), scalar or (n,).
    start, end : span to be told of, s, if longer than the readings: what they do not reach is unknown.
    worst : how many spells are kept.

    Returns
    -------
    TimeInBand.

    Raises
    ------
    InputError : times that do not rise, lengths that differ, no band or an empty one, `bridge` or an error that is not
        usable, a span within the readings.

    Notes
    -----
    Between readings the value is a straight line; crossings are exact. For the ranges every reading is shifted by the
    same number of its common errors, at three or seven such numbers, with the expected share over its own error. Above
    and below move one way with the shift, so their 10 and 90 % are exact; the hours inside two limits are those of the
    shifts in between, weighted as a normal distribution. Own errors are independent from reading to reading: what they
    add to the spread is the sum of their variances.
    """
    t, v, common_error, own_error = _checked(time_s, value, low, high, bridge, common, own)
    begin, finish = _span(t, start, end)
    hours = (finish - begin) / 3600
    kept = np.isfinite(v)
    t, v, common_error, own_error = t[kept], v[kept], common_error[kept], own_error[kept]
    step = np.diff(t)
    known = step <= bridge
    weight = np.where(known, step, 0.0) / 3600
    known_hours = float(weight.sum())
    edges = np.array([t[0] - begin, finish - t[-1]]) if len(t) else np.array([finish - begin])
    gap = max(float(edges.max()), float(step[~known].max(initial=0.0))) / 3600

    shifts: tuple[float, ...] = _ENDS if low is None or high is None else _NODES
    if not np.any(common_error != 0):
        shifts = (0.0,)
    sides = {}
    spells: list[Spells] = []
    # each limit is looked at from its far side, so that beyond it is above 0
    for side, limit, sign in (("above", high, 1.0), ("below", low, -1.0)):
        if limit is None:
            sides[side] = _none(len(shifts))
            continue
        beyond = sign * (v - limit)
        sides[side] = _side(beyond, weight, sign * common_error, own_error, shifts)
        spells.append(spells_above(t, beyond, known, side))
    above, below = sides["above"], sides["below"]
    inside_nodes = known_hours - above.time_nodes - below.time_nodes
    inside_spread = float(np.hypot(above.time_spread, below.time_spread))
    worst_ones = sorted((e for s in spells for e in s.worst(worst)), key=lambda e: (-e.area, e.start))
    return TimeInBand(
        low=low,
        high=high,
        hours=hours,
        known=known_hours,
        unknown=max(hours - known_hours, 0.0),
        longest_gap=gap,
        inside=min(max(known_hours - above.time - below.time, 0.0), known_hours),
        above=above.time,
        below=below.time,
        excess=above.area,
        deficit=below.area,
        inside_range=_range(shifts, inside_nodes, inside_spread, known_hours),
        above_range=_range(shifts, above.time_nodes, above.time_spread, known_hours),
        below_range=_range(shifts, below.time_nodes, below.time_spread, known_hours),
        excess_range=_range(shifts, above.area_nodes, above.area_spread, np.inf),
        deficit_range=_range(shifts, below.area_nodes, below.area_spread, np.inf),
        episode_count=sum(len(s.start) for s in spells),
        episodes=tuple(worst_ones[:worst]),
        longest=max((e for s in spells for e in s.longest()), key=lambda e: e.hours, default=None),
    )


def wet_hours(
    time_s: ArrayLike,
    relative_humidity: ArrayLike,
    wet: float,
    bridge: float,
    *,
    common: ArrayLike = 0.0,
    own: ArrayLike = 0.0,
) -> tuple[float, Range]:
    """Hours at or above the relative humidity `wet`, and their 10, 50 and 90 %.

    Parameters and errors as for `time_in_band`; a sensor that stands at `wet` itself counts as wet. Near saturation a
    sensor's error is as large as what is asked for: the range says so.
    """
    found = time_in_band(time_s, relative_humidity, wet, None, bridge, common=common, own=own, worst=0)
    return found.inside, found.inside_range


@dataclass(frozen=True)
class _Side:
    time: float
    area: float
    time_nodes: Array
    area_nodes: Array
    time_spread: float
    area_spread: float


def _none(count: int) -> _Side:
    return _Side(0.0, 0.0, np.zeros(count), np.zeros(count), 0.0, 0.0)


def _side(beyond: Array, weight: Array, common: Array, own: Array, shifts: tuple[float, ...]) -> _Side:
    """Hours and area beyond one limit, as the readings stand and at each common error."""
    none = np.zeros(1)
    time, area = (float(x[0]) for x in sums_above(beyond, weight, np.zeros_like(beyond), np.zeros_like(beyond), (0.0,)))
    noisy = bool(np.any(own > 0))
    if noisy or len(shifts) > 1:
        times, areas = sums_above(beyond, weight, common, own, shifts)
    else:
        times, areas = np.full(1, time), np.full(1, area)
    if not noisy:
        return _Side(time, area, times, areas, 0.0, 0.0)
    # a reading's error moves the segments on both sides of it: half a segment each
    reach = (np.concatenate([none, weight]) + np.concatenate([weight, none])) / 2
    over = chance_inside(beyond, own, 0.0, None)
    time_spread = float(np.sqrt(np.sum(reach**2 * over * (1 - over))))
    area_spread = float(np.sqrt(np.sum((reach * own) ** 2 * over)))
    return _Side(time, area, times, areas, time_spread, area_spread)


def _range(shifts: tuple[float, ...], nodes: Array, spread: float, most: float) -> Range:
    """10, 50, 90 % of a figure told at common errors, widened by an independent spread."""
    from scipy.special import ndtri

    rising = bool(np.all(np.diff(nodes) >= 0) or np.all(np.diff(nodes) <= 0))
    if rising:
        at = _ENDS if len(shifts) > 1 else (0.0, 0.0, 0.0)
        low, middle, high = sorted(float(nodes[shifts.index(z)]) for z in at)
    else:
        found = np.interp(ndtri((np.arange(2000) + 0.5) / 2000), shifts, nodes)
        low, middle, high = (float(x) for x in np.quantile(found, _BAND))
    low = middle - float(np.hypot(middle - low, EIGHT_IN_TEN * spread))
    high = middle + float(np.hypot(high - middle, EIGHT_IN_TEN * spread))
    return min(max(low, 0.0), most), min(max(middle, 0.0), most), min(max(high, 0.0), most)


def _span(t: Array, start: float | None, end: float | None) -> tuple[float, float]:
    if not len(t) and (start is None or end is None):
        raise InputError("no readings: say from when to when", field="time_s", found="none")
    begin = float(t[0]) if start is None else start
    finish = float(t[-1]) if end is None else end
    if begin > finish or (len(t) and (begin > t[0] or finish < t[-1])):
        raise InputError("the span must hold all readings", field="start", found=f"{begin:g} to {finish:g}")
    return begin, finish


def _checked(
    time_s: ArrayLike,
    value: ArrayLike,
    low: float | None,
    high: float | None,
    bridge: float,
    common: ArrayLike,
    own: ArrayLike,
) -> tuple[Array, Array, Array, Array]:
    t, v = np.asarray(time_s, dtype=float), np.asarray(value, dtype=float)
    if t.ndim != 1 or t.shape != v.shape:
        raise InputError("times and values differ in number", field="value", found=f"{t.size} and {v.size}")
    if not np.all(np.isfinite(t)) or not np.all(np.diff(t) > 0):
        raise InputError("times must rise", field="time_s")
    if low is None and high is None:
        raise InputError("a band needs a low or a high limit", field="low", found="none")
    if low is not None and high is not None and not low <= high:
        raise InputError("the low limit is above the high one", field="low", found=f"{low:g} to {high:g}")
    if not bridge > 0:
        raise InputError("must be above 0", field="bridge", found=str(bridge))
    errors = []
    for name, error in (("common", common), ("own", own)):
        e = np.asarray(error, dtype=float)
        if e.shape not in ((), v.shape):
            raise InputError("one error, or one for each reading", field=name, found=f"{e.size}")
        e = np.broadcast_to(e, v.shape)
        if np.any(e[np.isfinite(v)] < 0) or not np.all(np.isfinite(e[np.isfinite(v)])):
            raise InputError("an error must be a number not below 0", field=name)
        errors.append(e)
    return t, v, errors[0], errors[1]
