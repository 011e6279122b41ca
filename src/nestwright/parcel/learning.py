"""What loggers inside parcels teach of box and pack: values fitted to measured courses, with intervals.

The measured course is the computed one at the true values, plus an error of the model that keeps its sign for hours (an
Ornstein-Uhlenbeck process), plus the logger's own. Values have priors; the posterior is taken as normal about its mode
in the logarithm of factors and in shifts, and widened where the residuals are larger than was thought.

References
----------
.. [1] Kennedy, O'Hagan, J R Stat Soc B 63 (2001) 425, doi:10.1111/1467-9868.00294: why a fit without an error of the
   model is too sure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.data import read_values
from nestwright.intervals import EIGHT_IN_TEN

__all__ = ["Belief", "Learned", "LearnedValue", "Logged", "learn_values"]

Array = NDArray[np.float64]
Course = Callable[[Mapping[str, float], Array], Array]
"""From values by name and hours (n,) to the computed temperature, K (n,)."""


@dataclass(frozen=True)
class Belief:
    """A value before the fit. factor: log-normal about `middle`, `spread` of the logarithm; shift: normal about
    `middle`, `spread` in its own unit."""

    name: str
    kind: Literal["factor", "shift"]
    middle: float
    spread: float

    def at(self, z: float) -> float:
        """The value z standard deviations from the middle."""
        moved = self.spread * z
        return float(self.middle * np.exp(moved)) if self.kind == "factor" else self.middle + moved


@dataclass(frozen=True)
class Logged:
    """What a logger measured in one parcel: hours from dispatch (n,) rising, K (n,), and its standard error K, one for
    all; None where it was not calibrated."""

    hours: Array
    temperature: Array
    error: float | None = None


@dataclass(frozen=True)
class LearnedValue:
    """A value after the fit: mode, and the ends in which it lies in 8 of 10; the same before. `width`: of its interval
    against that before, near 1 where the logs teach nothing of it."""

    name: str
    value: float
    low: float
    high: float
    before: float
    before_low: float
    before_high: float
    width: float

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


@dataclass(frozen=True)
class Learned:
    """Values after the fit, and how far the course was off before and after, K (root mean square).

    `stretch`: by how much the intervals were widened, since residuals were larger than thought; `tied`: pairs of values
    that the logs cannot tell apart, with their correlation.
    """

    parcels: int
    readings: int
    values: tuple[LearnedValue, ...]
    off_before: float
    off_after: float
    stretch: float
    tied: tuple[tuple[str, str, float], ...]

    def to_dict(self) -> dict[str, Any]:
        judged = [k for k, v in read_values("parcel_learning.toml").items() if v.mark == "judgement"]
        return {
            "parcels": self.parcels,
            "readings": self.readings,
            "off_before_K": self.off_before,
            "off_after_K": self.off_after,
            "stretch": self.stretch,
            "values": [one.to_dict() for one in self.values],
            "tied": [{"one": a, "other": b, "correlation": c} for a, b, c in self.tied],
            "judgements": judged,
        }


TIED = 0.8
"""Correlation from which two values are told as tied."""


def learn_values(runs: Sequence[tuple[Course, Logged]], beliefs: Sequence[Belief]) -> Learned:
    """Fit values that all these parcels share.

    Parameters
    ----------
    runs : computed course and log of each parcel
    beliefs : values that are free, with their priors

    Raises
    ------
    ValueError
        For no run, no belief, or a log of fewer than three readings.
    """
    from scipy.optimize import least_squares

    if not runs or not beliefs or any(len(log.hours) < 3 for _, log in runs):
        raise ValueError("a fit needs a log of three readings or more, and something to fit")
    parts = [(course, *_thinned(log)) for course, log in runs]

    def residuals(z: Array) -> Array:
        values = {b.name: b.at(x) for b, x in zip(beliefs, z, strict=True)}
        off = [white @ (measured - course(values, hours)) for course, hours, measured, white in parts]
        return np.concatenate([*off, z])

    start = np.zeros(len(beliefs))
    found = least_squares(residuals, start, diff_step=1e-2, x_scale=1.0, bounds=(-6.0, 6.0), max_nfev=60)
    inverse = np.linalg.inv(found.jac.T @ found.jac)
    n = sum(len(hours) for _, hours, _, _ in parts)
    # the prior counts as data: its residuals are among the sum
    stretch = max(1.0, float(np.sqrt(2 * found.cost / n)))
    spread = np.minimum(1.0, stretch * np.sqrt(np.diag(inverse)))
    values = [_told(b, float(z), float(s)) for b, z, s in zip(beliefs, found.x, spread, strict=True)]
    return Learned(
        len(runs), n, tuple(values), _off(parts, beliefs, start), _off(parts, beliefs, found.x), stretch,
        tuple(_tied(beliefs, inverse)),
    )  # fmt: skip


def _thinned(log: Logged) -> tuple[Array, Array, Array]:
    """Hours and K of a log with no more readings than teach something, and the matrix that makes its errors white."""
    v = {k: one.value for k, one in read_values("parcel_learning.toml").items()}
    chosen = np.unique(np.linspace(0, len(log.hours) - 1, min(len(log.hours), int(v["most_times"]))).astype(int))
    hours, measured = _array(log.hours)[chosen], _array(log.temperature)[chosen]
    own = v["logger_error"] if log.error is None or not np.isfinite(log.error) else max(log.error, 0.05)
    apart = np.abs(hours[:, None] - hours[None, :])
    covariance = v["model_error"] ** 2 * np.exp(-apart / v["model_time"]) + own**2 * np.eye(len(hours))
    return hours, measured, np.linalg.inv(np.linalg.cholesky(covariance))


def _array(values: ArrayLike) -> Array:
    return np.asarray(values, dtype=float)


def _off(parts: list[tuple[Course, Array, Array, Array]], beliefs: Sequence[Belief], z: Array) -> float:
    values = {b.name: b.at(float(x)) for b, x in zip(beliefs, z, strict=True)}
    off = np.concatenate([measured - course(values, hours) for course, hours, measured, _ in parts])
    return float(np.sqrt(np.mean(off**2)))


def _told(b: Belief, z: float, spread: float) -> LearnedValue:
    reach = EIGHT_IN_TEN * spread
    ends = b.at(z - reach), b.at(z + reach)
    before = b.at(-EIGHT_IN_TEN), b.at(EIGHT_IN_TEN)
    return LearnedValue(b.name, b.at(z), *ends, b.middle, *before, width=spread)


def _tied(beliefs: Sequence[Belief], inverse: Array) -> list[tuple[str, str, float]]:
    scale = np.sqrt(np.diag(inverse))
    both = inverse / np.outer(scale, scale)
    return [
        (beliefs[i].name, beliefs[j].name, float(both[i, j]))
        for i in range(len(beliefs))
        for j in range(i + 1, len(beliefs))
        if abs(both[i, j]) > TIED
    ]
