"""Time and area that a line of readings spends above a limit, exactly or with an error on each reading."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["share_above", "sums_above"]

Array = NDArray[np.float64]

_FAR = 6.0
"""Errors beyond which a reading is on its side of the limit for sure (1e-9)."""
_SHORT = 1e-4
_PIECE = 1 << 14
_ROOT = math.sqrt(2 * math.pi)


def share_above(start: Array, end: Array, *, at_limit: bool) -> tuple[Array, Array]:
    """Share of straight segments above 0, and the mean of what is above 0.

    Parameters
    ----------
    start, end : value less limit at both ends, shape (n,).
    at_limit : whether a segment that lies on the limit counts as above.

    Returns
    -------
    share (0 to 1) and mean excess over the segment (unit of the value), shape (n,).
    """
    high, low = np.maximum(start, end), np.minimum(start, end)
    rise = high - low
    flat = (high >= 0 if at_limit else high > 0).astype(float)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(low >= 0, np.where(rise > 0, 1.0, flat), np.where(high <= 0, 0.0, high / rise))
    # a triangle where the line crosses, else the mean of both ends
    area = np.where(low >= 0, (start + end) / 2, share * np.maximum(high, 0.0) / 2)
    return share, area


def sums_above(
    beyond: Array, weight: Array, common: Array, own: Array, shifts: tuple[float, ...]
) -> tuple[Array, Array]:
    """Expected time and area above 0, with all readings shifted by so many of their common errors.

    Parameters
    ----------
    beyond : value less limit, shape (n,).
    weight : duration of each segment between readings, 0 where nothing is known, shape (n - 1,).
    common, own : standard errors that all readings share and that each has for itself (normal), shape (n,).
    shifts : numbers of common errors, m of them.

    Returns
    -------
    times and areas, shape (m,), in the unit of `weight` and that times the unit of the value.

    Notes
    -----
    With z = value / own error straight along a segment, its share above is the mean of Phi over it; the integral of
    Phi is z Phi + phi, and that of z Phi + phi is (z (z Phi + phi) + Phi) / 2. Without own errors the crossing is
    exact. Worked off in pieces that stay close to the processor.
    """
    from scipy.special import ndtr

    times, areas = np.zeros(len(shifts)), np.zeros(len(shifts))
    noisy = bool(np.any(own > 0))
    # readings without an error among such with one: small against theirs, so that nothing is divided by zero
    least = 1e-6 * float(own.max(initial=0.0))
    for first in range(0, len(weight), _PIECE):
        here = slice(first, min(first + _PIECE, len(weight)) + 1)
        w = weight[first : first + _PIECE]
        for k, shift in enumerate(shifts):
            moved = beyond[here] + shift * common[here]
            error = np.maximum(own[here], least)
            if not noisy or np.min(np.abs(moved) - _FAR * error) > 0:
                share, area = share_above(moved[:-1], moved[1:], at_limit=False)
            else:
                z = moved / error
                p = ndtr(z)
                once = z * p + np.exp(-0.5 * z * z) / _ROOT
                step = np.diff(z)
                # a short step loses its digits in the difference: the mean of both ends is as good there
                short = np.abs(step) < _SHORT
                step[short] = 1.0
                twice = (z * once + p) / 2
                share = np.where(short, (p[1:] + p[:-1]) / 2, np.diff(once) / step)
                area = np.where(short, (once[1:] + once[:-1]) / 2, np.diff(twice) / step) * (error[1:] + error[:-1]) / 2
            # sums rather than dot products: these would wake threads for each piece
            times[k] += np.sum(share * w)
            areas[k] += np.sum(area * w)
    return times, areas
