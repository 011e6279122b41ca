"""Whether a sensor over a salt, in ice or in outdoor air has come to rest, and what it reads there."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from nestwright.errors import InputError
from nestwright.sensing.correlated import correlation_time
from nestwright.sensing.sensor_values import sensor_value

__all__ = ["Settled", "settled"]

Array = NDArray[np.float64]

FEWEST = 10
"""Readings below which nothing is said of drift."""
_STARTS = 24
_SURE = 2.0
"""Standard errors added to the drift before it is called small."""
_BEND = 3.0
"""Standard errors from which a bend of the tail counts as one."""


@dataclass(frozen=True)
class Settled:
    """Where the rest begins and what is read there; `start_index`, `value`, `error` are None where there is none.

    `remaining`: how far the mean may still be from the end of the approach; `error`: standard uncertainty of the
    value, with that distance, noise and the step of the readings in it.
    """

    start_index: int | None
    value: float | None
    error: float | None
    remaining: float | None
    readings: int
    reason: str

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)


def settled(
    time_s: ArrayLike, value: ArrayLike, within: float, *, slowest: float | None = None, bridge: float | None = None
) -> Settled:
    """The rest at the end of a series of readings, or that there is none.

    Parameters
    ----------
    time_s : s, rising, shape (n,).
    value : readings, shape (n,); not-a-number is a reading that is missing.
    within : distance from the end of the approach that may be left, in the unit of `value`;
        `sensor_value(quantity, "settle_within").value` is what the project takes.
    slowest : longest time constant that the approach may have, s (`settling.slowest` of `data/sensors.toml`).
    bridge : a longer gap may hide an opened lid, s (`settling.bridge`): only what follows the last one is looked at.

    Returns
    -------
    Settled; `reason` says in words why, or why not.

    Raises
    ------
    InputError : lengths differ, times do not rise, `within` not above 0.

    Notes
    -----
    For an approach a + b exp(-t / tau) the mean of any tail lies from a by tau times the mean slope of that tail,
    exactly. So a tail is at rest when its slope, with two standard errors for noise, times `slowest` is below `within`:
    whatever the time constant up to `slowest` is. The standard error counts readings that resemble their neighbours
    for less, so a dip, a step or a lid opened within the tail widens it; a tail with a clear bend is not taken. Among
    tails that pass, the one with the smallest error is taken.
    """
    t, v = np.asarray(time_s, dtype=float), np.asarray(value, dtype=float)
    if t.shape != v.shape or t.ndim != 1:
        raise InputError("times and values differ in number", field="value", found=f"{t.size} and {v.size}")
    if not within > 0:
        raise InputError("must be above 0", field="within", found=str(within))
    if not np.all(np.diff(t) > 0):
        raise InputError("times must rise", field="time_s")
    slowest = sensor_value("settling", "slowest").value if slowest is None else slowest
    bridge = sensor_value("settling", "bridge").value if bridge is None else bridge

    kept = np.flatnonzero(np.isfinite(v))
    gaps = np.flatnonzero(np.diff(t[kept]) > bridge)
    kept = kept[gaps[-1] + 1 :] if len(gaps) else kept
    after = " after the last gap" if len(gaps) else ""
    if len(kept) < FEWEST:
        many = "1 reading" if len(kept) == 1 else f"{len(kept)} readings"
        return Settled(None, None, None, None, len(kept), f"only {many}{after}, {FEWEST} are needed")
    t, v = t[kept] - t[kept[-1]], v[kept]

    longest = len(t) - FEWEST
    starts = np.unique(np.rint(longest * (1 - np.geomspace(1, 1e-3, _STARTS))).astype(int))
    steps = np.abs(np.diff(v))
    # readings that never change hide a step that is unknown: as large as what is allowed, to be on the safe side
    step = float(np.min(steps[steps > 0])) if np.any(steps > 0) else within
    tails = [_tail(t[s:], v[s:], slowest, step) for s in starts]
    passed = [(error, s) for s, (_, error, left, bent) in zip(starts, tails, strict=True) if left < within and not bent]
    if passed:
        start = min(passed)[1]
        mean, error, left, _ = tails[int(np.flatnonzero(starts == start)[0])]
        hours = -t[start] / 3600
        reason = f"at rest{after} for {hours:.1f} h: less than the allowed distance is left"
        return Settled(int(kept[start]), mean, error, left, len(t) - int(start), reason)
    straight = [left for _, _, left, bent in tails if not bent]
    best = min(straight, default=math.inf)
    if math.isinf(best):
        reason = f"not at rest{after}: the readings bend or jump to the end"
    else:
        reason = f"not at rest{after}: may still be off by {best / within:.2g} times what is allowed"
    return Settled(None, None, None, None if math.isinf(best) else best, len(t), reason)


def _tail(t: Array, v: Array, slowest: float, step: float) -> tuple[float, float, float, bool]:
    """Mean, its standard uncertainty, bound on the distance left, and whether the tail bends."""
    n, span = len(t), t[-1] - t[0]
    mean = float(v.mean())
    # s runs from -1 to 1, so a slope of 1 in s is a change of 2 over the tail
    s = 2 * (t - t[0]) / span - 1
    matrix = np.stack([np.ones(n), s, s**2 - np.mean(s**2)], axis=1)
    inverse = np.linalg.inv(matrix.T @ matrix)
    straight = np.linalg.lstsq(matrix[:, :2], v, rcond=None)[0]
    rest = v - matrix[:, :2] @ straight
    variance = float(rest @ rest) / max(n - 2, 1)
    worth = correlation_time(rest)
    own = math.sqrt(variance * worth)
    slope_error = own * math.sqrt(inverse[1, 1])
    slope = abs(float(straight[1]))
    if variance < (step / 2) ** 2:
        # too quiet to see a drift of less than one step
        slope += step / 4
    left = (slope + _SURE * slope_error) * 2 / span * slowest
    bent = False
    if n >= 2 * FEWEST:
        bend = float((inverse @ (matrix.T @ v))[2])
        bent = abs(bend) > _BEND * own * math.sqrt(inverse[2, 2]) + step / 2
    # the distance is anywhere up to its bound: an even spread
    error = math.sqrt(own**2 / n + left**2 / 3 + step**2 / 12)
    return mean, error, left, bent
