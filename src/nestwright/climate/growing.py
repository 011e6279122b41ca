"""When a habitat stops holding its limits because the garden in it has grown."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.growing_results import Break, Deciding, GrowingCase, GrowingPoint, GrowingProof, Growth, Stage
from nestwright.climate.proof import prove
from nestwright.climate.results import LimitResult, Proof
from nestwright.climate.room_air import Room
from nestwright.data import limit_tolerances
from nestwright.errors import InputError
from nestwright.habitat.model import Habitat

Array = NDArray[np.float64]

__all__ = ["Break", "Deciding", "GrowingCase", "GrowingPoint", "GrowingProof", "Growth", "Stage", "prove_growing"]

LOOKS = 12
"""Days looked at, evenly over the time, before the day of a break is sought between two of them."""


def prove_growing(
    habitat: Habitat,
    room: Room,
    courses: Mapping[str, Growth],
    *,
    start: date | None = None,
    looks: int = LOOKS,
    progress: Callable[[float], None] | None = None,
) -> GrowingProof:
    """Prove a habitat while its garden grows.

    Parameters
    ----------
    courses : mapping
        Name to course of growth; each stands in place of the garden of the habitat's file. All have the same days.
    start : date, optional
        Calendar day of day 0 of the courses.
    looks : int
        Days looked at, first and last among them, at least 2; the same in every course.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    GrowingProof
        Steady proofs at the room's mean: a garden grows over weeks, a habitat comes to rest within days. Where a
        limit fails or the verdict changes between two days looked at, the first such day is sought by halving.

    Raises
    ------
    InputError
        When the habitat does not have one garden, a course is empty or not finite, or their days differ.
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
    days = _common_days(courses)
    looked = sorted({round(x) for x in np.linspace(0, len(days) - 1, max(2, looks))})
    cases: list[GrowingCase] = []

    def done(share: float) -> None:
        if progress:
            progress((len(cases) + share) / len(courses))

    for name, growth in courses.items():
        cases.append(_case(habitat, room, name, growth, space, looked, done))
        done(0.0)
    return GrowingProof(
        habitat.name,
        habitat.revision,
        habitat.species,
        room.name,
        start,
        chamber,
        space,
        bell is not None,
        tuple(cases),
        looked=tuple(float(days[i]) for i in looked),
        courses=courses,
        notes=() if room.fixed else ("steady state at the room's mean on each day",),
    )


def _common_days(courses: Mapping[str, Growth]) -> Array:
    """The days of all courses. Raises InputError where one is empty, not finite, or has days of its own."""
    days = next(iter(courses.values())).day
    for name, one in courses.items():
        if len(one.day) == 0 or not (np.isfinite(one.volume).all() and np.isfinite(one.workers).all()):
            raise InputError("a course of growth is empty or not finite", field=name)
        if not np.array_equal(one.day, days):
            raise InputError("the courses of growth have different days", field=name)
    return days


def _case(
    habitat: Habitat,
    room: Room,
    name: str,
    growth: Growth,
    space: float,
    looked: Sequence[int],
    done: Callable[[float], None],
) -> GrowingCase:
    too_big, gone = _first(growth.volume > space), _first(growth.volume <= 0)
    ends = [i for i in (too_big, gone) if i is not None]
    end = min(ends, default=len(growth.day))  # nothing is proved from there
    outgrown = float(growth.day[end]) if ends and end == too_big else None
    lost = float(growth.day[end]) if ends and end == gone else None
    if end == 0:
        return GrowingCase(name, (), None, outgrown, lost)
    seen: dict[int, Proof] = {}

    def at(i: int) -> Proof:
        if i not in seen:
            seen[i] = prove(_with_garden(habitat, growth, i), room)
            done(len(seen) / (len(seen) + len(looked)))  # how many more the halving will ask for is not known
        return seen[i]

    def grade(i: int) -> int:
        decides = _deciding(at(i))
        return 0 if decides is None else decides.grade

    days = sorted({*(i for i in looked if i < end), end - 1})
    held = {one.name for one in at(0).limits if one.held}
    broken = None
    for before, day in pairwise(days):
        if not _lost(at(day), held):
            continue
        high = _turn(before, day, lambda i: bool(_lost(at(i), held)))
        worst = min(_lost(at(high), held), key=lambda one: one.scaled_margin)
        broken = Break(
            float(growth.day[high]),
            worst.name,
            float(growth.day[high - 1]),
            float(growth.volume[high]),
            float(growth.workers[high]),
            worst.rests_on,
        )
        break
    for before, day in pairwise(days):
        low = before
        while grade(low) != grade(day):
            now = grade(low)
            low = _turn(low, day, lambda i, now=now: grade(i) != now)  # type: ignore[misc]
    points = tuple(_point(at(i), growth, i) for i in sorted(seen))
    return GrowingCase(name, points, broken, outgrown, lost)


def _first(found: NDArray[np.bool_]) -> int | None:
    return int(found.argmax()) if found.any() else None


def _turn(low: int, high: int, turned: Callable[[int], bool]) -> int:
    """First index after `low` that has turned, by halving; `high` has."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if turned(middle) else (middle, high)
    return high


def _with_garden(habitat: Habitat, growth: Growth, i: int) -> Habitat:
    garden = replace(habitat.gardens[0], volume=float(growth.volume[i]), workers=round(float(growth.workers[i])))
    return replace(habitat, gardens=(garden,))


def _lost(proof: Proof, held: set[str]) -> Sequence[LimitResult]:
    """Limits outside their band now that held on the first day."""
    return [one for one in proof.limits if one.name in held and not one.held]


def _deciding(proof: Proof) -> Deciding | None:
    """The limit that decides, with what the uncertain inputs leave open of its margin."""
    made = [
        Deciding(one.name, one.scaled_margin, *_margin_ends(one), one.held, one.sure, one.rests_on)
        for one in proof.limits
    ]
    return max(made, key=lambda one: (one.grade, -one.margin), default=None)


def _margin_ends(limit: LimitResult) -> tuple[float, float]:
    """Least and largest scaled margin while the value moves from its low to its high end."""
    values = [limit.low_value, limit.value, limit.high_value]
    if limit.low is not None and limit.high is not None:
        values.append(min(max((limit.low + limit.high) / 2, limit.low_value), limit.high_value))
    inside = [
        min(
            float("inf") if limit.low is None else value - limit.low,
            float("inf") if limit.high is None else limit.high - value,
        )
        / limit_tolerances()[limit.quantity]
        for value in values
    ]
    return min(inside), max(inside)


def _point(proof: Proof, growth: Growth, i: int) -> GrowingPoint:
    first = proof.first_limit
    garden = next((z for z in proof.zones if z.role == "garden"), None)
    gas = next((one for one in proof.limits if garden and (one.zone, one.quantity) == (garden.name, "co2")), None)
    return GrowingPoint(
        day=float(growth.day[i]),
        volume=float(growth.volume[i]),
        workers=float(growth.workers[i]),
        margin=float("nan") if first is None else first.scaled_margin,
        first="" if first is None else first.name,
        failed=tuple(one.name for one in proof.limits if not one.held),
        sure=all(one.sure for one in proof.limits),
        co2=float("nan") if garden is None else garden.co2,
        co2_low=float("nan") if gas is None else gas.low_value,
        co2_high=float("nan") if gas is None else gas.high_value,
        water_rate=proof.water_rate,
        refill_time=proof.refill_time,
        drip_rate=proof.drip_rate,
        decides=_deciding(proof),
    )
