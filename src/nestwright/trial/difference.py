"""Whether one revision did better than another, from one figure with its error for each colony.

The colonies of a revision scatter about its mean by a spread that both revisions share and that few colonies tell
badly: it is not put at its best value but integrated over, so that two colonies are never taken for evidence of much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Difference", "Says", "colonies_needed", "differ"]

Array = NDArray[np.float64]
Says = Literal["better", "worse", "cannot be told"]
_GRID = 400


@dataclass(frozen=True)
class Difference:
    """Later less earlier revision: `middle` with the 80 % interval `low` to `high`; `chance` that the later one has the
    larger mean; `spread` between colonies of one revision, median; `first`, `second`: mean and standard deviation of
    each revision's mean; `colonies` of each."""

    middle: float
    low: float
    high: float
    chance: float
    spread: float
    first: tuple[float, float]
    second: tuple[float, float]
    colonies: tuple[int, int]

    def says(self, sure: float) -> Says:
        """`sure`: the chance from which on it counts as told."""
        if min(self.colonies) < 2:
            return "cannot be told"
        return "better" if self.chance >= sure else "worse" if self.chance <= 1 - sure else "cannot be told"

    def to_dict(self) -> dict[str, Any]:
        return {k: list(v) if isinstance(v, tuple) else v for k, v in asdict(self).items()}


def differ(
    first: Sequence[tuple[float, float]], second: Sequence[tuple[float, float]], scale: float
) -> Difference | None:
    """Compare (value, standard error) of the colonies of two revisions; None where one has no colony.

    value_i ~ Normal(mean of its revision, spread^2 + error_i^2), means without prior, spread half-normal of `scale`;
    the spread is integrated on a grid, all else is in closed form.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, 3rd edition, section 5.4: normal hierarchical model, marginal posterior of
    the spread, equations 5.20 and 5.21; half-normal prior: Gelman 2006, doi:10.1214/06-BA117A.

    Raises ValueError for a scale that is not above nought.
    """
    if scale <= 0:
        raise ValueError(f"scale {scale}")
    if not first or not second:
        return None
    spread = np.linspace(0.0, 5 * scale, _GRID)
    parts = [_mean_of(group, spread) for group in (first, second)]
    weight = -0.5 * (spread / scale) ** 2 + sum(p[2] for p in parts)
    share = np.exp(weight - weight.max())
    share /= share.sum()
    middle, variance = parts[1][0] - parts[0][0], parts[0][1] + parts[1][1]
    low, half, high = _quantiles(share, middle, np.sqrt(variance))
    from scipy.special import ndtr

    chance = float(share @ ndtr(middle / np.sqrt(variance)))
    told = tuple(_moments(share, p[0], p[1]) for p in parts)
    spread_middle = float(np.interp(0.5, np.cumsum(share), spread))
    return Difference(half, low, high, chance, spread_middle, told[0], told[1], (len(first), len(second)))


def _mean_of(group: Sequence[tuple[float, float]], spread: Array) -> tuple[Array, Array, Array]:
    """Mean, its variance and the log marginal likelihood of a group at each spread."""
    value, error = np.array(group, dtype=float).T
    variance = spread[:, None] ** 2 + np.maximum(error, 1e-12)[None, :] ** 2
    precision = (1 / variance).sum(axis=1)
    mean = (value / variance).sum(axis=1) / precision
    away = ((value[None, :] - mean[:, None]) ** 2 / variance).sum(axis=1)
    return mean, 1 / precision, -0.5 * (np.log(variance).sum(axis=1) + np.log(precision) + away)


def _moments(share: Array, mean: Array, variance: Array) -> tuple[float, float]:
    middle = float(share @ mean)
    return middle, float(np.sqrt(share @ (variance + (mean - middle) ** 2)))


def _quantiles(share: Array, mean: Array, deviation: Array) -> tuple[float, float, float]:
    """10, 50 and 90 % points of a mixture of normals."""
    from scipy.optimize import brentq
    from scipy.special import ndtr

    low, high = float((mean - 12 * deviation).min()), float((mean + 12 * deviation).max())
    found = [
        float(brentq(lambda x, q=q: share @ ndtr((x - mean) / deviation) - q, low, high, xtol=1e-12))
        for q in (0.1, 0.5, 0.9)
    ]
    return found[0], found[1], found[2]


def colonies_needed(wanted: float, spread: float, error: float, sure: float) -> int:
    """Colonies of each revision so that a true difference `wanted` is told as such, at least half of the time.

    Two means of n colonies differ with standard deviation sqrt(2 (spread^2 + error^2) / n); known spread, so a least
    figure. Raises ValueError where nothing is wanted.
    """
    from scipy.special import ndtri

    if wanted <= 0:
        raise ValueError(f"wanted {wanted}")
    return max(2, int(np.ceil(2 * (spread**2 + error**2) * (float(ndtri(sure)) / wanted) ** 2)))
