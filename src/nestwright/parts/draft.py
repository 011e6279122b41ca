"""What stands of a habitat's parts while they are listed: parts and joints so far, openings that walls still get."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any, Literal

from nestwright.errors import InputError
from nestwright.habitat.model import Chamber, Habitat, Pattern, Shape
from nestwright.habitat.standing import level_thickness
from nestwright.parts.model import Assembly, Feature, Joint, Part, Ring, Way
from nestwright.parts.sizes import size
from nestwright.parts.ways import Form, default_way

__all__ = [
    "Draft",
    "WallOpening",
    "edge_feature",
    "level_thickness",
    "outer_radius",
    "radius_at",
    "reach_of",
    "wall_of",
]


@dataclass(frozen=True)
class WallOpening:
    """An opening in a chamber's side: where it is, and what the wrapping around the wall leaves free of it.

    `angle` rad about the chamber's middle (round walls) or `panel` and `u` m from the panel's middle along the world's
    x or y (boxes); `v` m above the inner floor. A slot of `length` lies level. `free` m: width and height that jackets
    leave open, beyond a depth of `through` m from the inside; up to there they have the opening itself.
    """

    name: str
    kind: Literal["hole", "slot", "bore"]
    width: float
    length: float
    v: float
    angle: float = 0.0
    panel: str = ""
    u: float = 0.0
    free: tuple[float, float] = (0.0, 0.0)
    through: float = 0.0


@dataclass
class Draft:
    """One habitat's parts in the making."""

    habitat: Habitat
    parts: list[Part] = field(default_factory=list)
    joints: list[Joint] = field(default_factory=list)
    sides: dict[str, list[WallOpening]] = field(default_factory=dict)
    """Openings in the side of each chamber."""
    lids: dict[str, list[tuple[str, Pattern | None, Ring]]] = field(default_factory=dict)
    """(name, pattern, outline about the chamber's middle) of openings in its top plate."""
    bases: dict[str, list[tuple[str, Pattern | None, Ring]]] = field(default_factory=dict)
    closed_below: dict[str, str] = field(default_factory=dict)
    """Chamber to the part that closes it below."""

    def fault(self, message: str, line: int, field_: str, found: str = "", allowed: str = "") -> InputError:
        return InputError(message, file=self.habitat.path, line=line, field=field_, found=found, allowed=allowed)

    def way(self, key: str, form: Form, material: str) -> tuple[Way, str, str]:
        """Way, material and note of a part: what the habitat's [[make]] tables say, else the default."""
        told = next((m for m in self.habitat.makes if m.part == key), None)
        if told is None:
            return default_way(form, material), material, ""
        made_of = told.material or material
        way: Any = told.way or default_way(form, made_of)
        return way, made_of, told.note

    def play(self, key: str, name: str) -> float:
        """Clearance of a part: what its [[make]] table says, else the value of data/parts.toml."""
        told = next((m for m in self.habitat.makes if m.part == key), None)
        return told.clearance if told is not None and told.clearance is not None else size(name)

    def add(self, part: Part) -> Part:
        if any(one.name == part.name for one in self.parts):
            number = 2
            while any(one.name == f"{part.name} {number}" for one in self.parts):
                number += 1
            part = replace(part, name=f"{part.name} {number}")
        self.parts.append(part)
        return part

    def join(self, outer: str, inner: str, kind: Any, **more: Any) -> None:
        given = {"size": 0.0, "gap": 0.0, "length": 0.0} | more
        name = given.pop("name", f"{inner} on {outer}" if kind != "slides" else f"{inner} in {outer}")
        self.joints.append(Joint(name, outer, inner, kind=kind, **given))

    def done(self, sha256: str) -> Assembly:
        h = self.habitat
        return Assembly(h.name, h.revision, sha256, tuple(self.parts), tuple(self.joints))


def wall_of(chamber: Chamber, face: str) -> tuple[str, float]:
    """Material and thickness of the wall itself: the innermost layer."""
    layer = chamber.wall(face).layers[0]  # type: ignore[arg-type]
    return layer.material, layer.thickness


def radius_at(shape: Shape, height: float) -> float:
    """Inner radius of a round chamber at a height above its floor, m."""
    share = height / shape.height if shape.height else 0.0
    return (shape.width + (shape.top_width - shape.width) * share) / 2


def outer_radius(chamber: Chamber, height: float) -> float:
    """Outer radius of a round chamber's wall, without wrapping, at a height above its floor, m."""
    _, thickness = wall_of(chamber, "side")
    return radius_at(chamber.shape, height) + level_thickness(chamber.shape, thickness)


def edge_feature(name: str = "edges", side: Any = "room") -> Feature:
    return Feature("edge", name, size("edge"), side=side)


def reach_of(one: Chamber, v: float, panel: str) -> float:
    """From a chamber's middle to the outer surface of its wall, m."""
    if one.shape.kind != "box":
        return outer_radius(one, v)
    half = (one.shape.width if panel in ("left", "right") else one.shape.depth) / 2
    return half + wall_of(one, "side")[1]
