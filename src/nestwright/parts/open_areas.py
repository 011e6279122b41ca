"""Open areas measured on solids: holes and slots of walls and plates, bores, gaps under lids and bells. m2."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

from nestwright.parts.model import Part
from nestwright.parts.solids import turned

__all__ = ["bore_area", "flat_openings", "gap_height", "rim_gap_area", "wall_openings"]


def bore_area(solid: Any) -> float:
    """Area of the narrowest round bore of a turned part."""
    radii = [f.radius for f in solid.faces() if f.geom_type.name == "CYLINDER"]
    return math.pi * (min(radii) * 1e-3) ** 2


def flat_openings(solid: Any, plugged: Iterable[float] = ()) -> float:
    """Area of all openings of a plate's largest face; those of the diameters `plugged` m are closed again."""
    faces = [f for f in solid.faces() if f.geom_type.name == "PLANE"]
    face = max(faces, key=lambda f: f.without_holes().area)
    missing = float(face.without_holes().area - face.area)
    return missing * 1e-6 - sum(math.pi / 4 * d * d for d in plugged)


def wall_openings(part: Part, solid: Any) -> float:
    """Area of all openings of a wall, where it stands in the habitat: of its bores, or where there are slots by what is
    missing from the middle of the wall."""
    s = part.sizes
    if any(f.kind == "slot" and f.side == "ants" and f.at[2] >= 0 for f in part.features):
        return _by_shell(part, solid)
    bores: dict[tuple[float, ...], float] = {}
    for face in solid.faces():
        if face.geom_type.name != "CYLINDER":
            continue
        r, axis = face.radius, face.axis_of_rotation
        if abs(axis.direction.Z) < 0.999 and r < 450 * s.get("inner", s.get("width", 1.0)):
            # a bore may come in pieces: one axis and radius is one bore
            way, at = axis.direction, axis.position
            bores[round(way.X, 4), round(way.Y, 4), round(at.X, 2), round(at.Y, 2), round(at.Z, 3), round(r, 4)] = r
    return sum(math.pi * r * r for r in bores.values()) * 1e-6


def _by_shell(part: Part, solid: Any) -> float:
    """What a very thin shell in the middle of a wall has outside the wall."""
    from build123d import Box, Pos

    s, thin = part.sizes, 1e-3
    t, high = s["thickness"] * 1e3, s["length"] * 1e3
    if "width" in s:
        w, d = s["width"] * 1e3 + t, s["depth"] * 1e3 + t
        shell = Pos(0, 0, high / 2) * Box(w + thin, d + thin, high).cut(Box(w - thin, d - thin, high + 2))
    else:
        a, b = s["inner"] * 500 + t / 2, s["inner_top"] * 500 + t / 2
        shell = turned([(a, 0), (a + thin, 0), (b + thin, high), (b, high)])
    from nestwright.parts.solids import placed

    whole = placed(part, shell)
    left = whole.cut(solid)
    return float(sum(one.volume for one in left.solids()) / thin) * 1e-6


def gap_height(walls: Iterable[Any], lid: Any) -> float:
    """Clear height between the top of walls and the underside of a lid, m."""
    top = max(solid.bounding_box().max.Z for solid in walls)
    return float(lid.bounding_box().min.Z - top) * 1e-3


def rim_gap_area(parts: Iterable[tuple[Part, Any]], floor: float, thick: float) -> float:
    """Area under a bell's rim between its feet, at the rim's inner edge; `floor` is the level that it stands on and
    `thick` its wall, mm."""
    area = 0.0
    found = list(parts)
    lowest = min(part.place[2] for part, _ in found)
    for part, solid in found:
        rim = part.place[2] * 1e3
        if part.place[2] > lowest + 1e-6:  # the top
            continue
        for face in solid.faces():
            box = face.bounding_box()
            if box.size.Z < 1e-6 and abs(box.max.Z - rim) < 1e-6 and face.normal_at().Z < 0:
                arcs = [e for e in face.edges() if e.geom_type.name == "CIRCLE"]
                length = min(arcs, key=lambda e: e.radius).length if arcs else face.area / thick
                area += length * (rim - floor)
    return area * 1e-6
