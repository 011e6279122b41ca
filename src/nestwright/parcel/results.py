"""What comes out of a journey: one parcel's course (`Passage`), and what became of many (`Outcomes`)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

__all__ = ["ANTS", "CAUSES", "Course", "LimitPassed", "Loss", "Outcomes", "Passage"]

Array = NDArray[np.float64]

CAUSES = ("cold", "heat", "dry", "wet", "air", "journey")
"""What harms a garden on its way: `air` is carbon dioxide and the lack of oxygen, `journey` the dark and shaking."""
ANTS = ("cold", "heat", "oxygen")
"""What harms the ants: `oxygen` is the lack of it."""


@dataclass(frozen=True)
class Course:
    """Over time, shape (n,): s from dispatch; K of outside, box, cup and pack; relative humidity, CO2 and O2 (mole
    fractions) in the cup; O2 in the box; kg of water on the cup's wall; W of all packs (negative: a cold one takes)."""

    time: Array
    outside: Array
    box: Array
    cup: Array
    pack: Array
    humidity: Array
    co2: Array
    o2: Array
    box_o2: Array
    film: Array
    power: Array

    def to_dict(self) -> dict[str, Any]:
        return {
            "hours": (self.time / 3600).tolist(),
            "outside_degC": (self.outside - 273.15).tolist(),
            "box_degC": (self.box - 273.15).tolist(),
            "cup_degC": (self.cup - 273.15).tolist(),
            "pack_degC": (self.pack - 273.15).tolist(),
            "cup_humidity_pct": (self.humidity * 100).tolist(),
            "cup_co2_pct": (self.co2 * 100).tolist(),
            "cup_o2_pct": (self.o2 * 100).tolist(),
            "box_o2_pct": (self.box_o2 * 100).tolist(),
            "film_g": (self.film * 1e3).tolist(),
            "pack_W": self.power.tolist(),
        }


@dataclass(frozen=True)
class LimitPassed:
    """A limit of the card on the way: its quantity and end (low or high), SI; the worst value; margin in steps of
    data/limits.toml (negative: passed), with its low and high end by the values that it rests on; hours outside it, and
    their depth as unit-hours; hours until it first went, None where it held."""

    quantity: str
    end: str
    limit: float
    worst: float
    margin: float
    margin_low: float
    margin_high: float
    hours_outside: float
    depth_hours: float
    first: float | None
    mark: str

    @property
    def sure(self) -> bool:
        """Whether the verdict is the same at both ends."""
        return self.margin_low >= 0 or self.margin_high < 0

    def to_dict(self) -> dict[str, Any]:
        factor, shift, unit = _SHOWN.get(self.quantity, (1.0, 0.0, "1"))
        return {
            "quantity": self.quantity,
            "end": self.end,
            "limit": self.limit * factor + shift,
            "worst": self.worst * factor + shift,
            "unit": unit,
            "margin_steps": self.margin,
            "margin_low_steps": self.margin_low,
            "margin_high_steps": self.margin_high,
            "sure": self.sure,
            "hours_outside": self.hours_outside,
            "depth_hours": self.depth_hours * factor,
            "first_hours": self.first,
            "mark": self.mark,
        }


_SHOWN = {
    "temperature": (1.0, -273.15, "degC"),
    "relative_humidity": (100.0, 0.0, "%"),
    "co2": (100.0, 0.0, "%"),
    "o2": (100.0, 0.0, "%"),
}


@dataclass(frozen=True)
class Loss:
    """What the journey did: share of the garden lost with its low and high end by the card's rates, the chance that it
    is lost and that the colony is, what of it each cause did (share of the harm), and the first cause or "";
    `ants_cause` is what the ants bear most of, "" where that is next to nothing."""

    share: float
    share_low: float
    share_high: float
    garden: float
    colony: float
    by_cause: tuple[tuple[str, float], ...]
    cause: str
    ants_cause: str

    def to_dict(self) -> dict[str, Any]:
        return {
            "garden_share_lost": self.share,
            "garden_share_lost_low": self.share_low,
            "garden_share_lost_high": self.share_high,
            "chance_garden_lost": self.garden,
            "chance_colony_lost": self.colony,
            "by_cause": [{"cause": name, "share": share} for name, share in self.by_cause],
            "first_cause": self.cause,
            "first_cause_of_the_ants": self.ants_cause,
        }


@dataclass(frozen=True)
class Passage:
    """The result of `carry`.

    `legs`: names with the hours at which they begin and end. `condensed` kg: the most water that hung on the cup's
    wall, with what dripped from it. `first_limit` is the first to go, or the nearest. `rests_on`: values that moved its
    margin, largest first, with the steps. `heat_ends`: hours until the packs give or take less than a tenth of their
    most, None where they last.
    """

    name: str
    species: str
    hours: float
    delay: float
    dispatch: str
    course: Course
    legs: tuple[tuple[str, float, float], ...]
    limits: tuple[LimitPassed, ...]
    first_limit: LimitPassed
    loss: Loss
    condensed: float
    heat_ends: float | None
    starved: float | None
    """Hours until oxygen in the box halved, None where it did not."""
    rests_on: tuple[tuple[str, float], ...]
    judgements: tuple[str, ...]
    step_error: float
    """K by which the cup's course moved when the steps were halved."""

    @property
    def holds(self) -> bool:
        return all(limit.margin >= 0 for limit in self.limits)

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "species": self.species,
            "dispatch": self.dispatch,
            "hours": self.hours,
            "delay_hours": self.delay,
            "holds": self.holds,
            "first_limit": self.first_limit.to_dict(),
            "limits": [limit.to_dict() for limit in self.limits],
            "loss": self.loss.to_dict(),
            "condensed_g": self.condensed * 1e3,
            "heat_ends_hours": self.heat_ends,
            "oxygen_halved_hours": self.starved,
            "rests_on": [{"value": name, "steps": steps} for name, steps in self.rests_on],
            "judgements": list(self.judgements),
            "step_error_K": self.step_error,
            "legs": [{"name": n, "from_hours": a, "to_hours": b} for n, a, b in self.legs],
            "course": self.course.to_dict(),
        }


@dataclass(frozen=True)
class Outcomes:
    """The result of `carry_many`, shape (n,): chance that garden and colony are lost, cause as a number into `causes`
    (-1: none above a hundredth), the same of the ants into `ants_causes`, lowest and highest K in the cup."""

    garden: Array
    colony: Array
    cause: NDArray[np.int64]
    ants_cause: NDArray[np.int64]
    lowest: Array
    highest: Array
    causes: tuple[str, ...] = CAUSES
    ants_causes: tuple[str, ...] = ANTS
