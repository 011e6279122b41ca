"""The design of one habitat, in SI: what a habitat file says, after its units are gone.

Lengths m, areas m2, volumes m3, temperatures K, power W, masses kg, times s, shares 0 to 1.
Every part remembers where it stands in the file (`line`), so that a later check can point at it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any, Literal

Face = Literal["side", "top", "base"]
Role = Literal["garden", "forage", "dump", "nursery", "sump", "outer"]


@dataclass(frozen=True)
class Shape:
    """Inner form of a chamber or bell: cylinder, box or truncated cone.

    For a cylinder `width` = `depth` = `top_width` = its diameter; for a cone `width` is the
    diameter at the base and `top_width` at the top; for a box width x depth is the floor.
    """

    kind: Literal["cylinder", "box", "cone"]
    width: float
    depth: float
    height: float
    top_width: float

    @property
    def base_area(self) -> float:
        return self.width * self.depth if self.kind == "box" else math.pi / 4 * self.width**2

    @property
    def top_area(self) -> float:
        return self.width * self.depth if self.kind == "box" else math.pi / 4 * self.top_width**2

    @property
    def side_area(self) -> float:
        if self.kind == "box":
            return 2 * (self.width + self.depth) * self.height
        slant = math.hypot(self.height, (self.width - self.top_width) / 2)
        return math.pi * (self.width + self.top_width) / 2 * slant

    @property
    def volume(self) -> float:
        if self.kind == "box":
            return self.width * self.depth * self.height
        r, s = self.width / 2, self.top_width / 2
        return math.pi / 3 * self.height * (r * r + r * s + s * s)

    @property
    def rim(self) -> float:
        """Length of the lower rim, m."""
        return 2 * (self.width + self.depth) if self.kind == "box" else math.pi * self.width

    def area(self, face: Face) -> float:
        return {"side": self.side_area, "top": self.top_area, "base": self.base_area}[face]


@dataclass(frozen=True)
class Layer:
    """One layer of a wall; layers are listed from the inside to the outside."""

    material: str
    thickness: float


@dataclass(frozen=True)
class Wall:
    """One face of a chamber. `touches` is "room", "bench", "floor" or the name of another chamber."""

    face: Face
    layers: tuple[Layer, ...]
    touches: str
    line: int = 0


@dataclass(frozen=True)
class Chamber:
    name: str
    role: Role
    shape: Shape
    place: tuple[float, float, float]
    """Centre of the inner floor: x, y, and height above the bench."""
    walls: tuple[Wall, ...]
    lid_gap: float = 0.0
    """Width of the gap that the lid leaves along its whole rim; 0 = tight."""
    lid_depth: float = 0.005
    """Length of the way through that gap."""
    line: int = 0

    def wall(self, face: Face) -> Wall:
        return next(w for w in self.walls if w.face == face)


@dataclass(frozen=True)
class Bell:
    """Removable cover over the garden; stands on the chamber's floor or grid, open below."""

    chamber: str
    shape: Shape
    layers: tuple[Layer, ...]
    rim_gap: float
    """Height of the gap under the rim."""
    line: int = 0


@dataclass(frozen=True)
class Pattern:
    """What air passes: `count` round holes, slots, or one woven mesh in a frame.

    holes: `width` is the diameter. slot: `width` x `length`. mesh: `width` is the diameter of the
    meshed port, `aperture` and `wire` those of the weave, thickness = twice the wire.
    """

    kind: Literal["hole", "slot", "mesh"]
    width: float
    length: float
    count: int
    aperture: float
    wire: float
    thickness: float


@dataclass(frozen=True)
class Grid:
    """Perforated floor between an upper chamber and the sump below it."""

    above: str
    below: str
    pattern: Pattern
    material: str
    line: int = 0


@dataclass(frozen=True)
class Water:
    """Sump water, wet block or reservoir in a chamber."""

    chamber: str
    kind: Literal["block", "pool", "reservoir"]
    free_surface: float
    wick_limit: float | None
    """Largest supply through the wick, kg/s; None = an open surface."""
    store: float
    """Water held when full, kg."""
    dry_mass: float
    """Mass of the porous body without water, kg (heat capacity as for brick)."""
    refill: Literal["when empty", "never"] | float = "when empty"
    """A number is a fixed interval in s."""
    name: str = "block"
    line: int = 0


@dataclass(frozen=True)
class Garden:
    chamber: str
    volume: float
    workers: int
    line: int = 0


@dataclass(frozen=True)
class Vent:
    name: str
    chamber: str
    face: Face
    height: float
    """Middle of the vent above the inner floor of its chamber."""
    pattern: Pattern
    to: str = "room"
    closed: float = 0.0
    """Share that a plug closes, 0 to 1."""
    line: int = 0


@dataclass(frozen=True)
class Passage:
    """Tube or bore between two chambers that ants use."""

    name: str
    between: tuple[str, str]
    bore: float
    length: float
    heights: tuple[float, float]
    """Middle of its two ends above the inner floors of the two chambers."""
    occupied: float = 0.0
    """Share of the bore that ants and leaf fill, 0 to 1."""
    closed: float = 0.0
    line: int = 0


@dataclass(frozen=True)
class Sensor:
    name: str
    chamber: str
    lag: float
    """Time constant, s."""
    under_bell: bool = False
    line: int = 0


@dataclass(frozen=True)
class Heater:
    name: str
    power: float
    where: tuple[str, str]
    """(chamber, "air" | "side" | "top" | "base" | "water"); a face is heated on its outer side."""
    control: Literal["constant", "thermostat", "proportional"]
    set_point: float
    band: float
    """Full width between switching off and on, K."""
    sensor: str
    line: int = 0


@dataclass(frozen=True)
class OwnLimit:
    """A limit of the builder's own; replaces the card's limit of the same quantity and role."""

    quantity: Literal["temperature", "relative_humidity", "co2", "o2"]
    role: Role
    low: float | None
    high: float | None
    line: int = 0


@dataclass(frozen=True)
class Make:
    """How one part is to be made, where the usual way is not meant; empty where the usual holds."""

    part: str
    """Name of a chamber, vent, passage, water body or sensor, or "bell", "grid", "lid" or "base" and a chamber."""
    way: str = ""
    material: str = ""
    clearance: float | None = None
    """Clear width to what it meets, m."""
    note: str = ""
    line: int = 0


@dataclass(frozen=True)
class Habitat:
    name: str
    revision: str
    species: str
    altitude: float
    chambers: tuple[Chamber, ...]
    bells: tuple[Bell, ...] = ()
    grids: tuple[Grid, ...] = ()
    waters: tuple[Water, ...] = ()
    gardens: tuple[Garden, ...] = ()
    vents: tuple[Vent, ...] = ()
    passages: tuple[Passage, ...] = ()
    sensors: tuple[Sensor, ...] = ()
    heaters: tuple[Heater, ...] = ()
    limits: tuple[OwnLimit, ...] = ()
    makes: tuple[Make, ...] = ()
    note: str = ""
    path: str = ""
    texts: dict[str, Any] = field(default_factory=dict, compare=False)
    """What stood in the file for each value, by dotted key such as "vent.crown.count"."""

    def chamber(self, name: str) -> Chamber:
        return next(c for c in self.chambers if c.name == name)
