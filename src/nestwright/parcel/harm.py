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

__all__ = ["Harm", "harm_of", "margins", "relative_humidity"]

Array = NDArray[np.float64]
FIVE_TO_NINETY_FIVE = 2 * 1.6448536269514722
"""Standard deviations between the ends of a card's prior."""
QUANTITIES = ("temperature", "relative_humidity", "co2", "o2")
DAY = 86400.0


@dataclass(frozen=True)
class Harm:
    """By parcel (n,): `by_cause` (n, causes), the harm whose sum H leaves exp(-H) of a garden; `spread`, that of ln H;
    chances that garden and colony are lost."""

    by_cause: Array
    spread: Array
    garden: Array
    colony: Array


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


def harm_of(card: SpeciesCard, course: Array, weight: Array, drip: Array, pressure: float) -> Harm:
    """Harm of many courses.

    course: (n, m, KEPT); weight: (n, m) s for which each point stands, 0 after the end; drip: (n,) kg on the garden.
    """
    from scipy.special import ndtr

    values, growth, steps = read_values("parcel.toml"), card.growth, limit_tolerances()
    ends = margins(card, course, pressure)

    def depth(quantity: str, end: str) -> Array:
        """Unit-days outside a limit."""
        margin = ends.get((quantity, end))
        if margin is None:
            return np.zeros(len(course))
        return (np.maximum(-margin, 0.0) * weight).sum(axis=1) * steps[quantity] / DAY

    kelvin = course[..., 2]
    frozen = ((kelvin < values["frozen_below"].value) * weight).sum(axis=1) / DAY
    parts: list[list[tuple[Value, Array]]] = [
        [(growth["cold_harm"], depth("temperature", "low")), (values["frozen_rate"], frozen)],
        [(growth["heat_harm"], depth("temperature", "high"))],
        [(growth["dry_harm"], depth("relative_humidity", "low"))],
        [(growth["wet_harm"], drip * 1e3)],
        [(growth["co2_harm"], depth("co2", "high"))],
        [(values["shut_in_harm"], weight.sum(axis=1) / DAY)],
    ]
    by_cause = np.column_stack([np.sum([rate.value * dose for rate, dose in part], axis=0) for part in parts])
    each = np.array([math.log(part[0][0].high / part[0][0].low) / FIVE_TO_NINETY_FIVE for part in parts])
    whole = np.maximum(by_cause.sum(axis=1), 1e-12)
    # the logarithm of a sum of log-normal parts, to first order: each part's spread by its share
    spread = np.maximum(np.sqrt(((by_cause / whole[:, None] * each) ** 2).sum(axis=1)), 0.05)
    lost_at = -math.log(1 - values["lost_share"].value)
    garden = ndtr(np.log(whole / lost_at) / spread)

    def hours(outside: NDArray[np.bool_]) -> Array:
        return (outside * weight).sum(axis=1) / 3600

    load = hours(kelvin < values["ants_cold"].value) / values["ants_cold_hours"].value
    load += hours(kelvin > values["ants_hot"].value) / values["ants_hot_hours"].value
    load += hours(course[..., 6] < values["ants_air"].value) / values["ants_air_hours"].value
    colony = ndtr(np.log(np.maximum(load, 1e-12)) / values["harm_steep"].value)
    return Harm(by_cause, spread, garden, colony)
