"""A build as its dry run found it: the limits of its habitat with the openings, leaks and block that were fitted."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_parts import assemble_build, parts_of, with_factors
from nestwright.climate.dry_run_results import MarginShift
from nestwright.climate.limits import bound_limits
from nestwright.climate.proof import NotSettled, mean_air, settled, station_pressure
from nestwright.climate.reading import limit_values
from nestwright.climate.results import LimitResult
from nestwright.climate.room_air import Room
from nestwright.data import load_species
from nestwright.habitat.model import Habitat

Array = NDArray[np.float64]

__all__ = ["Builds", "build_margins", "margins_in"]

ENDS = (0.1, 0.5, 0.9)
"""Ends of an 80 % interval and its middle."""
NO_LEAK = 1e-4
"""Factor of a leak that is not there."""


@dataclass(frozen=True)
class Builds:
    """Builds drawn from what a dry run knows of one: names of its parts, and their factors on the design, shape
    (draws, parts)."""

    parts: tuple[str, ...]
    factors: Array

    def to_dict(self) -> dict[str, Any]:
        return {"parts": list(self.parts), "factors": self.factors.tolist()}

    @staticmethod
    def of(document: Any) -> Builds:
        """Out of the JSON of `to_dict`. Raises ValueError, TypeError or LookupError for anything else."""
        factors = np.array(document["factors"], dtype=float)
        parts = tuple(str(name) for name in document["parts"])
        if factors.ndim != 2 or factors.shape[1] != len(parts) or not len(factors):
            raise ValueError("factors do not belong to the parts")
        if not (np.isfinite(factors).all() and (factors >= 0).all()):
            raise ValueError("a factor is no number from 0 on")
        return Builds(parts, factors)


def margins_in(
    habitat: Habitat,
    room: Room,
    t: float,
    e: float,
    builds: Builds,
    progress: Callable[[float], None] | None = None,
) -> tuple[tuple[LimitAndMargins, ...], int]:
    """Each limit's margin of the design and of every drawn build at rest in air of `t` K and `e` Pa of vapour; how many
    builds found no steady air and are left out. Raises NotSettled when the design or every build finds none."""
    card = load_species(habitat.species)
    whole = assemble_build(habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2)
    limits = bound_limits(whole)
    design = with_factors(whole, {})
    y, _ = settled(design, t, e)
    before = limit_values(design, y)
    after: list[list[float]] = []
    for done, row in enumerate(builds.factors):
        if progress is not None:
            progress(done / len(builds.factors))
        factors = {name: max(float(f), NO_LEAK) for name, f in zip(builds.parts, row, strict=True)}
        build = with_factors(whole, factors)
        try:
            there = limit_values(build, settled(build, t, e, y)[0])
        except NotSettled:
            continue
        after.append([float(b.margin(there[(b.zone, b.quantity)])) for b in limits])
    if not after:
        raise NotSettled("the build finds no steady air in this room")
    table = np.array(after)
    made = tuple(
        LimitAndMargins(b.name, b.quantity, float(b.margin(before[(b.zone, b.quantity)])), table[:, k])
        for k, b in enumerate(limits)
    )
    return made, len(builds.factors) - len(after)


@dataclass(frozen=True)
class LimitAndMargins:
    """One limit: margin of the design, and of each drawn build, shape (draws,), in the limit's own unit."""

    name: str
    quantity: str
    before: float
    after: Array

    def moved(self, at: float | None = None) -> Array:
        """Margins of the drawn builds, moved by the same amount from `at` where that is the design's margin."""
        return np.asarray(self.after + (0.0 if at is None else at - self.before))

    def shift(self, at: float | None = None) -> MarginShift:
        """The margin with its 80 % interval, `moved`."""
        moved = self.moved(at)
        low, middle, high = np.quantile(moved, ENDS).tolist()
        before = self.before if at is None else at
        return MarginShift(self.name, self.quantity, before, low, middle, high, float((moved >= 0).mean()))


def build_margins(
    habitat: Habitat, room: Room, builds: Builds, limits: tuple[LimitResult, ...] = ()
) -> tuple[tuple[MarginShift, ...], float | None, tuple[str, ...]]:
    """The limits of a build in a room, the chance that it holds them all (None: not proved), and remarks.

    Parameters
    ----------
    habitat, room : the design, garden and all; the room, at its mean.
    builds : from the dry run.
    limits : those of a proof of the design in this room. The difference that the build makes at the room's mean is
        added to their margins, so that over a year they are those of the worst hour, as the proof's own intervals are.
    """
    told = {one.name: one.margin for one in limits}
    if changed := _changed(habitat, room, builds):
        # a factor without its part would be dropped without a word, and the rest told as if it were the whole build
        note = f"the file has other parts than the dry run, at the same revision ({changed}): its factors are not used"
        return (), None, (note,)
    try:
        found, lost = margins_in(habitat, room, *mean_air(room), builds)
    except NotSettled:
        return (
            (),
            None,
            ("the design, or the build, finds no steady air in this room: the build's limits are not proved",),
        )
    notes = (f"{lost} of {len(builds.factors)} drawn builds found no steady air and are left out",) if lost else ()
    held = np.array([one.moved(told.get(one.name)) >= 0 for one in found]).all(axis=0)
    return tuple(one.shift(told.get(one.name)) for one in found), float(held.mean()) if found else None, notes


def _changed(habitat: Habitat, room: Room, builds: Builds) -> str:
    """Parts that only the dry run or only the design has; "" where both have the same."""
    card = load_species(habitat.species)
    whole = assemble_build(habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2)
    now, then = {part.name for part in parts_of(whole)}, set(builds.parts)
    told = [
        f"{', '.join(sorted(names))} {word}" for names, word in ((then - now, "gone"), (now - then, "new")) if names
    ]
    return "; ".join(told)
