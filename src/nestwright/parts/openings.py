"""Openings that a design leaves between ants and where they are not to go, as wide as they come out when made."""

from __future__ import annotations

import re
from dataclasses import dataclass

from nestwright.data import SpeciesCard
from nestwright.errors import InputError
from nestwright.habitat.model import Habitat, Pattern
from nestwright.parts.ant_values import Stop, stop_of
from nestwright.parts.listing import parts_of
from nestwright.parts.mesh_choice import widest_opening
from nestwright.parts.model import Part
from nestwright.parts.process_rules import Processes, shipped_processes

__all__ = ["LIVED", "AntOpening", "ant_openings"]

LIVED = ("garden", "forage", "dump", "nursery")
"""Roles of chambers that ants walk in; in an outer case or a sump they are not meant to be."""


@dataclass(frozen=True)
class AntOpening:
    """One vent or grid that ants come to: its field of the file, name ("pot grid" for the grid under a pot), pattern,
    where it leads ("" for the room), widest clear way of one opening as made, m, what stops the smallest worker."""

    field: str
    name: str
    pattern: Pattern
    into: str
    widest: float
    stop: Stop
    line: int

    @property
    def passed(self) -> bool | None:
        """Whether the smallest worker passes; None where some may."""
        return False if self.widest <= self.stop.sure else True if self.widest > self.stop.passes else None


def ant_openings(
    habitat: Habitat, card: SpeciesCard, parts: tuple[Part, ...] | None = None, rules: Processes | None = None
) -> tuple[AntOpening, ...]:
    """Vents and grids of a design that ants come to and are not to pass, in the order of the file.

    `parts`: the design's own where they are at hand; where it cannot be made as it stands its openings count as drawn.
    `rules`: by which openings come out wider, else the shipped ones.
    """
    if parts is None:
        try:
            parts = parts_of(habitat).parts
        except InputError:
            parts = ()
    rules, stop = rules or shipped_processes(), stop_of(card)
    ways = {part.serves: part.way for part in parts if part.pattern is not None}
    for part in parts:  # a vent's holes are features of the wall that they are in
        ways |= {
            f"vent.{re.sub(r' [0-9]+$', '', f.name)}": part.way for f in part.features if f.kind in ("hole", "slot")
        }
    roles = {chamber.name: chamber.role for chamber in habitat.chambers}
    found = []
    for vent in habitat.vents:
        there = roles.get(vent.to, "room")
        if roles[vent.chamber] not in LIVED or there in LIVED or vent.closed >= 1:
            continue
        field, into = f"vent.{vent.name}", "" if there == "room" else vent.to
        widest = _widest(vent.pattern, ways.get(field, ""), rules)
        found.append(AntOpening(field, vent.name, vent.pattern, into, widest, stop, vent.line))
    for grid in habitat.grids:
        field = f"grid.{grid.above}"
        widest = _widest(grid.pattern, ways.get(field, ""), rules)
        found.append(AntOpening(field, f"{grid.above} grid", grid.pattern, grid.below, widest, stop, grid.line))
    return tuple(found)


def _widest(pattern: Pattern, way: str, rules: Processes) -> float:
    if pattern.kind == "mesh":
        return widest_opening(pattern.aperture)
    width = min(pattern.width, pattern.length) if pattern.kind == "slot" else pattern.width
    return width + (rules.spread(way, width) if way else 0.0)
