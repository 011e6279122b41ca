"""How much a mean of readings can be trusted when neighbours resemble each other."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["correlation_time"]

Array = NDArray[np.float64]


def correlation_time(value: Array) -> float:
    """Integrated correlation time of a series, in readings; 1 for readings that do not resemble their neighbours.

    Parameters
    ----------
    value : evenly spaced, shape (n,); its mean is taken off.

    Returns
    -------
    1 + 2 times the sum of the autocorrelations up to the first pair with a negative sum, at least 1. The mean of n
    such readings is worth that of n / time independent ones.

    References
    ----------
    Geyer 1992, Stat. Sci. 7:473, initial positive sequence, 10.1214/ss/1177011137.
    """
    n = len(value)
    x = value - value.mean()
    if n < 4 or not np.any(x):
        return 1.0
    size = 1 << (2 * n - 1).bit_length()
    spectrum = np.fft.rfft(x, size)
    auto = np.fft.irfft(spectrum * spectrum.conj(), size)[:n]
    auto = auto / auto[0]
    pairs = auto[: n // 2 * 2].reshape(-1, 2).sum(axis=1)
    negative = np.flatnonzero(pairs < 0)
    kept = pairs[: negative[0]] if len(negative) else pairs
    return max(1.0, float(2 * kept.sum() - 1))
