"""Which value that a fit leaves open a forecast hangs on most, and what of the colony's state today."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.fit import Posterior, report, some
from nestwright.colony.forecast import Scenario, paths_of
from nestwright.colony.results import BAND
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.sensitivity import Explained

Array = NDArray[np.float64]

__all__ = ["ASKED", "REPEATS", "explain_forecast"]

ASKED = {"garden": "mL", "workers": "1"}
"""What may be asked of a forecast, and its unit."""
REPEATS = 8
"""Futures of each draw of the posterior: what they differ by is chance."""
TODAY = {"garden_today": ("mL", ("garden",)), "workers_today": ("1", ("workers",)),
         "brood_today": ("1", ("eggs", "larvae", "pupae"))}  # fmt: skip
"""What may be looked at today: its unit and the columns of a forecast's paths that it is the sum of."""


def explain_forecast(
    posterior: Posterior, horizon: int, what: str = "garden", scenario: Scenario | None = None, *, seed: int = 1
) -> Explained:
    """Shares of the variance of a forecast's logarithm after `horizon` days.

    Unknowns are the values left free in the fit and the state of the last morning, as the record leaves them: they hang
    together, so each has a first index only, and these may add up to more than 1. Logarithm of the amount and 1, as the
    bands of a colony that grows are ranges of ratios. Raises InputError for a result that is none.
    """
    from nestwright.sensitivity import Explained, Share, Unknown, given_shares

    if what not in ASKED:
        raise InputError("cannot be explained", field="--of", found=repr(what[:40]), allowed=", ".join(ASKED))
    problem = posterior.problem
    _, ends = report(posterior)
    draws = some(posterior)
    n = len(draws)
    table = paths_of(problem, ends, horizon, scenario or Scenario(), paths=n * REPEATS, seed=seed)
    told = np.log1p(table[what][:, -1]).reshape(REPEATS, n)
    chance, between = _parts(told)
    today = {name: sum(table[c][:n, 0] for c in columns) for name, (_, columns) in TODAY.items()}
    columns = np.column_stack([draws, *(np.asarray(x, dtype=float) for x in today.values())])
    found = given_shares(columns, told.mean(axis=0), seed)
    # indices are of the means over futures; the whole has chance in it besides
    whole = chance + between
    part = float(told.mean(axis=0).var() / whole) if whole > 0 else 0.0
    unknowns = []
    for j, f in enumerate(problem.free):
        low, middle, high = map(float, np.quantile(f.value(draws[:, j]), BAND))
        unknowns.append(Unknown(f.name, low, middle, high, f.unit, f.mark, f.source, "8 of 10"))
    for name, (unit, _) in TODAY.items():
        low, middle, high = map(float, np.quantile(today[name], BAND))
        unknowns.append(Unknown(name, low, middle, high, unit, "record", "state of the last morning", "8 of 10"))
    shares = [
        Share(one.name, one, (one.name,), min(part * a, 1.0), part * b, None, None)
        for one, a, b in zip(unknowns, found.first, found.first_error, strict=True)
    ]
    low, middle, high = map(float, np.quantile(table[what][:, -1], BAND))
    return Explained(
        subject=problem.colony.name,
        result=f"{what} in {horizon} days",
        unit=ASKED[what],
        low=low, middle=middle, high=high,
        shares=tuple(sorted(shares, key=lambda s: -s.weight)),
        chance=chance / whole if whole > 0 else 0.0,
        runs=n * REPEATS,
        lost=0,
        notes=problem.notes,
    )  # fmt: skip


def _parts(told: Array) -> tuple[float, float]:
    """Variance within draws, which is chance, and between them, of values (repeats, n)."""
    within = float(told.var(axis=0, ddof=1).mean())
    return within, max(float(told.mean(axis=0).var(ddof=1)) - within / len(told), 0.0)
