"""When a habitat stops holding its limits because the garden in it has grown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.proof import prove
from nestwright.climate.results import DAY, LimitResult, Proof
from nestwright.climate.room_air import Room
from nestwright.errors import InputError
from nestwright.habitat.model import Habitat

Array = NDArray[np.float64]

__all__ = ["Break", "GrowingCase", "GrowingPoint", "GrowingProof", "Growth", "prove_growing"]

LOOKS = 12
"""Days looked at, evenly over the time, before the day of a break is sought between two of them."""


@dataclass(frozen=True)
class Growth:
    """A garden that grows: `day` (n,) rising by whole days, `volume` m3 and `workers`, each shape (n,)."""

    day: Array
    volume: Array
    workers: Array


@dataclass(frozen=True)
class GrowingPoint:
    """The habitat on one day. volume m3; `margin` scaled, of the limit `first`; co2 0 to 1 in the garden's air;
    water_rate kg/s; refill_time s (None: never); drip_rate kg/s. `failed`: limits outside their band; `sure`: no
    verdict turns within the uncertain inputs."""

    day: float
    volume: float
    workers: float
    margin: float
    first: str
    failed: tuple[str, ...]
    sure: bool
    co2: float
    water_rate: float
    refill_time: float | None
    drip_rate: float

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
            "co2_pct": self.co2 * 100,
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
class GrowingCase:
    """One course of growth. `broken` None: no limit fails by growth. `outgrown`: the first day on which the garden no
    longer fits into what covers it (None: never); nothing is proved from then on."""

    name: str
    points: tuple[GrowingPoint, ...]
    broken: Break | None
    outgrown: float | None

    @property
    def fails_at_first(self) -> tuple[str, ...]:
        """Limits that fail on the first day already: growth is not to blame."""
        return self.points[0].failed if self.points else ()

    def to_dict(self, start: date | None) -> dict[str, Any]:
        return {
            "fails_at_first": list(self.fails_at_first),
            "breaks": None if self.broken is None else self.broken.to_dict(start),
            "outgrown": None if self.outgrown is None else {"day": self.outgrown, "date": _date(start, self.outgrown)},
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
    cases: tuple[GrowingCase, ...]
    notes: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        """No limit fails on any day looked at, and the garden always fits."""
        return all(not p.failed for c in self.cases for p in c.points) and all(c.outgrown is None for c in self.cases)

    def to_dict(self) -> dict[str, Any]:
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "species": self.species,
            "room": self.room,
            "chamber": self.chamber,
            "space_mL": self.space * 1e6,
            "holds": self.holds,
            "cases": {c.name: c.to_dict(self.start) for c in self.cases},
            "notes": list(self.notes),
        }


def prove_growing(
    habitat: Habitat, room: Room, courses: Mapping[str, Growth], *, start: date | None = None, looks: int = LOOKS
) -> GrowingProof:
    """Prove a habitat while its garden grows.

    Parameters
    ----------
    courses : mapping
        Name to course of growth; each stands in place of the garden of the habitat's file.
    start : date, optional
        Calendar day of day 0 of the courses.
    looks : int
        Days looked at, first and last among them, at least 2.

    Returns
    -------
    GrowingProof
        Steady proofs at the room's mean: a garden grows over weeks, a habitat comes to rest within days. Where a
        limit fails between two days looked at, the first such day is sought by halving.

    Raises
    ------
    InputError
        When the habitat does not have one garden, or a course is empty or not finite.
    """
    if len(habitat.gardens) != 1:
        raise InputError(
            "growth is proved for a habitat with one garden",
            file=habitat.path,
            field="garden",
            found=f"{len(habitat.gardens)} gardens",
            allowed="one [[garden]]",
        )
    chamber = habitat.gardens[0].chamber
    bell = next((b for b in habitat.bells if b.chamber == chamber), None)
    space = (bell.shape if bell else habitat.chamber(chamber).shape).volume
    cases = tuple(_case(habitat, room, name, growth, space, looks) for name, growth in courses.items())
    notes = ("steady state at the room's mean on each day",) if not room.fixed else ()
    return GrowingProof(habitat.name, habitat.revision, habitat.species, room.name, start, chamber, space, cases, notes)


def _case(habitat: Habitat, room: Room, name: str, growth: Growth, space: float, looks: int) -> GrowingCase:
    n = len(growth.day)
    if n == 0 or not (np.isfinite(growth.volume).all() and np.isfinite(growth.workers).all()):
        raise InputError("a course of growth is empty or not finite", field=name)
    too_big = np.flatnonzero(growth.volume > space)
    outgrown = int(too_big[0]) if len(too_big) else None
    last = n - 1 if outgrown is None else outgrown - 1
    if last < 0:
        return GrowingCase(name, (), None, float(growth.day[0]))
    seen: dict[int, Proof] = {}

    def at(i: int) -> Proof:
        if i not in seen:
            seen[i] = prove(_with_garden(habitat, growth, i), room)
        return seen[i]

    days = sorted({round(x) for x in np.linspace(0, last, max(2, looks))})
    held = {one.name for one in at(0).limits if one.held}
    broken = None
    for before, day in pairwise(days):
        if not _lost(at(day), held):
            continue
        low, high = before, day
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if _lost(at(middle), held) else (middle, high)
        worst = min(_lost(at(high), held), key=lambda one: one.scaled_margin)
        broken = Break(
            float(growth.day[high]),
            worst.name,
            float(growth.day[low]),
            float(growth.volume[high]),
            float(growth.workers[high]),
            worst.rests_on,
        )
        days = sorted({*days, high})
        break
    points = tuple(_point(at(i), growth, i) for i in days)
    return GrowingCase(name, points, broken, None if outgrown is None else float(growth.day[outgrown]))


def _with_garden(habitat: Habitat, growth: Growth, i: int) -> Habitat:
    garden = replace(habitat.gardens[0], volume=float(growth.volume[i]), workers=round(float(growth.workers[i])))
    return replace(habitat, gardens=(garden,))


def _lost(proof: Proof, held: set[str]) -> Sequence[LimitResult]:
    """Limits outside their band now that held on the first day."""
    return [one for one in proof.limits if one.name in held and not one.held]


def _point(proof: Proof, growth: Growth, i: int) -> GrowingPoint:
    first = proof.first_limit
    garden = next((z for z in proof.zones if z.role == "garden"), None)
    return GrowingPoint(
        day=float(growth.day[i]),
        volume=float(growth.volume[i]),
        workers=float(growth.workers[i]),
        margin=float("nan") if first is None else first.scaled_margin,
        first="" if first is None else first.name,
        failed=tuple(one.name for one in proof.limits if not one.held),
        sure=all(one.sure for one in proof.limits),
        co2=float("nan") if garden is None else garden.co2,
        water_rate=proof.water_rate,
        refill_time=proof.refill_time,
        drip_rate=proof.drip_rate,
    )


def _date(start: date | None, day: float) -> str | None:
    return None if start is None else (start + timedelta(days=int(day))).isoformat()
