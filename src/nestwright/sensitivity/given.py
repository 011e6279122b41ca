"""First indices from draws that are there already, also where the unknowns hang together.

Share of the variance of y that goes when one unknown is known: the variance of y's mean over classes of it (Plischke,
Borgonovo & Smith 2013, Eur J Oper Res 226:536, doi:10.1016/j.ejor.2012.11.047), as SALib has it. Classes of n draws
show a share of (classes - 1) / n where there is none; that is taken off (Kelley 1935, PNAS 21:554).
"""

from __future__ import annotations

import warnings

import numpy as np
from numpy.typing import NDArray

from nestwright.sensitivity.results import CONFIDENCE, Indices

Array = NDArray[np.float64]

__all__ = ["given_shares"]

RESAMPLES = 400


def given_shares(unknowns: Array, values: Array, seed: int = 1) -> Indices:
    """First index of each column of `unknowns` (n, k) in `values` (n,); total indices are not told by draws.

    A column or values without any spread have a share of 0.
    """
    from SALib.analyze import delta

    n, k = unknowns.shape
    first, error, none = np.zeros(k), np.zeros(k), np.full(k, np.nan)
    moved = np.flatnonzero(np.ptp(unknowns, axis=0) > 0)
    if not len(moved) or np.ptp(values) <= 0:
        return Indices(first, error, none, none)
    problem = {"num_vars": len(moved), "names": [f"x{i}" for i in moved], "bounds": [[0.0, 1.0]] * len(moved)}
    state, form = np.random.get_state(), warnings.formatwarning
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = delta.analyze(
            problem, unknowns[:, moved], values, num_resamples=RESAMPLES, conf_level=CONFIDENCE, seed=seed,
            method="sobol",
        )  # fmt: skip
    # the library seeds the common generator and puts its own form of warnings in place
    np.random.set_state(state)
    warnings.formatwarning = form
    classes = round(min(np.ceil(n ** (2.0 / (7.0 + np.tanh((1500.0 - n) / 500.0)))), 48))
    plain = np.asarray(found["S1"], dtype=float)
    first[moved] = np.maximum(1.0 - (1.0 - plain) * (n - 1) / (n - classes), 0.0)
    error[moved] = np.asarray(found["S1_conf"], dtype=float)
    return Indices(first, error, none, none)
