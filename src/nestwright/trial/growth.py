"""How fast one garden grew over a span of its record, with what the readings and the garden's own wander leave open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

__all__ = ["Growth", "garden_growth"]


@dataclass(frozen=True)
class Growth:
    """Mean growth `per_day` 1/d of the logarithm of a garden's volume, its standard `error`, over `days` and `seen`
    readings."""

    per_day: float
    error: float
    days: float
    seen: int


def garden_growth(
    day: Sequence[float],
    volume: Sequence[float],
    error: Sequence[float],
    wander: float,
    changes: Sequence[tuple[float, float]] = (),
) -> Growth | None:
    """Growth by generalised least squares of ln(volume) = a + b t + a random walk + the error of each reading.

    Parameters
    ----------
    day, volume, error : of each reading, d, mL, relative standard error; in the order of days.
    wander : of the random walk, 1/sqrt(d).
    changes : (day, mL) of garden added (above nought) or taken (below): what a keeper did is no growth. A change counts
        after the reading of its day, in proportion to the last volume that was read.

    None where fewer than two days have a reading of a garden, or where all of it was taken away.

    References
    ----------
    Aitken, A. C. (1936), On least squares and linear combinations of observations, doi:10.1017/S0370164600014346.

    Examples
    --------
    >>> found = garden_growth([0, 10, 20], [10.0, 20.0, 40.0], [0.1, 0.1, 0.1], 0.0)
    >>> round(found.per_day, 4)
    0.0693
    """
    t, v, e = (np.asarray(one, dtype=float) for one in (day, volume, error))
    kept = v > 0
    t, v, e = t[kept], v[kept], e[kept]
    if len(np.unique(t)) < 2:
        return None
    y = np.log(v)
    for when, amount in changes:
        before = np.flatnonzero(t <= when)
        if not len(before) or not (t > when).any():
            continue
        share = 1 + amount / v[before[-1]]
        if share <= 0:
            return None
        y[t > when] -= np.log(share)
    since = t - t[0]
    cov = wander**2 * np.minimum.outer(since, since) + np.diag(np.maximum(e, 1e-3) ** 2)
    form = np.column_stack([np.ones_like(since), since])
    weighed = np.linalg.solve(cov, form)
    spread = np.linalg.inv(form.T @ weighed)
    slope = (spread @ (weighed.T @ y))[1]
    return Growth(float(slope), float(np.sqrt(spread[1, 1])), float(since[-1]), len(t))
