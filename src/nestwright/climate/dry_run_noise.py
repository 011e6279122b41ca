"""Errors of a dry run: the scale on which each quantity's error is even, and the whitening of errors that last.

CO2 is compared as ln(c + c0), on which an error of a fixed part and a share of the reading is nearly even. An error
fades over a time: successive differences are whitened as those of an Ornstein-Uhlenbeck process, so that a thousand
readings of one afternoon do not count as a thousand proofs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_values import dry_run_values

Array = NDArray[np.float64]

__all__ = ["Noise", "even", "first_noise", "least", "noise_of", "nuisances", "whitened"]


@dataclass(frozen=True)
class Noise:
    """Error of one channel on its even scale: standard deviation, and the time s over which it fades."""

    sd: float
    fades: float


def even(quantity: str, values: Array) -> Array:
    """Values on the scale on which the error of their sensor is even (K, share, ln)."""
    if quantity != "co2":
        return values
    v = dry_run_values()
    return np.asarray(np.log(np.maximum(values, 0.0) + v["bias_co2"].value / v["gain_co2"].value))


def nuisances(quantity: str, predicted: Array) -> Array:
    """Lasting errors of a sensor on the even scale, each of standard deviation 1, shape (errors, n)."""
    v = dry_run_values()
    if quantity == "co2":
        bias, gain = v["bias_co2"].value, v["gain_co2"].value
        whole = np.maximum(predicted, 0.0) + bias / gain
        return np.stack([bias / whole, gain * predicted / whole])
    name = "bias_temperature" if quantity == "temperature" else "bias_humidity"
    return np.full((1, len(predicted)), v[name].value)


def least(quantity: str) -> float:
    """Least standard deviation of an error beside the lasting ones, on the even scale."""
    return dry_run_values()[
        {"temperature": "noise_temperature", "co2": "noise_co2"}.get(quantity, "noise_humidity")
    ].value


def first_noise(quantity: str) -> Noise:
    """Error to begin with: three times the least, fading over the stated time."""
    return Noise(3 * least(quantity), dry_run_values()["error_time"].value)


def noise_of(quantity: str, time: Array, rest: Array, lost: float) -> Noise:
    """Error that the residuals of a fit show, never below the least.

    `rest` on the even scale, shape (n,); `lost` is the number of independent readings that the fit has used up.
    """
    step = np.diff(time)
    usual = float(np.median(step))
    near = step <= 1.5 * usual
    top = float((rest[1:] * rest[:-1])[near].sum())
    r = float(np.clip(top / max(float((rest[:-1][near] ** 2).sum()), 1e-30), 0.01, 0.98))
    # the slope of an autoregression is told too low by (1 + 3 r) / n (Marriott & Pope 1954, doi:10.2307/2332719)
    r = min(r + (1 + 3 * r) / len(rest), 0.98)
    fades = float(np.clip(-usual / math.log(r), usual / 4, 6 * 3600.0))
    # so many readings that are independent, of which the fit has used up some
    free = min(float(len(rest)), (time[-1] - time[0]) / (2 * fades))
    sd = math.sqrt(float(rest @ rest) / len(rest) * free / max(free - lost, free / 2))
    bottom = least(quantity)
    return Noise(max(sd, bottom), fades if sd > bottom else min(fades, dry_run_values()["error_time"].value))


def whitened(noise: Noise, time: Array, columns: Array) -> Array:
    """Columns of shape (..., n) as independent errors of standard deviation 1."""
    out = np.empty_like(columns)
    out[..., 0] = columns[..., 0] / noise.sd
    r = np.exp(-np.diff(time) / noise.fades)
    out[..., 1:] = (columns[..., 1:] - r * columns[..., :-1]) / (noise.sd * np.sqrt(1 - r**2))
    return out
