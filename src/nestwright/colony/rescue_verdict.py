"""Which amounts of donor garden do as well as the best, told on the same draws, and the verdict that follows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.results import RescueVerdict

__all__ = ["ENOUGH", "SAME", "as_good_as_best", "reaches", "verdict_of"]

SAME = 2.0
"""Standard errors of the mean difference up to which two amounts are not told apart."""

ENOUGH = 0.9


def reaches(chance: float) -> bool:
    """Whether a chance is nine in ten, by the whole percent that is shown of it."""
    return float(f"{100 * chance:.0f}") >= 100 * ENOUGH


def as_good_as_best(outcomes: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which amounts are not distinguishably worse than the best.

    Parameters
    ----------
    outcomes : array, shape (amounts, draws)
        Mean outcome of each draw with each amount, more being better. Amounts meet the same draws.

    Returns
    -------
    array of bool, shape (amounts,)

    Notes
    -----
    Paired comparison: the mean of the differences over the draws against its standard error, s / sqrt(n) with n - 1 in
    the variance (any textbook of statistics: paired t). What is common to all amounts in a draw falls out.
    """
    best = outcomes[int(np.argmax(outcomes.mean(axis=1)))]
    behind = best[None] - outcomes
    n = outcomes.shape[1]
    error = behind.std(axis=1, ddof=1) / np.sqrt(n) if n > 1 else np.zeros(len(outcomes))
    return np.asarray(behind.mean(axis=1) <= SAME * error + 1e-12)


def verdict_of(queen: bool, as_good: NDArray[np.bool_], nothing_given: bool, garden_left: float) -> RescueVerdict:
    """The verdict from which amounts (least first) are as good as the best.

    `nothing_given`: the least of the amounts is none; `garden_left`: own garden that counts as living, mL, else 0.
    """
    if not queen:
        return "no queen"
    if nothing_given and garden_left > 0 and bool(as_good[0]):
        return "none needed"
    return "no difference" if len(as_good) > 1 and bool(as_good.all()) else "least"
