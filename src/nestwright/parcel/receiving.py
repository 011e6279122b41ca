"""What to do first with a parcel that has come, given what it went through and what was found in it.

Rules with figures of data/receiving.toml, most of them judgement. Steps are keys with figures: their sentences stand
with the faces.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from numpy.typing import ArrayLike

from nestwright.data import SpeciesCard, read_values

__all__ = ["Found", "Journey", "Receiving", "Step", "journey_of", "receive"]

Garden = Literal["sound", "watch", "damaged", "lost", "unknown"]
DEAD_WORDS = frozenset(["falling"])
HARMED_WORDS = frozenset(["brown", "dry", "wet", "mould"])


@dataclass(frozen=True)
class Journey:
    """What the air inside went through: hours of it, degC last, lowest and highest, hours below and above the garden's
    band and below its humidity. `known_by`: logger, computed or nothing; None is not known."""

    known_by: Literal["logger", "computed", "nothing"] = "nothing"
    hours: float | None = None
    now: float | None = None
    lowest: float | None = None
    highest: float | None = None
    hours_cold: float | None = None
    hours_hot: float | None = None
    hours_dry: float | None = None

    def to_dict(self) -> dict[str, Any]:
        units = {"now": "now_degC", "lowest": "lowest_degC", "highest": "highest_degC"}
        return {units.get(k, k): v for k, v in self.__dict__.items()}


@dataclass(frozen=True)
class Found:
    """What was found: garden mL, words of its look, workers alive and dead; None or empty is not told."""

    garden: float | None = None
    health: tuple[str, ...] = ()
    workers: float | None = None
    dead: float | None = None
    queen: bool = True

    def to_dict(self) -> dict[str, Any]:
        return {
            "garden_mL": self.garden,
            "health": list(self.health),
            "workers": self.workers,
            "dead": self.dead,
            "queen": self.queen,
        }


@dataclass(frozen=True)
class Step:
    """One thing to do: its key and its figures, in the units of their names."""

    key: str
    figures: dict[str, float] = field(default_factory=dict)

    def to_dict(self) -> dict[str, Any]:
        return {"key": self.key, **self.figures}


@dataclass(frozen=True)
class Receiving:
    """What to do, in order. garden: what it counts as; warming: hours from now and degC to hold from then on, empty
    where no steps are needed; expected: what the journey alone would make of the garden."""

    species: str
    journey: Journey
    found: Found
    garden: Garden
    expected: Garden
    steps: tuple[Step, ...]
    warming: tuple[tuple[float, float], ...]
    band: tuple[float, float]

    def to_dict(self) -> dict[str, Any]:
        judged = sorted(k for k, v in read_values("receiving.toml").items() if v.mark == "judgement")
        return {
            "species": self.species,
            "garden": self.garden,
            "expected": self.expected,
            "garden_band_degC": list(self.band),
            "journey": self.journey.to_dict(),
            "found": self.found.to_dict(),
            "steps": [one.to_dict() for one in self.steps],
            "warming": [{"after_h": h, "hold_degC": t} for h, t in self.warming],
            "judgements": judged,
        }


def journey_of(
    hours: ArrayLike,
    temperature: ArrayLike,
    humidity: ArrayLike | None,
    card: SpeciesCard,
    known_by: Literal["logger", "computed"],
) -> Journey:
    """What the air inside went through, from its course.

    Parameters
    ----------
    hours : array_like, shape (n,)
        Rising, h; each value holds until the next.
    temperature : array_like, shape (n,)
        degC.
    humidity : array_like, shape (n,), optional
        Relative humidity 0 to 1; None where it was not measured.
    """
    at, warm = np.asarray(hours, dtype=float), np.asarray(temperature, dtype=float)
    if at.size == 0:
        return Journey()
    each = np.diff(at, append=at[-1])
    low, high = garden_band(card)
    driest = card_limit(card, "relative_humidity")[0]
    damp = None if humidity is None else np.asarray(humidity, dtype=float)
    return Journey(
        known_by=known_by,
        hours=float(at[-1] - at[0]),
        now=float(warm[-1]),
        lowest=float(warm.min()),
        highest=float(warm.max()),
        hours_cold=float(each[warm < low].sum()),
        hours_hot=float(each[warm > high].sum()),
        hours_dry=None if damp is None or driest is None else float(each[damp < driest].sum()),
    )


def garden_band(card: SpeciesCard) -> tuple[float, float]:
    """Band of the garden's temperature, degC."""
    low, high = card_limit(card, "temperature")
    return (-np.inf if low is None else low - 273.15, np.inf if high is None else high - 273.15)


