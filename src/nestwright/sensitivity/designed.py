"""Sobol' indices of a function that can be asked anywhere: first and total share of each unknown or group of them.

Design and estimators: Saltelli et al. 2010, Comput Phys Commun 181:259, doi:10.1016/j.cpc.2009.09.018, as SALib has
them; the points are a scrambled Sobol' sequence.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.sensitivity.results import CONFIDENCE, Indices

Array = NDArray[np.float64]

__all__ = ["designed_rows", "designed_shares"]

RESAMPLES = 400


def _problem(groups: Sequence[str]) -> dict[str, Any]:
    names = [f"x{i}" for i in range(len(groups))]
    return {"num_vars": len(groups), "names": names, "groups": list(groups), "bounds": [[0.0, 1.0]] * len(groups)}


def designed_rows(groups: Sequence[str], base: int, seed: int = 1) -> Array:
    """Where the function is to be asked, shape (base * (groups + 2), unknowns), each value 0 to 1.

    Parameters
    ----------
    groups : for each unknown the group whose share is asked for; a group of its own for one that stands alone.
    base : points of the sequence, a power of two.
    """
    from SALib.sample import sobol

    made = sobol.sample(_problem(groups), base, calc_second_order=False, seed=seed)
    return np.asarray(made, dtype=float)


def designed_shares(groups: Sequence[str], values: Array, seed: int = 1) -> tuple[Indices, int]:
    """Indices of each group in the order of its first member, from the function's values at `designed_rows`.

    A point with a value that is not finite is left out with all that belong to it; how many is told beside. A function
    that is the same everywhere has shares of 0.
    """
    from SALib.analyze import sobol

    count = len(dict.fromkeys(groups))
    blocks = np.asarray(values, dtype=float).reshape(-1, count + 2)
    good = np.isfinite(blocks).all(axis=1)
    kept = blocks[good].ravel()
    # of a few points nothing can be resampled
    if good.sum() < 2 or np.ptp(kept) <= 1e-12 * max(1.0, float(np.abs(kept).max())):
        zero = np.zeros(count)
        return Indices(zero, zero, zero, zero), int((~good).sum())
    found = sobol.analyze(
        _problem(groups), kept, calc_second_order=False, num_resamples=RESAMPLES, conf_level=CONFIDENCE, seed=seed
    )
    columns = (np.asarray(found[key], dtype=float) for key in ("S1", "S1_conf", "ST", "ST_conf"))
    return Indices(*columns), int((~good).sum())
