"""What the proof of a growing garden says. SI inside; `to_dict()` gives the documented JSON in the builder's units."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.results import DAY

Array = NDArray[np.float64]

__all__ = ["Break", "Deciding", "GrowingCase", "GrowingPoint", "GrowingProof", "Growth", "Stage"]


@dataclass(frozen=True)
class Growth:
    """A garden that grows: `day` (n,) rising by whole days, `volume` m3 and `workers`, each shape (n,)."""

    day: Array
    volume: Array
    workers: Array


@dataclass(frozen=True)
class Deciding:
    """The limit that decides what is said of a day: of those with the worst verdict, the one with the least margin.

    Margins are scaled, in tolerances; `margin_low` and `margin_high` are what the proof's uncertain inputs leave open.
    """

    limit: str
    margin: float
    margin_low: float
    margin_high: float
    held: bool
    sure: bool
    rests_on: tuple[str, ...] = ()
    """Judgement values that move it noticeably."""

    @property
    def grade(self) -> int:
        """0 holds, 1 holds and is not sure, 2 fails and is not sure, 3 fails."""
        return (0 if self.sure else 1) if self.held else (3 if self.sure else 2)

    def to_dict(self) -> dict[str, Any]:
        return {
            "limit": self.limit,
            "margin": self.margin,
            "margin_low": self.margin_low,
            "margin_high": self.margin_high,
            "held": self.held,
            "sure": self.sure,
            "rests_on": list(self.rests_on),
        }


@dataclass(frozen=True)
class GrowingPoint:
    """The habitat on one day. volume m3; `margin` scaled, of the limit `first`; co2 0 to 1 in the garden's air, with
    `co2_low` and `co2_high` over the proof's uncertain inputs (NaN without a limit of CO2 there); water_rate kg/s;
    refill_time s (None: never); drip_rate kg/s. `failed`: limits outside their band; `sure`: no verdict turns within
    the uncertain inputs; `decides` None: no limit was set."""

    day: float
    volume: float
    workers: float
    margin: float
    first: str
    failed: tuple[str, ...]
    sure: bool
    co2: float
    co2_low: float
    co2_high: float
    water_rate: float
    refill_time: float | None
    drip_rate: float
    decides: Deciding | None

    @property
    def grade(self) -> int:
        """That of the limit that decides; 0 without a limit."""
        return 0 if self.decides is None else self.decides.grade

    def to_dict(self, start: date | None) -> dict[str, Any]:
        return {
            "day": self.day,
            "date": _date(start, self.day),
            "garden_mL": self.volume * 1e6,
            "workers": self.workers,
            "holds": not self.failed,
            "sure": self.sure,
            "worst_margin": self.margin,
            "first_limit": self.first,
            "failed": list(self.failed),
            "decides": None if self.decides is None else self.decides.to_dict(),
            "co2_pct": self.co2 * 100,
            "co2_low_pct": self.co2_low * 100,
            "co2_high_pct": self.co2_high * 100,
            "water_g_per_day": self.water_rate * 1000 * DAY,
            "refill_days": None if self.refill_time is None else self.refill_time / DAY,
            "drip_on_garden_g_per_day": self.drip_rate * 1000 * DAY,
        }


@dataclass(frozen=True)
class Break:
    """The first day on which a limit fails that held on the first day. `last_held`: the last day found to hold it."""

    day: float
    limit: str
    last_held: float
    volume: float
    workers: float
    rests_on: tuple[str, ...]

    def to_dict(self, start: date | None) -> dict[str, Any]:
        return {
            "day": self.day,
            "date": _date(start, self.day),
            "limit": self.limit,
            "garden_mL": self.volume * 1e6,
            "workers": self.workers,
            "rests_on": list(self.rests_on),
        }


@dataclass(frozen=True)
class Stage:
    """Days in a row with the same verdict; `worst` is the one among those looked at with the least margin."""

    first: GrowingPoint
    last: GrowingPoint
    worst: GrowingPoint

    def to_dict(self, start: date | None) -> dict[str, Any]:
        decides = self.worst.decides
        return {
            "day": self.first.day,
            "date": _date(start, self.first.day),
            "last_day": self.last.day,
            "last_date": _date(start, self.last.day),
            "worst_day": self.worst.day,
            "worst_date": _date(start, self.worst.day),
            "decides": None if decides is None else decides.to_dict(),
        }


@dataclass(frozen=True)
class GrowingCase:
    """One course of growth. `broken` None: no limit fails by growth. `outgrown`: the first day on which the garden no
    longer fits into what covers it (None: never); `gone`: the first day without any garden (None: never); nothing is
    proved from then on."""

    name: str
    points: tuple[GrowingPoint, ...]
    broken: Break | None
    outgrown: float | None
    gone: float | None = None

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The days looked at, in stages of one verdict."""
        made: list[Stage] = []
        for point in self.points:
            if made and made[-1].first.grade == point.grade:
                before = made[-1]
                worst = min(before.worst, point, key=_decided_margin)
                made[-1] = Stage(before.first, point, worst)
            else:
                made.append(Stage(point, point, point))
        return tuple(made)

    def on(self, day: float) -> GrowingPoint | None:
        """What was found on a day; None when it was not looked at."""
        return next((p for p in self.points if p.day == day), None)

    @property
    def fails_at_first(self) -> tuple[str, ...]:
        """Limits that fail on the first day already: growth is not to blame."""
        return self.points[0].failed if self.points else ()

    def to_dict(self, start: date | None) -> dict[str, Any]:
        return {
            "fails_at_first": list(self.fails_at_first),
            "breaks": None if self.broken is None else self.broken.to_dict(start),
            "outgrown": _day(start, self.outgrown),
            "gone": _day(start, self.gone),
            "stages": [stage.to_dict(start) for stage in self.stages],
            "days": [p.to_dict(start) for p in self.points],
        }


@dataclass(frozen=True)
class GrowingProof:
    """A habitat against courses of growth, by name, in one room held steady."""

    habitat: str
    revision: str
    species: str
    room: str
    start: date | None
    chamber: str
    space: float
    """Volume of what covers the garden: bell or chamber, m3."""
    bell: bool
    """A bell covers it, not the chamber alone."""
    cases: tuple[GrowingCase, ...]
    looked: tuple[float, ...]
    """Days looked at in every course that has a garden there that fits."""
    courses: Mapping[str, Growth]
    warnings: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """No limit fails on any day looked at, and there is always a garden, which fits."""
        return all(c.outgrown is None and c.gone is None and not any(p.failed for p in c.points) for c in self.cases)

    def to_dict(self) -> dict[str, Any]:
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "species": self.species,
            "room": self.room,
            "chamber": self.chamber,
            "space_mL": self.space * 1e6,
            "bell": self.bell,
            "holds": self.holds,
            "warnings": list(self.warnings),
            "cases": {c.name: c.to_dict(self.start) for c in self.cases},
            "notes": list(self.notes),
        }


def _decided_margin(point: GrowingPoint) -> float:
    return float("inf") if point.decides is None else point.decides.margin


def _date(start: date | None, day: float) -> str | None:
    return None if start is None else (start + timedelta(days=int(day))).isoformat()


def _day(start: date | None, day: float | None) -> dict[str, Any] | None:
    return None if day is None else {"day": day, "date": _date(start, day)}
