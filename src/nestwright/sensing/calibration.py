"""What a sensor's reading is worth: a curve through reference points, and the reading corrected by it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.errors import InputError, nearest_name
from nestwright.sensing.line_fit import Fit, curve, line
from nestwright.sensing.reference_points import Point
from nestwright.sensing.sensor_values import QUANTITIES, sensor_value

__all__ = ["Calibration", "Corrected", "calibrate", "correct", "curve_and_error", "own_error", "shape_error"]

Array = NDArray[np.float64]

_DOUBT = 0.05
"""Chance below which points are held to contradict a straight line."""
_YEAR = 365.25


@dataclass(frozen=True)
class Calibration:
    """Curve reference = sum of coefficients[k] (raw - centre)^k of one sensor on one day, SI.

    `low`, `high`: range of raw readings that the points span. `chance`: of points that scatter more than these about a
    true curve with the stated errors; None where no freedom is left. `covariance` is widened by chi2 / freedom where
    that chance is below 0.05. `notes` say what the calibration rests on.
    """

    quantity: str
    when: date
    points: tuple[Point, ...]
    centre: float
    coefficients: tuple[float, ...]
    covariance: tuple[tuple[float, ...], ...]
    low: float
    high: float
    residuals: tuple[float, ...]
    chi2: float
    freedom: int
    chance: float | None
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "quantity": self.quantity,
            "when": self.when.isoformat(),
            "points": [p.to_dict() for p in self.points],
            "centre": self.centre,
            "coefficients": list(self.coefficients),
            "covariance": [list(row) for row in self.covariance],
            "range": [self.low, self.high],
            "residuals": list(self.residuals),
            "chi2": self.chi2,
            "freedom": self.freedom,
            "chance": self.chance,
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Corrected:
    """Corrected readings, shape of the raw ones.

    `error` is the standard uncertainty; `common` the part that all readings of the sensor share (curve, references,
    shape, drift), `own` the part that each has for itself. `outside` marks readings beyond the points.
    """

    value: Array
    error: Array
    common: Array
    own: Array
    outside: NDArray[np.bool_]


def calibrate(points: Sequence[Point], when: date, quantity: str = "relative_humidity") -> Calibration:
    """Curve through the points of one sensor.

    Parameters
    ----------
    points : one or more, SI. One gives an offset only, with the slope of a sensor as sold; two or more a straight line
        of least squares with errors in reference and reading; four or more a quadratic, where the straight line is
        contradicted by the points and the quadratic is not and rises throughout.
    when : day of the calibration.
    quantity : "relative_humidity" (0 to 1), "temperature" (K) or "co2" (mole fraction).

    Raises
    ------
    InputError : no point, an unknown quantity, points that all read the same, a line that does not rise.

    References
    ----------
    York et al. 2004 for the line (`line_fit`); JCGM 100:2008 for the uncertainty.
    """
    _known(quantity)
    if not points:
        raise InputError("a calibration needs at least one point", field="points", found="none")
    raw = np.array([p.raw for p in points])
    reference = np.array([p.reference for p in points])
    raw_error = np.array([p.raw_error for p in points])
    reference_error = np.array([p.reference_error for p in points])
    notes = []
    if len(points) == 1:
        gain = sensor_value(quantity, "gain").value
        level = float(raw_error[0] ** 2 + reference_error[0] ** 2)
        fit = Fit(float(raw[0]), np.array([reference[0], 1.0]), np.diag([level, gain**2]), np.zeros(1), 0.0, 0)
        notes.append("one point: an offset only; its slope is that of a sensor as sold (judgement)")
    else:
        if np.ptp(raw) == 0:
            raise InputError("points at one and the same reading tell no line", field="raw", found=f"{raw[0]:g}")
        fit = line(raw, reference, raw_error, reference_error)
        if fit.coefficients[1] <= 0:
            raise InputError(
                "the sensor reads less where the reference is more: points mixed up?",
                field="points",
                found=", ".join(f"{p.label or p.reference}: {p.raw:g}" for p in points),
            )
        if len(points) == 2:
            notes.append("two points: the line meets both, so they cannot contradict it")
        bent = _bent(fit, raw, reference, raw_error, reference_error)
        if bent is not None:
            fit = bent
            notes.append("a quadratic: the points contradict a straight line")
    chance = _chance(fit)
    covariance = fit.covariance
    if chance is not None and chance < _DOUBT:
        covariance = covariance * (fit.chi2 / fit.freedom)
        notes.append("the points scatter more than their errors say: uncertainty widened by as much")
    return Calibration(
        quantity=quantity,
        when=when,
        points=tuple(points),
        centre=fit.centre,
        coefficients=tuple(float(c) for c in fit.coefficients),
        covariance=tuple(tuple(float(c) for c in row) for row in covariance),
        low=float(raw.min()),
        high=float(raw.max()),
        residuals=tuple(float(r) for r in fit.residuals),
        chi2=fit.chi2,
        freedom=fit.freedom,
        chance=chance,
        notes=tuple(notes),
    )


def correct(calibration: Calibration, raw: ArrayLike, when: date | None = None) -> Corrected:
    """Readings corrected by one calibration, with their uncertainty.

    Parameters
    ----------
    calibration : of the sensor.
    raw : readings, SI, any shape.
    when : day of the readings; drift since the calibration is uncertain, so error grows with the days between, before
        as after it. None: the day of the calibration. Several calibrations: see `drift.correct_over`.

    Returns
    -------
    Corrected. Its error has the covariance of the curve (errors of references and of the readings at them), the
    sensor's stray from the curve, more beyond the points, drift, and the scatter of one reading; all but the first
    from `data/sensors.toml` (judgement).
    """
    raw = np.asarray(raw, dtype=float)
    value, fitted = curve_and_error(calibration, raw)
    years = abs((when - calibration.when).days) / _YEAR if when is not None else 0.0
    drift, wander, turn = (sensor_value(calibration.quantity, name).value for name in ("drift", "wander", "gain_drift"))
    moved = (drift * years) ** 2 + wander**2 * years + (turn * years * (raw - calibration.centre)) ** 2
    shape, outside = shape_error(calibration, raw)
    common = np.sqrt(fitted**2 + shape**2 + moved)
    own = np.full(raw.shape, own_error(calibration))
    return Corrected(value, np.hypot(common, own), common, own, outside)


def curve_and_error(calibration: Calibration, raw: ArrayLike) -> tuple[Array, Array]:
    """The curve at raw readings and its standard error from the errors of the points alone."""
    d = np.asarray(raw, dtype=float) - calibration.centre
    value = np.polynomial.polynomial.polyval(d, calibration.coefficients)
    variance = np.zeros_like(d)
    for i, row in enumerate(calibration.covariance):
        for j, c in enumerate(row):
            variance = variance + c * d ** (i + j)
    return np.asarray(value), np.sqrt(np.maximum(variance, 0.0))


def shape_error(calibration: Calibration, raw: ArrayLike) -> tuple[Array, NDArray[np.bool_]]:
    """Standard uncertainty of the sensor's stray from the curve, and which readings lie beyond the points."""
    raw = np.asarray(raw, dtype=float)
    stray, beyond = (sensor_value(calibration.quantity, name).value for name in ("nonlinearity", "beyond"))
    distance = np.maximum(np.maximum(calibration.low - raw, raw - calibration.high), 0.0)
    return np.hypot(stray, beyond * distance), distance > 0


