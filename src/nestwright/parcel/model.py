"""A parcel: box, filler, cup with garden and ants, packs, and the way that it goes. SI, times in s unless told."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Literal

from nestwright.climate.room_air import Room
from nestwright.data import SpeciesCard

__all__ = ["UNCERTAIN", "Box", "Cup", "Filler", "Holes", "Leg", "Pack", "Parcel"]

Layers = tuple[tuple[float, str], ...]
"""Thickness m and material, outside in."""

UNCERTAIN = {
    "pack.power_factor": 1.0,
    "pack.start_factor": 1.0,
    "outside.offset": 0.0,
    "box.leak_factor": 1.0,
    "box.conductance_factor": 1.0,
    "cup.position": 0.0,
}
"""What `carry` takes in `values`, and what it is when left out: factors; `outside.offset` K; `cup.position` from 0 (the
cup in the middle) to 1 (the cup against the pack)."""


@dataclass(frozen=True)
class Holes:
    count: int
    width: float


@dataclass(frozen=True)
class Box:
    """Inside sizes m; `seam_gap` m along the rim of the lid, 0 for a taped one; vent holes through all layers."""

    width: float
    depth: float
    height: float
    layers: Layers
    seam_gap: float = 0.0
    holes: Holes | None = None

    @property
    def volume(self) -> float:
        return self.width * self.depth * self.height

    @property
    def area(self) -> float:
        return 2 * (self.width * self.depth + self.width * self.height + self.depth * self.height)

    @property
    def thickness(self) -> float:
        return sum(d for d, _ in self.layers)

    @property
    def tight(self) -> bool:
        return self.seam_gap <= 0 and self.holes is None


@dataclass(frozen=True)
class Filler:
    """A loose material that fills `share` of the room left in the box."""

    material: str
    share: float


@dataclass(frozen=True)
class Cup:
    """`volume` m3 with a lid that has holes or none; garden m3; workers; `cotton` kg of water in damp cotton."""

    volume: float
    wall: Layers
    holes: Holes | None
    garden: float
    workers: float
    cotton: float
    position: float = 0.0


@dataclass(frozen=True)
class Pack:
    """A heat or cold pack, `number` of them alike.

    heat: either `curve` (hours, W of one pack in free air) or `iron` kg with `duration` s; `start` s is the time
    constant of its beginning. cold: `gel` kg that melts at `melts_at` K with `latent` J/kg, at `starts_at` K when
    packed. `bag` sealed: no air comes to it.
    """

    kind: Literal["heat", "cold"]
    place: Literal["side", "top", "wrapped"]
    number: int = 1
    curve: tuple[tuple[float, ...], tuple[float, ...]] | None = None
    iron: float = 0.0
    duration: float = 0.0
    start: float = 1200.0
    gel: float = 0.0
    melts_at: float = 273.15
    latent: float = 0.0
    starts_at: float = 273.15


@dataclass(frozen=True)
class Leg:
    """A part of the way: `hours` long in outside air `room`, whose time 0 is the dispatch, or the beginning of the day
    of dispatch where `by_day`. A parcel that is late waits at the end of the leg with `waits`."""

    name: str
    hours: float
    outside: str
    room: Room
    by_day: bool
    waits: bool = False


@dataclass(frozen=True)
class Parcel:
    name: str
    card: SpeciesCard
    box: Box
    filler: Filler | None
    cup: Cup
    packs: tuple[Pack, ...]
    legs: tuple[Leg, ...]
    dispatch: datetime
    packed_at: float
    altitude: float = 0.0
    promised: datetime | None = None
    judgements: tuple[str, ...] = field(default=())
    """What the file left out, and so rests on a value marked judgement."""

    @property
    def hours(self) -> float:
        """Hours of the way as promised."""
        return sum(leg.hours for leg in self.legs)
