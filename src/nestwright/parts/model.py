"""What a habitat is made of: its parts, as sizes and places, before any solid is drawn.

Lengths m, areas m2, volumes m3, masses kg. Nothing here needs a solid modeller: rules, bills and plans of batches read
these descriptions; `nestwright.parts.solids` makes the solids.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from nestwright.habitat.model import Pattern

__all__ = ["Assembly", "Feature", "Joint", "Kind", "Measured", "Part", "Ring", "Sheet", "Side", "Way"]

Way = Literal["printed", "resin", "laser", "milled", "turned", "cast", "cut", "bought"]
"""How a part comes about: printed from filament (FDM), resin printed, laser cut, milled (CNC), turned, cast, cut by
hand from stock, or bought as it is."""

Kind = Literal[
    "body", "panel", "lid", "bell", "grid", "mesh frame", "mesh", "mould", "block", "plug", "port", "coupling", "tube",
    "stand", "sensor holder", "feeder seat", "jacket", "coupon", "tray", "reservoir", "fitting",
]  # fmt: skip

"""A fitting is bought as it is and has no solid: a sensor, a heater, tape."""

Side = Literal["ants", "sump", "room", "inside"]
"""Who meets a feature: ants and brood; the wet side below the grid; the room; nobody."""

Ring = tuple[tuple[float, float], ...]
"""A closed outline on a sheet, m; the last point joins the first."""


@dataclass(frozen=True)
class Feature:
    """One size of a part that a rule can judge.

    `size` m (of a draft: rad); `at` is its middle in the part's own frame; `side` who meets it.
    wall: thickness. hole, slot, bore: smallest clear width. gap: clear width to the neighbour. spigot: outer diameter.
    bridge: free span of an unsupported roof. overhang: angle from the vertical, rad. draft: angle, rad. edge: radius.
    land: smallest material between two openings. text: height of letters. depth: of a pocket, over its width.
    """

    kind: Literal[
        "wall", "hole", "slot", "bore", "gap", "spigot", "bridge", "overhang", "draft", "edge", "land", "text", "depth"
    ]
    name: str
    size: float
    at: tuple[float, float, float] = (0.0, 0.0, 0.0)
    side: Side = "inside"
    count: int = 1


@dataclass(frozen=True)
class Sheet:
    """A flat part: outline, openings, lines to engrave, in its own plane, and its thickness."""

    outline: Ring
    openings: tuple[Ring, ...]
    engraved: tuple[Ring, ...]
    thickness: float


@dataclass(frozen=True)
class Part:
    """One thing to make or to buy.

    `sizes` are the named lengths that its solid is made from (see `nestwright.parts.solids` for those of each kind);
    `pattern` the openings of a grid, vent or mesh; `place` where its own origin stands in the habitat: x, y, z in m and
    the turn about the vertical in rad. `serves` is the key of the habitat file that it comes from, such as
    "chamber.garden pot" or "vent.collar".
    """

    name: str
    kind: Kind
    serves: str
    way: Way
    material: str
    quantity: int
    sizes: dict[str, float] = field(compare=False)
    place: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    features: tuple[Feature, ...] = ()
    pattern: Pattern | None = None
    sheet: Sheet | None = None
    note: str = ""
    line: int = 0


@dataclass(frozen=True)
class Joint:
    """Where two parts meet.

    `size` is the nominal size of the fit (diameter or side) and `gap` the clear width left at the middle of the
    tolerances; `fit` an ISO 286 pair such as "H9/f9" or "" where nothing is fitted; `flat` counts the flatness that
    may open the gap further; `length` of the way through the gap.
    """

    name: str
    outer: str
    inner: str
    size: float
    gap: float
    length: float
    fit: str = ""
    flat: float = 0.0
    side: Side = "ants"
    kind: Literal["slides", "stands", "glued", "pressed", "hangs"] = "slides"


@dataclass(frozen=True)
class Assembly:
    """Every part of one habitat and how they meet."""

    habitat: str
    revision: str
    sha256: str
    """Of the habitat file."""
    parts: tuple[Part, ...]
    joints: tuple[Joint, ...]


@dataclass(frozen=True)
class Measured:
    """What was measured on one part's solid: volume m3, surface m2, mass kg, box m, and of a sheet the length of cuts
    and engraving m and the area of its outline's box m2.
    """

    part: str
    volume: float
    surface: float
    mass: float
    box: tuple[float, float, float]
    cut: float = 0.0
    engraved: float = 0.0
    footprint: float = 0.0
