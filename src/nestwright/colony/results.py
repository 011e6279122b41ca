"""What the colony's computations say. Days count from the record's first day; to_dict() is the documented JSON."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = [
    "BAND",
    "Band",
    "Came",
    "Cause",
    "DateSpan",
    "Diagnosis",
    "Estimate",
    "Fit",
    "Forecast",
    "Plan",
    "PlanStep",
    "Point",
    "Rescue",
    "RescueCase",
]

BAND = (0.1, 0.5, 0.9)
"""Quantiles of every band: eight of ten outcomes lie inside."""


@dataclass(frozen=True)
class Band:
    """A quantity day by day: 10, 50 and 90 % quantiles, each shape (n,), at `day` (n,)."""

    name: str
    unit: str
    day: Array
    low: Array
    middle: Array
    high: Array

    def to_dict(self) -> dict[str, Any]:
        return {
            "unit": self.unit,
            "day": self.day.tolist(),
            "low": self.low.tolist(),
            "middle": self.middle.tolist(),
            "high": self.high.tolist(),
        }


@dataclass(frozen=True)
class DateSpan:
    """When something comes: days by which it has come with 10, 50 and 90 % probability; None past the horizon.

    `probability` is that of its coming within the horizon.
    """

    name: str
    what: str
    probability: float
    early: float | None
    middle: float | None
    late: float | None

    def to_dict(self, start: date) -> dict[str, Any]:
        def told(day: float | None) -> str | None:
            return None if day is None else (start + timedelta(days=int(day))).isoformat()

        return {
            "what": self.what,
            "probability": self.probability,
            "early": told(self.early),
            "middle": told(self.middle),
            "late": told(self.late),
        }


@dataclass(frozen=True)
class Estimate:
    """A value learnt from the record: prior and posterior 10, 50, 90 % quantiles; mark and source of the prior."""

    name: str
    unit: str
    prior: tuple[float, float, float]
    low: float
    middle: float
    high: float
    mark: str
    source: str
    learnt: float
    """1 - posterior spread / prior spread, on the scale of the fit (0: the record says nothing about it)."""

    def to_dict(self) -> dict[str, Any]:
        return {
            "unit": self.unit,
            "prior": list(self.prior),
            "low": self.low,
            "middle": self.middle,
            "high": self.high,
            "learnt": self.learnt,
            "mark": self.mark,
        }


@dataclass(frozen=True)
class Point:
    """One observation beside what the model expected of it from all before it (one step ahead), 10, 50, 90 %.

    `surprise`: distance in standard deviations (for seen or not seen: None, and `expected` is the chance of seeing).
    """

    day: float
    kind: str
    how: str
    value: float
    low: float
    high: float
    expected_low: float
    expected: float
    expected_high: float
    surprise: float | None
    line: int = 0

    def to_dict(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "line"}


@dataclass(frozen=True)
class Fit:
    """A colony's posterior. `draws` (n, free values) on the sampler's scale; `log_evidence` with its standard error.

    `history` holds garden (mL) and workers, smoothed, over the record; `inside` is the share of observations inside
    their one-step 80 % band.
    """

    colony: str
    species: str
    start: date
    days: int
    names: tuple[str, ...]
    draws: Array
    log_evidence: float
    log_evidence_error: float
    estimates: tuple[Estimate, ...]
    points: tuple[Point, ...]
    history: dict[str, Band]
    inside: float | None
    judgements: tuple[str, ...]
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "colony": self.colony,
            "species": self.species,
            "start": self.start.isoformat(),
            "days": self.days,
            "estimates": {e.name: e.to_dict() for e in self.estimates},
            "points": [p.to_dict() for p in self.points],
            "history": {k: b.to_dict() for k, b in self.history.items()},
            "inside_pct": None if self.inside is None else 100 * self.inside,
            "rests_on": list(self.judgements),
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Forecast:
    """What comes after the record.

    `bands` by name over days `days` to `days + horizon`: garden mL, fill 0 to 1, workers, eggs, larvae, pupae,
    leaf_mass g dry/day, leaf_fresh g/day, leaf_area cm2/day, waste g/day as taken away (wet), respiration mol CO2/s,
    leaf_given, water g/day where a proof was given. `dates`: bell_full, next_chamber, first_workers, leaves_short.
    `make_by` maps "bell" and "chamber" to the latest day on which making must start. `housing`: (day, name, mL).
    `survival`: probability that workers and garden are alive at the end.
    """

    fit: Fit
    horizon: int
    bands: dict[str, Band]
    dates: tuple[DateSpan, ...]
    make_by: tuple[DateSpan, ...]
    housing: tuple[tuple[float, str, float], ...]
    events: tuple[tuple[float, str], ...]
    survival: float
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        start = self.fit.start
        return {
            "fit": self.fit.to_dict(),
            "horizon_days": self.horizon,
            "bands": {k: b.to_dict() for k, b in self.bands.items()},
            "dates": {d.name: d.to_dict(start) for d in self.dates},
            "make_by": {d.name: d.to_dict(start) for d in self.make_by},
            "housing": [{"day": d, "name": n, "usable_mL": v} for d, n, v in self.housing],
            "events": [{"day": d, "what": w} for d, w in self.events],
            "survival": self.survival,
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Cause:
    """One explanation of the record. `weight`: its probability among those compared. `since` as 10, 50, 90 % days."""

    name: str
    says: str
    weight: float
    log_evidence: float
    since: tuple[float, float, float] | None
    size: tuple[float, float, float] | None
    size_unit: str
    note: str = ""

    def to_dict(self, start: date) -> dict[str, Any]:
        since = None
        if self.since is not None:
            since = [(start + timedelta(days=int(d))).isoformat() for d in self.since]
        return {
            "says": self.says,
            "weight": self.weight,
            "log_evidence": self.log_evidence,
            "since": since,
            "size": None if self.size is None else list(self.size),
            "size_unit": self.size_unit,
            "note": self.note,
        }


@dataclass(frozen=True)
class Diagnosis:
    """Rival causes, the likeliest first. `verdict`: "nothing wrong", a cause in words, or that it cannot be told yet.

    `next_look`: the one observation that would tell the two likeliest apart: what, on which day, and `tells`, the
    expected gain in bits (of at most 1). `evidence_days` (n,), `evidence` cause -> weight (n,) as the record grew.
    """

    colony: str
    species: str
    start: date
    days: int
    causes: tuple[Cause, ...]
    verdict: str
    next_look: str
    look_day: float | None
    tells: float | None
    evidence_days: Array
    evidence: dict[str, Array]
    judgements: tuple[str, ...]
    notes: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "colony": self.colony,
            "species": self.species,
            "start": self.start.isoformat(),
            "days": self.days,
            "verdict": self.verdict,
            "causes": {c.name: c.to_dict(self.start) for c in self.causes},
            "next_look": {"what": self.next_look, "day": self.look_day, "bits": self.tells},
            "evidence": {
                "day": self.evidence_days.tolist(),
                "weight": {k: v.tolist() for k, v in self.evidence.items()},
            },
            "rests_on": list(self.judgements),
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class PlanStep:
    """One change of housing. Sizes in mL and m; `lid_off`: it does not pass the opening."""

    day: float
    kind: str
    name: str
    usable: float
    diameter: float
    height: float
    lid_off: bool
    start_by: float | None
    fill_before: tuple[float, float, float]
    fill_after: tuple[float, float, float]
    due: DateSpan | None = None
    """When fill would leave the band if this change were not made."""
    shape: str = ""

    def to_dict(self, start: date) -> dict[str, Any]:
        def on(day: float | None) -> str | None:
            return None if day is None else (start + timedelta(days=int(day))).isoformat()

        return {
            "date": on(self.day),
            "kind": self.kind,
            "name": self.name,
            "shape": self.shape,
            "usable_mL": self.usable,
            "diameter_mm": self.diameter * 1000,
            "height_mm": self.height * 1000,
            "lid_off": self.lid_off,
            "start_by": on(self.start_by),
            "fill_before_pct": [100 * x for x in self.fill_before],
            "fill_after_pct": [100 * x for x in self.fill_after],
            "due": None if self.due is None else self.due.to_dict(start),
        }


@dataclass(frozen=True)
class Plan:
    """The next bells and chambers, the best plan and those it beat.

    `cost` is expected days outside the band plus handlings weighed as `handling_days`; `inside` the share of time with
    fill inside the card's band. `beaten`: alternatives, each with what it was, its steps, inside_pct, handlings, cost,
    and worse_by with its standard error over the same paths. `judgements`: what the weighing rests on.
    """

    forecast: Forecast
    steps: tuple[PlanStep, ...]
    inside: tuple[float, float, float]
    handlings: int
    cost: float
    fill: Band
    beaten: tuple[dict[str, Any], ...]
    notes: tuple[str, ...] = ()
    handling_days: float = 0.0
    band: tuple[float, float] = (0.0, 1.0)
    cost_error: float = 0.0
    """Standard error of the cost over the paths."""
    judgements: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        start = self.forecast.fit.start
        return {
            "colony": self.forecast.fit.colony,
            "species": self.forecast.fit.species,
            "start": start.isoformat(),
            "horizon_days": self.forecast.horizon,
            "steps": [s.to_dict(start) for s in self.steps],
            "inside_pct": [100 * x for x in self.inside],
            "handlings": self.handlings,
            "cost_days": self.cost,
            "cost_error_days": self.cost_error,
            "handling_days": self.handling_days,
            "band_pct": [100 * x for x in self.band],
            "fill": self.fill.to_dict(),
            "beaten": list(self.beaten),
            "rests_on": [*self.forecast.fit.judgements, *self.judgements],
            "notes": list(self.notes),
        }


RescueVerdict = Literal["none needed", "no difference", "least", "no queen"]


@dataclass(frozen=True)
class Came:
    """What a record leaves of a colony on its last day: 10, 50, 90 % of workers, garden mL, and eggs, larvae, pupae;
    the ISO date on which each of the three was last seen, None: never."""

    workers: tuple[float, float, float]
    garden: tuple[float, float, float]
    brood: tuple[tuple[float, float, float], ...]
    last_seen: tuple[str | None, str | None, str | None]


@dataclass(frozen=True)
class RescueCase:
    """One amount of donor garden: `pulls_through` with its 80 % interval over what is not known of the species;
    `held_by` workers needed to tend it; days until the first own worker, 10, 50, 90 % (None: never)."""

    garden: float
    pulls_through: float
    interval: tuple[float, float]
    held_by: tuple[float, float, float]
    first_workers: tuple[float | None, float | None, float | None]
    workers_at_end: tuple[float, float, float]
    garden_at_end: tuple[float, float, float]
    workers_last: tuple[float | None, float | None, float | None] = (None, None, None)
    """Days until the last worker is dead (None: some live at the end)."""
    garden_lasts: tuple[float | None, float | None, float | None] = (None, None, None)
    """Days until less than 1 mL of garden is left."""
    as_good: bool = True
    """Not distinguishably worse than the best amount on the same draws."""
    founded_anew: float = 0.0
    """Share of what pulled through in which workers were fewer than 5 before: the queen began anew."""
    lives_on: float | None = None
    """Chance of garden, brood and 5 workers at the end, be these fewer than half of those that came."""

    def to_dict(self) -> dict[str, Any]:
        return {
            "garden_mL": self.garden,
            "pulls_through": self.pulls_through,
            "as_good_as_best": self.as_good,
            "founded_anew": self.founded_anew,
            "lives_on": self.lives_on,
            "interval": list(self.interval),
            "held_by_workers": list(self.held_by),
            "first_workers_days": list(self.first_workers),
            "workers_at_end": list(self.workers_at_end),
            "garden_at_end_mL": list(self.garden_at_end),
            "workers_last_days": list(self.workers_last),
            "garden_lasts_days": list(self.garden_lasts),
        }


@dataclass(frozen=True)
class Rescue:
    """A colony that lost its garden, against amounts of donor garden."""

    species: str
    queen: bool
    workers: float
    brood: tuple[float, float, float]
    days: int
    cases: tuple[RescueCase, ...]
    enough: float | None
    """Smallest amount tried with at least nine chances in ten, mL, by the whole percent that is shown."""
    judgements: tuple[str, ...]
    notes: tuple[str, ...] = field(default=())
    verdict: RescueVerdict = "least"
    """"none needed" (a record's own garden does as well as any amount more), "no difference" (between all amounts),
    "least" (`recommended` is the least that reaches nine in ten, else the least as good as the
    best), "no queen" (`recommended` is for the longest life)."""
    recommended: float | None = None
    """Amount that the answer leads with, mL: `enough` where the verdict is "least" and there is one, else the least
    amount tried that is not distinguishably worse than the best."""
    came: Came | None = None
    """What a record tells of the colony; None where it was counted and stated."""

    def to_dict(self) -> dict[str, Any]:
        stages = ("eggs", "larvae", "pupae")
        came = self.came
        return {
            "species": self.species,
            "queen": self.queen,
            "workers": self.workers,
            "workers_range": list(came.workers) if came else None,
            "brood": dict(zip(stages, self.brood, strict=True)),
            "brood_range": dict(zip(stages, map(list, came.brood), strict=True)) if came else None,
            "brood_last_seen": dict(zip(stages, came.last_seen, strict=True)) if came else None,
            "garden_left_mL": list(came.garden) if came else None,
            "days": self.days,
            "verdict": self.verdict,
            "recommended_mL": self.recommended,
            "cases": [c.to_dict() for c in self.cases],
            "enough_mL": self.enough,
            "rests_on": list(self.judgements),
            "notes": list(self.notes),
        }
