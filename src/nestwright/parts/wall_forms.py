"""What walls and the wrapping around them have in common: panels, outer sizes, openings as outlines and features."""

from __future__ import annotations

import math

from nestwright.habitat.model import Chamber, Pattern
from nestwright.parts.draft import WallOpening, level_thickness, radius_at, wall_of
from nestwright.parts.model import Feature, Ring
from nestwright.parts.rings import circle, rectangle

__all__ = ["PANELS", "Openings", "body_features", "outer_size", "side_ring"]

Openings = list[tuple[str, Pattern | None, Ring]]
"""Name, pattern and outline of openings in a plate."""

PANELS = {"front": -math.pi / 2, "back": math.pi / 2, "right": 0.0, "left": math.pi}
"""Direction that a box's panel looks to, rad."""


def body_features(chamber: Chamber, openings: list[WallOpening], sizes: dict[str, float]) -> list[Feature]:
    """One feature for every opening in a wall, at its middle on the inner surface; lengths of slots go to `sizes`."""
    found = []
    for n, o in enumerate(openings):
        if chamber.shape.kind == "box":
            half = {"front": (o.u, -chamber.shape.depth / 2), "back": (o.u, chamber.shape.depth / 2),
                    "left": (-chamber.shape.width / 2, o.u), "right": (chamber.shape.width / 2, o.u)}  # fmt: skip
            x, y = half[o.panel]
        else:
            r = radius_at(chamber.shape, o.v)
            x, y = r * math.cos(o.angle), r * math.sin(o.angle)
        name = f"{o.name} {n + 1}" if sum(p.name == o.name for p in openings) > 1 else o.name
        if o.kind == "slot":
            sizes[f"length of {name}"] = o.length
        found.append(Feature(o.kind, name, o.width, (x, y, o.v), "ants"))
    return found


def side_ring(o: WallOpening, u: float) -> Ring:
    return rectangle(u, o.v, o.length, o.width) if o.kind == "slot" else circle(u, o.v, o.width)


def outer_size(chamber: Chamber, level: str) -> tuple[float, float]:
    """Outer width and depth of a chamber's walls without wrapping, at the base or the top."""
    _, t = wall_of(chamber, "side")
    shape = chamber.shape
    if shape.kind == "box":
        return shape.width + 2 * t, shape.depth + 2 * t
    d = (shape.top_width if level == "top" else shape.width) + 2 * level_thickness(shape, t)
    return d, d
