"""Air change from the decay of a tracer: the concentration decay method of ASTM E741.

The excess of the tracer over its background falls as exp(-n t) in one well mixed chamber; n is the slope of
ln(excess) over time, with the interval of the regression. Successive readings are not independent: the interval is
widened by their autocorrelation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_values import dry_run_values

Array = NDArray[np.float64]

__all__ = ["Decay", "decay_rate", "decay_span"]


@dataclass(frozen=True)
class Decay:
    """One decay. `rate`, `low`, `high` per s (interval of chance `chance`); `start`, `end` s; `readings` used.

    `bend` is the change of the rate from the first to the second half, relative to `rate`, and `single` tells
    whether one exponential describes the decay: if not, the chamber trades air with others, and `rate` is no air
    change with the room.
    """

    zone: str
    start: float
    end: float
    readings: int
    rate: float
    low: float
    high: float
    chance: float
    bend: float
    single: bool

    def to_dict(self) -> dict[str, Any]:
        return {
            "chamber": self.zone,
            "start_h": self.start / 3600,
            "end_h": self.end / 3600,
            "readings": self.readings,
            "air_changes_per_h": self.rate * 3600,
            "low": self.low * 3600,
            "high": self.high * 3600,
            "chance": self.chance,
            "bend_pct": self.bend * 100,
            "one_exponential": self.single,
        }


def decay_rate(
    time: Array,
    concentration: Array,
    background: float,
    *,
    background_error: float = 0.0,
    zone: str = "",
    chance: float = 0.8,
) -> Decay | None:
    """Air change rate from readings of a falling tracer.

    Parameters
    ----------
    time : s, shape (n,), rising.
    concentration : any unit, shape (n,).
    background : the tracer in the air that comes in, same unit.
    background_error : standard deviation of the sensor's offset from that air, same unit.
    chance : of the interval.

    Returns
    -------
    Decay, or None when fewer than four readings lie above the background.

    Notes
    -----
    Regression of ln(C - C_background) on time, ASTM E741 (concentration decay, regression form). The interval is
    Student's for the slope, widened by sqrt((1 + r)/(1 - r)) for the autocorrelation r of the residuals; what an error
    of the background does to the slope is added as root sum of squares.

    Examples
    --------
    >>> t = np.arange(13) * 600.0
    >>> made = decay_rate(t, 450 + 5000 * np.exp(-0.5 * t / 3600), 450.0)
    >>> round(made.rate * 3600, 6)
    0.5
    """
    from scipy.stats import norm
    from scipy.stats import t as student

    kept = np.isfinite(concentration) & (concentration > background)
    t, z = time[kept], np.log(concentration[kept] - background)
    n = len(t)
    if n < 4:
        return None
    mid = t - t.mean()
    spread = float(mid @ mid)
    slope = float(mid @ z) / spread
    rest = z - z.mean() - slope * mid
    variance = float(rest @ rest) / (n - 2)
    r = 0.0
    if variance > 1e-18:
        r = float(np.clip(rest[1:] @ rest[:-1] / (rest @ rest), 0.0, 0.9))
    error = math.sqrt(variance / spread * (1 + r) / (1 - r))
    reach = float(student.ppf(0.5 + chance / 2, n - 2)) * error
    # an offset o changes ln(C - B) by o / (C - B): its slope is what the rate is off by
    shift = background_error * float(mid @ np.exp(-z)) / spread
    reach = math.hypot(reach, float(norm.ppf(0.5 + chance / 2)) * shift)
    # a bend that stands out of its own error, and is more than a tenth of the rate, is not one exponential
    curve = mid**2 - (mid**2).mean() - (mid**2 @ mid) / spread * mid
    weight = float(curve @ curve)
    second = float(curve @ rest) / weight if weight > 0 else 0.0
    left = rest - second * curve
    second_error = math.sqrt(max(float(left @ left), 1e-30) / max(n - 3, 1) / weight * (1 + r) / (1 - r))
    bend = second * (t[-1] - t[0]) / -slope if slope != 0 else 0.0
    single = abs(bend) < 0.1 or abs(second) < 2.5 * second_error
    return Decay(
        zone, float(t[0]), float(t[-1]), n, -slope, -slope - reach, -slope + reach, chance, float(-bend), bool(single)
    )


def decay_span(time: Array, concentration: Array, background: float, peak: float, until: float) -> NDArray[np.bool_]:
    """Readings that belong to the decay after a peak: from its mixing time until too little is left, or `until` s."""
    values = dry_run_values()
    inside = (time >= peak + values["mixing_time"].value) & (time < until) & np.isfinite(concentration)
    if not inside.any():
        return inside
    excess = concentration - background
    first = excess[np.flatnonzero(inside)[0]]
    low = np.flatnonzero(inside & (excess < max(values["decay_depth"].value * first, 2 * values["bias_co2"].value)))
    if len(low):
        inside &= time < time[low[0]]
    return inside