def own_error(calibration: Calibration) -> float:
    """Standard uncertainty of one reading for itself, in the reference's scale."""
    return sensor_value(calibration.quantity, "repeatability").value * abs(calibration.coefficients[1])


def _known(quantity: str) -> None:
    if quantity not in QUANTITIES:
        raise InputError(
            "no such quantity of a sensor",
            field="quantity",
            found=repr(quantity),
            allowed=", ".join(QUANTITIES),
            nearest=nearest_name(quantity, QUANTITIES),
        )


def _chance(fit: Fit) -> float | None:
    if fit.freedom == 0:
        return None
    from scipy.special import gammaincc

    return float(gammaincc(fit.freedom / 2, fit.chi2 / 2))


def _bent(fit: Fit, raw: Array, reference: Array, raw_error: Array, reference_error: Array) -> Fit | None:
    """The quadratic, where the points ask for it."""
    chance = _chance(fit)
    if len(raw) < 4 or len(np.unique(raw)) < 4 or chance is None or chance >= _DOUBT:
        return None
    bent = curve(raw, reference, raw_error, reference_error)
    at_ends = bent.coefficients[1] + 2 * bent.coefficients[2] * (np.array([raw.min(), raw.max()]) - bent.centre)
    better = _chance(bent)
    strong = abs(bent.coefficients[2]) > 2 * math.sqrt(bent.covariance[2, 2])
    return bent if better is not None and better >= _DOUBT and strong and np.all(at_ends > 0) else None