def card_limit(card: SpeciesCard, quantity: str) -> tuple[float | None, float | None]:
    """Lower and upper limit of the garden, SI; None for none."""
    found = [one for one in card.limits if one.role == "garden" and one.quantity == quantity]
    return (found[0].low, found[0].high) if found else (None, None)


def receive(card: SpeciesCard, journey: Journey, found: Found) -> Receiving:
    """What to do first, in order.

    The garden that was found decides; where nothing is told of it, the journey says what to expect. Without a living
    worker nothing is given: it is warmed and looked at once more.
    """
    v = {k: one.value for k, one in read_values("receiving.toml").items()}
    expected = expected_garden(journey, v)
    garden = found_garden(found, expected, v)
    band = garden_band(card)
    warming = in_steps(journey.now, band, v)
    steps = [Step("closed_room"), Step("packs_out"), Step("dark", {"hours": v["shade_hours"]})]
    if journey.now is None:
        ends = {"low_degC": band[0], "high_degC": band[1]}
        steps.append(Step("feel_box", {"step_K": v["warm_step"], "hold_h": v["warm_hold"], **ends}))
    elif warming:
        key = "warm" if warming[-1][1] > journey.now else "cool"
        steps.append(Step(key, {"from_degC": journey.now, "to_degC": warming[-1][1], "hours": warming[-1][0]}))
    else:
        steps.append(Step("no_steps", {"now_degC": journey.now}))
    if found.workers == 0:
        steps.append(Step("no_worker", {"hours": v["look_first"]}))
        return Receiving(card.name, journey, found, garden, expected, tuple(steps), warming, band)
    dry = (journey.hours_dry or 0.0) >= v["dry_hours"] or "dry" in found.health
    steps.append(Step("drops_off" if "wet" in found.health else "damp_cover" if dry else "water"))
    if garden == "unknown" or found.workers is None:
        steps.append(Step("count"))
    steps.append(Step(f"garden_{garden}", {"days": v["look_days"]}))
    if garden != "sound" and expected in ("lost", "watch") and not (found.garden is not None and garden == "lost"):
        steps.append(Step("donor_ready"))
    steps += [
        Step("leaves", {"hours": v["leaves_after"], "grams": v["few_leaves"]}),
        Step("look", {"hours": v["look_first"], "days": v["look_days"]}),
        Step("apart", {"weeks": v["apart_weeks"]}),
    ]
    return Receiving(card.name, journey, found, garden, expected, tuple(steps), warming, band)


def expected_garden(journey: Journey, v: dict[str, float]) -> Garden:
    """What the journey alone would make of a garden: lost after days outside its band; else watched or sound."""
    if journey.hours is None:
        return "unknown"
    if journey.now is None:
        return "watch" if journey.hours >= v["lost_after"] else "unknown"
    if journey.hours >= v["lost_after"] and ((journey.hours_cold or 0) + (journey.hours_hot or 0)) > 0:
        return "lost"
    harmed = ((journey.hours_cold, "cold_hours"), (journey.hours_hot, "hot_hours"), (journey.hours_dry, "dry_hours"))
    return "watch" if any((hours or 0.0) >= v[name] for hours, name in harmed) else "sound"


def found_garden(found: Found, expected: Garden, v: dict[str, float]) -> Garden:
    """What the garden that was found counts as."""
    words = set(found.health)
    if found.garden is None and not words:
        return "unknown"
    if (found.garden is not None and found.garden <= v["no_garden"]) or words & DEAD_WORDS:
        return "lost"
    small = found.garden is not None and found.workers and found.garden < v["small_garden"] * found.workers
    if words & HARMED_WORDS or small:
        return "damaged"
    return "watch" if expected in ("watch", "lost") or "grey" in words else "sound"


def in_steps(now: float | None, band: tuple[float, float], v: dict[str, float]) -> tuple[tuple[float, float], ...]:
    """Hours from now and degC to hold from then on, to the nearer end of the band; empty where it is near enough."""
    if now is None or band[0] - v["as_one"] <= now <= band[1] + v["as_one"]:
        return ()
    goal = band[0] if now < band[0] else band[1]
    n = int(np.ceil(abs(goal - now) / v["warm_step"]))
    at = now + (goal - now) * np.arange(1, n + 1) / n
    return tuple((float(k * v["warm_hold"]), float(t)) for k, t in enumerate(at))
