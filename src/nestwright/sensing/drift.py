"""How a sensor moves from one calibration to the next, and when the next one is due."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.errors import InputError
from nestwright.intervals import EIGHT_IN_TEN
from nestwright.sensing.calibration import Calibration, Corrected, own_error, shape_error
from nestwright.sensing.sensor_values import sensor_value

__all__ = ["DriftRate", "Due", "correct_over", "drift_rate", "due"]

Array = NDArray[np.float64]

_YEAR = 365.25
_UNSEEN = 30.0
"""Spread of what nothing is known of beforehand, in multiples of a typical one."""
_LONGEST = 10 * 365


@dataclass(frozen=True)
class DriftRate:
    """Change of the correction (reference minus reading) at the reading `level`, per year: middle, 10 and 90 %."""

    level: float
    per_year: float
    low: float
    high: float
    calibrations: int

    def to_dict(self) -> dict[str, Any]:
        return {
            "level": self.level,
            "per_year": self.per_year,
            "low": self.low,
            "high": self.high,
            "calibrations": self.calibrations,
        }


@dataclass(frozen=True)
class Due:
    """Day from which the wanted uncertainty is no longer held; None where that is more than ten years off."""

    day: date | None
    now: float
    """standard uncertainty on the day of the last calibration"""
    reason: str

    def to_dict(self) -> dict[str, Any]:
        return {"day": self.day.isoformat() if self.day else None, "now": self.now, "reason": self.reason}


@dataclass(frozen=True)
class _Course:
    """Offset and slope of the correction about `centre` at m times, mean (m, 2), covariance (m, 2, 2); their rate."""

    centre: float
    mean: Array
    covariance: Array
    rate: Array
    rate_covariance: Array


def _in_order(calibrations: Sequence[Calibration]) -> list[Calibration]:
    if not calibrations:
        raise InputError("no calibration of this sensor", field="calibrations", found="none")
    quantities = {c.quantity for c in calibrations}
    if len(quantities) > 1:
        raise InputError("calibrations of different quantities", field="quantity", found=", ".join(sorted(quantities)))
    return sorted(calibrations, key=lambda c: c.when)


def _shifted(calibration: Calibration, centre: float) -> tuple[Array, Array]:
    """Coefficients of curve minus reading about another centre, three of them, and their covariance."""
    d = centre - calibration.centre
    turn = np.array([[1.0, d, d * d], [0.0, 1.0, 2 * d], [0.0, 0.0, 1.0]])
    k = len(calibration.coefficients)
    coefficients, covariance = np.zeros(3), np.zeros((3, 3))
    coefficients[:k] = calibration.coefficients
    covariance[:k, :k] = calibration.covariance
    if len(calibration.points) == 1:
        # its slope is no observation but what is supposed beforehand; several such must not add up to knowledge
        covariance[1, 1] *= _UNSEEN**2
    # f(x) - x about the centre, where x = centre + 1 (x - centre)
    return turn @ coefficients - np.array([centre, 1.0, 0.0]), turn @ covariance @ turn.T


def _centre(ordered: Sequence[Calibration]) -> float:
    return float(np.mean([p.raw for c in ordered for p in c.points]))


def _course(ordered: Sequence[Calibration], years: Array) -> _Course:
    """The correction `years` after the first calibration: vague start, steady rate, and wander (Brownian motion)."""
    quantity, centre = ordered[0].quantity, _centre(ordered)
    drift, wander, turn, gain = (
        sensor_value(quantity, name).value for name in ("drift", "wander", "gain_drift", "gain")
    )
    # variances of start, steady rate and wander, for offset and slope
    rate = np.array([drift**2, turn**2])
    loose = np.array([wander**2, (turn * wander / drift) ** 2])
    seen_slope = any(len(c.points) > 1 for c in ordered)
    start = np.array([(_UNSEEN * drift) ** 2, (_UNSEEN * gain if seen_slope else gain) ** 2])
    at = np.array([(c.when - ordered[0].when).days / _YEAR for c in ordered])
    seen = [_shifted(c, centre) for c in ordered]
    values = np.concatenate([v[:2] for v, _ in seen])
    n = len(ordered)

    def kernel(a: Array, b: Array) -> Array:
        """Covariance of the state at times a and b, shape (len(a), 2, 2 len(b))."""
        same_side = a[:, None] * b[None] > 0
        both = np.where(same_side, np.minimum(np.abs(a)[:, None], np.abs(b)[None]), 0.0)
        parts = start + rate * (a[:, None] * b[None])[..., None] + loose * both[..., None]
        return (parts[..., None] * np.eye(2)).transpose(0, 2, 1, 3).reshape(len(a), 2, 2 * len(b))

    total = kernel(at, at).reshape(2 * n, 2 * n)
    for i, (_, covariance) in enumerate(seen):
        total[2 * i : 2 * i + 2, 2 * i : 2 * i + 2] += covariance[:2, :2]
    inverse = np.linalg.inv(total)
    cross = kernel(years, at)
    own = (start + rate * years[:, None] ** 2 + loose * np.abs(years)[:, None])[..., None] * np.eye(2)
    rate_cross = (at[:, None, None] * np.diag(rate)).transpose(1, 0, 2).reshape(2, 2 * n)
    return _Course(
        centre,
        cross @ inverse @ values,
        own - cross @ inverse @ cross.transpose(0, 2, 1),
        rate_cross @ inverse @ values,
        np.diag(rate) - rate_cross @ inverse @ rate_cross.T,
    )


def correct_over(calibrations: Sequence[Calibration], time_s: ArrayLike, raw: ArrayLike) -> Corrected:
    """Readings corrected by all calibrations of the sensor: between two of them by both.

    Parameters
    ----------
    calibrations : of one sensor and one quantity, any order.
    time_s : seconds since 1970-01-01 UTC, shape (n,); a calibration counts for noon of its day.
    raw : readings, SI, shape (n,).

    Returns
    -------
    Corrected. Before the first and after the last calibration the steady rate that they show is carried on, drawn
    toward none where they show little, and the uncertainty grows.

    Raises
    ------
    InputError : no calibration, calibrations of different quantities, times and readings of different number, a time
        that is none.

    Notes
    -----
    Offset and slope of the correction are a steady rate and a Brownian motion with the spreads `drift`, `gain_drift`
    and `wander` of `data/sensors.toml` (judgement); the calibrations are observations of them (Rasmussen and Williams
    2006, Gaussian Processes for Machine Learning, eq. 2.23 and 2.24). Evaluated once a day, straight in between.
    """
    ordered = _in_order(calibrations)
    time_s, raw = np.asarray(time_s, dtype=float), np.asarray(raw, dtype=float)
    if time_s.shape != raw.shape:
        raise InputError("times and readings differ in number", field="raw", found=f"{time_s.size} and {raw.size}")
    if not raw.size:
        empty = np.empty(raw.shape)
        return Corrected(empty, empty, empty, empty, np.zeros(raw.shape, bool))
    if not np.all(np.isfinite(time_s)):
        raise InputError("a time is not a number", field="time_s")
    days = (time_s - _noon(ordered[0].when)) / 86400
    # only days on which there are readings: a clock that jumped to another century costs two of them
    seen_days = np.unique(np.floor(days))
    known = np.array([float((c.when - ordered[0].when).days) for c in ordered])
    grid = np.unique(np.concatenate([seen_days, seen_days + 1, known]))
    course = _course(ordered, grid / _YEAR)
    d = raw - course.centre
    value, variance = raw.copy(), np.zeros_like(raw)
    for i in range(2):
        value += np.interp(days, grid, course.mean[:, i]) * d**i
        for j in range(2):
            variance += np.interp(days, grid, course.covariance[:, i, j]) * d ** (i + j)
    seen = [_shifted(c, course.centre) for c in ordered]
    if any(np.any(v[2]) for v, _ in seen):
        # the bend does not move of itself: in a straight line from one calibration to the next
        value += np.interp(days, known, [v[2] for v, _ in seen]) * d**2
        for i, times in ((0, 2), (1, 2), (2, 1)):
            variance += times * np.interp(days, known, [c[i, 2] for _, c in seen]) * d ** (i + 2)
    widest = _widest(ordered)
    shape, outside = shape_error(widest, raw)
    common = np.sqrt(np.maximum(variance, 0.0) + shape**2)
    own = np.full(raw.shape, own_error(ordered[-1]))
    return Corrected(value, np.hypot(common, own), common, own, outside)


def _noon(day: date) -> float:
    return datetime(day.year, day.month, day.day, 12, tzinfo=UTC).timestamp()


def _widest(ordered: Sequence[Calibration]) -> Calibration:
    return max(ordered, key=lambda c: c.high - c.low)


def drift_rate(calibrations: Sequence[Calibration], level: float) -> DriftRate:
    """Drift of the correction at a reading, per year, with its 80 % interval.

    Before calibrations tell, it is none, give or take that of a typical sensor (`drift` of `data/sensors.toml`,
    judgement). Raises InputError as `correct_over`.
    """
    ordered = _in_order(calibrations)
    course = _course(ordered, np.zeros(1))
    basis = (level - course.centre) ** np.arange(2)
    rate = float(basis @ course.rate)
    spread = EIGHT_IN_TEN * math.sqrt(max(float(basis @ course.rate_covariance @ basis), 0.0))
    return DriftRate(level, rate, rate - spread, rate + spread, len(ordered))


def due(calibrations: Sequence[Calibration], wanted_uncertainty: float, level: float) -> Due:
    """Day from which a reading at `level` is less certain than wanted.

    Parameters
    ----------
    calibrations : of one sensor and one quantity.
    wanted_uncertainty : standard uncertainty of a corrected reading, its own scatter included, SI.
    level : raw reading that matters, SI: for a garden that stays near saturation, 0.98 rather than 0.5.

    Raises
    ------
    InputError : as `correct_over`; `wanted_uncertainty` not above 0.
    """
    if not wanted_uncertainty > 0:
        raise InputError("must be above 0", field="wanted_uncertainty", found=str(wanted_uncertainty))
    ordered = _in_order(calibrations)
    last = ordered[-1].when
    days = np.arange(_LONGEST + 1)
    error = correct_over(ordered, _noon(last) + 86400.0 * days, np.full(len(days), level)).error
    late = np.flatnonzero(error > wanted_uncertainty)
    now = float(error[0])
    if not len(late):
        return Due(None, now, "drift stays below the wanted uncertainty for ten years")
    if late[0] == 0:
        shape, outside = shape_error(_widest(ordered), np.array(level))
        if float(np.hypot(shape, own_error(ordered[-1]))) > wanted_uncertainty:
            where = "so far beyond its points" if outside else "between its points"
            reason = f"a sensor of this kind strays more than that {where}: no calibration at these points will do"
        else:
            reason = "the references are less certain than that: better or more points are needed"
        return Due(last, now, reason)
    return Due(
        last + timedelta(days=int(late[0])), now, "drift since the last calibration, as far as it is known, reaches it"
    )
