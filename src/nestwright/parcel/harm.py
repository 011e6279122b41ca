"""What a course does to garden and ants: limits of the card passed, harm by cause, chances of loss.

The rates are those of the species card (growth.*_harm) and of data/parcel.toml; nearly all are judgement.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.data import SpeciesCard, Value, limit_tolerances, read_values
from nestwright.physics import air

__all__ = ["Harm", "harm_of", "margins", "outside", "relative_humidity"]

Array = NDArray[np.float64]
FIVE_TO_NINETY_FIVE = 2 * 1.6448536269514722
"""Standard deviations between the ends of a card's prior."""
QUANTITIES = ("temperature", "relative_humidity", "co2", "o2")
DAY = 86400.0
LEAST_SPREAD = 0.05
"""Of the logarithm of harm: keeps a chance from being a step."""


@dataclass(frozen=True)
class Harm:
    """By parcel (n,): `by_cause` (n, causes), the harm whose sum H leaves exp(-H) of a garden; `spread`, that of ln H;
    chances that garden and colony are lost; `ants` (n, 3), what the ants bear of each of `results.ANTS`, in shares of
    what kills half."""

    by_cause: Array
    spread: Array
    garden: Array
    colony: Array
    ants: Array


def relative_humidity(course: Array, pressure: float) -> Array:
    """Of the cup's air at the garden's temperature, at most 1, from columns of `travel`, shape (..., KEPT)."""
    return np.minimum(course[..., 4] * pressure / air.saturation_pressure(course[..., 2]), 1.0)


def margins(card: SpeciesCard, course: Array, pressure: float) -> dict[tuple[str, str], Array]:
    """Margin over time in steps of data/limits.toml for each end of the garden's limits, shape of the course."""
    values = {
        "temperature": course[..., 2],
        "relative_humidity": relative_humidity(course, pressure),
        "co2": course[..., 5],
        "o2": course[..., 6],
    }
    found = {}
    for limit in card.limits:
        if limit.role == "garden" and limit.quantity in QUANTITIES:
            step = limit_tolerances()[limit.quantity]
            if limit.low is not None:
                found[limit.quantity, "low"] = (values[limit.quantity] - limit.low) / step
            if limit.high is not None:
                found[limit.quantity, "high"] = (limit.high - values[limit.quantity]) / step
    return found


def outside(margin: Array, time: Array) -> tuple[Array, Array]:
    """Seconds for which a margin is negative, and its depth times seconds, shape (...,): straight between the points.

    margin: (..., m); time: (m,) s.

    >>> [float(x) for x in outside(np.array([1.0, -1.0, -1.0]), np.array([0.0, 2.0, 4.0]))]
    [3.0, 2.5]
    """
    low, high = np.minimum(margin[..., :-1], margin[..., 1:]), np.maximum(margin[..., :-1], margin[..., 1:])
    below = np.minimum(low, 0.0)
    # of a step that passes the limit, the share beyond it
    share = np.where(high > 0, below / np.minimum(low - high, -1e-300), (low < 0).astype(float))
    depth = np.where(high > 0, -0.5 * below * share, -0.5 * (low + high)) * (low < 0)
    step = np.diff(time)
    return (share * step).sum(axis=-1), (depth * step).sum(axis=-1)


def harm_of(card: SpeciesCard, course: Array, time: Array, drip: Array, pressure: float) -> Harm:
    """Harm of many courses.

    course: (n, m, KEPT) at times (m,) s; drip: (n,) kg on the garden.
    """
    from scipy.special import ndtr

    values, growth, steps = read_values("parcel.toml"), card.growth, limit_tolerances()
    ends = margins(card, course, pressure)

    def depth(quantity: str, end: str) -> Array:
        """Unit-days outside a limit."""
        margin = ends.get((quantity, end))
        return np.zeros(len(course)) if margin is None else outside(margin, time)[1] * steps[quantity] / DAY

    def hours(margin: Array) -> Array:
        return outside(margin, time)[0] / 3600

    kelvin = course[..., 2]
    parts: list[list[tuple[Value, Array]]] = [
        [
            (growth["cold_harm"], depth("temperature", "low")),
            (values["frozen_rate"], hours(kelvin - values["frozen_below"].value) / 24),
        ],
        [(growth["heat_harm"], depth("temperature", "high"))],
        [(growth["dry_harm"], depth("relative_humidity", "low"))],
        [(growth["wet_harm"], drip * 1e3)],
        [
            (growth["co2_harm"], depth("co2", "high")),
            (values["smother_rate"], hours(course[..., 6] - values["ants_air"].value) / 24),
        ],
        [(values["shut_in_harm"], np.full(len(course), (time[-1] - time[0]) / DAY))],
    ]
    by_cause = np.column_stack([np.sum([rate.value * dose for rate, dose in part], axis=0) for part in parts])
    each = np.array([math.log(part[0][0].high / part[0][0].low) / FIVE_TO_NINETY_FIVE for part in parts])
    whole = np.maximum(by_cause.sum(axis=1), 1e-12)
    # the logarithm of a sum of log-normal parts, to first order: each part's spread by its share
    spread = np.maximum(np.sqrt(((by_cause / whole[:, None] * each) ** 2).sum(axis=1)), LEAST_SPREAD)
    lost_at = -math.log(1 - values["lost_share"].value)
    garden = ndtr(np.log(whole / lost_at) / spread)
    ants = np.column_stack([
        hours(kelvin - values["ants_cold"].value) / values["ants_cold_hours"].value,
        hours(values["ants_hot"].value - kelvin) / values["ants_hot_hours"].value,
        hours(course[..., 6] - values["ants_air"].value) / values["ants_air_hours"].value,
    ])  # fmt: skip
    colony = ndtr(np.log(np.maximum(ants.sum(axis=1), 1e-12)) / values["harm_steep"].value)
    return Harm(by_cause, spread, garden, colony, ants)
