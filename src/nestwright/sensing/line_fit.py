"""Curves through points with errors in both directions."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Fit", "curve", "line"]

Array = NDArray[np.float64]

_ROUNDS = 200


@dataclass(frozen=True)
class Fit:
    """y = sum of coefficients[k] (x - centre)^k; covariance of the coefficients; chi2 with `freedom` degrees."""

    centre: float
    coefficients: Array
    covariance: Array
    residuals: Array
    chi2: float
    freedom: int


def _points(x: ArrayLike, y: ArrayLike, x_error: ArrayLike, y_error: ArrayLike) -> tuple[Array, Array, Array, Array]:
    x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    return x, y, np.broadcast_to(np.square(x_error), x.shape), np.broadcast_to(np.square(y_error), y.shape)


def line(x: ArrayLike, y: ArrayLike, x_error: ArrayLike, y_error: ArrayLike) -> Fit:
    """Straight line of least squares, each point weighted by its errors in x and in y.

    Parameters
    ----------
    x, y : at least two points with different x, shape (n,).
    x_error, y_error : standard errors, independent of each other, shape (n,) or one for all; one of a pair may be 0.

    Returns
    -------
    Fit with two coefficients. Its covariance is that of the stated errors, not widened by the scatter.

    References
    ----------
    York, Evensen, Lopez Martinez, De Basabe Delgado 2004, Am. J. Phys. 72:367, 10.1119/1.1632486, with no correlation.
    """
    x, y, vx, vy = _points(x, y, x_error, y_error)
    # a scale for the slope that no point's error can spoil: the plain line through all
    slope = float(np.polyfit(x - x.mean(), y, 1)[0])
    for _ in range(_ROUNDS):
        w = 1 / (vy + slope**2 * vx)
        x0, y0 = np.average(x, weights=w), np.average(y, weights=w)
        u, v = x - x0, y - y0
        beta = w * (u * vy + slope * v * vx)
        before, slope = slope, float(np.sum(w * beta * v) / np.sum(w * beta * u))
        if abs(slope - before) <= 1e-14 * abs(slope):
            break
    w = 1 / (vy + slope**2 * vx)
    x0, y0 = np.average(x, weights=w), np.average(y, weights=w)
    beta = w * ((x - x0) * vy + slope * (y - y0) * vx)
    adjusted = x0 + beta
    mean = np.average(adjusted, weights=w)
    slope_var = 1 / np.sum(w * (adjusted - mean) ** 2)
    # about the mean of the adjusted points, level and slope are independent
    level = y0 + slope * (mean - x0)
    residuals = y - level - slope * (x - mean)
    covariance = np.diag([1 / np.sum(w), slope_var])
    chi2 = float(np.sum(w * residuals**2))
    return Fit(float(mean), np.array([level, slope]), covariance, residuals, chi2, len(x) - 2)


def curve(x: ArrayLike, y: ArrayLike, x_error: ArrayLike, y_error: ArrayLike) -> Fit:
    """Quadratic of least squares through at least three points; parameters and returns as for `line`.

    Errors in x are carried over by the slope of the curve where they stand (effective variance: Orear 1982,
    Am. J. Phys. 50:912), anew each round until the weights stand still.
    """
    x, y, vx, vy = _points(x, y, x_error, y_error)
    start = line(x, y, np.sqrt(vx), np.sqrt(vy))
    centre = start.centre
    matrix = np.stack([np.ones_like(x), x - centre, (x - centre) ** 2], axis=1)
    found = np.array([*start.coefficients, 0.0])
    covariance = np.zeros((3, 3))
    for _ in range(_ROUNDS):
        w = 1 / (vy + (found[1] + 2 * found[2] * (x - centre)) ** 2 * vx)
        covariance = np.linalg.inv(matrix.T @ (w[:, None] * matrix))
        before, found = found, covariance @ (matrix.T @ (w * y))
        if np.all(np.abs(found - before) <= 1e-12 * (np.abs(found) + np.sqrt(np.diag(covariance)))):
            break
    residuals = y - matrix @ found
    return Fit(centre, found, covariance, residuals, float(np.sum(w * residuals**2)), len(x) - 3)
