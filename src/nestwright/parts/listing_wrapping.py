"""Layers outside a chamber's wall itself: around the side, on the lid, under the base; what is cut away in them."""

from __future__ import annotations

import math
from dataclasses import replace

from nestwright.habitat.model import Chamber, Layer, Pattern
from nestwright.parts.draft import Draft, WallOpening, level_thickness, wall_of
from nestwright.parts.model import Feature, Part, Ring, Sheet, Way
from nestwright.parts.rings import as_circle, box_of, circle, panel_outline, rectangle
from nestwright.parts.sizes import size
from nestwright.parts.wall_forms import PANELS, Openings, body_features, outer_size, side_ring

__all__ = ["list_wrapping"]

_MARGIN = 5e-3
"""Clear width around the openings of a vent in a window of the wrapping, m."""


def list_wrapping(draft: Draft, chamber: Chamber, base: bool) -> None:
    """Layers outside the wall itself: around the side, on the lid, under the base."""
    shape, z = chamber.shape, chamber.place[2]
    grown = wall_of(chamber, "side")[1]
    for n, layer in enumerate(chamber.wall("side").layers[1:], 1):
        name = f"{chamber.name} wrapping" + (f" {n}" if n > 1 else "")
        way, material, note = draft.way(name, "jacket", layer.material)
        if shape.kind == "box":
            _box_jacket(draft, chamber, name, way, material, note, grown, layer.thickness)
        else:
            _round_jacket(draft, chamber, name, way, material, note, grown, layer.thickness)
        grown += layer.thickness
    level = z + shape.height + chamber.lid_gap + wall_of(chamber, "top")[1]
    depth = wall_of(chamber, "top")[1]
    for n, layer in enumerate(chamber.wall("top").layers[1:], 1):
        name = f"{chamber.name} cover" + (f" {n}" if n > 1 else "")
        depth += layer.thickness
        _flat_jacket(draft, chamber, name, "top", level, layer, depth, draft.lids.get(chamber.name, []))
        level += layer.thickness
    if not base:
        return
    level = z - wall_of(chamber, "base")[1]
    depth = wall_of(chamber, "base")[1]
    for n, layer in enumerate(chamber.wall("base").layers[1:], 1):
        name = f"{chamber.name} underlay" + (f" {n}" if n > 1 else "")
        depth += layer.thickness
        level -= layer.thickness
        _flat_jacket(draft, chamber, name, "base", level, layer, depth, draft.bases.get(chamber.name, []))


def _flat_jacket(
    draft: Draft, chamber: Chamber, name: str, face: str, level: float, layer: Layer, depth: float, openings: Openings
) -> None:
    way, material, note = draft.way(name, "jacket", layer.material)
    width, deep = outer_size(chamber, face)
    outline = rectangle(0.0, 0.0, width, deep) if chamber.shape.kind == "box" else circle(0.0, 0.0, width)
    rings = _cut_away(openings, depth)
    sheet = Sheet(outline, tuple(rings), (), layer.thickness)
    x, y, _ = chamber.place
    draft.add(
        Part(
            name,
            "jacket",
            f"chamber.{chamber.name}",
            way,
            material,
            1,
            {"thickness": layer.thickness},
            (x, y, level, 0.0),
            (Feature("wall", "thickness", layer.thickness),),
            sheet=sheet,
            note=note,
            line=chamber.line,
        )
    )
    draft.join(f"{chamber.name} {'lid' if face == 'top' else 'base'}", name, "stands", side="room")


def _cut_away(openings: Openings, depth: float) -> list[Ring]:
    """Openings of a flat wrapping: a vent's own as deep as its way goes, else one window around each group."""
    rings: list[Ring] = []
    windows: dict[str, tuple[Pattern | None, list[Ring]]] = {}
    for name, pattern, ring in openings:
        if pattern is not None and pattern.kind != "mesh" and pattern.thickness >= depth - 1e-6:
            rings.append(ring)
        else:
            windows.setdefault(name, (pattern, []))[1].append(ring)
    for pattern, members in windows.values():
        boxes = [box_of(r) for r in members]
        a, b = min(q[0] for q in boxes), min(q[1] for q in boxes)
        c, d = max(q[2] for q in boxes), max(q[3] for q in boxes)
        margin = 2 * size("seat_width") + 1e-3 if pattern is not None and pattern.kind == "mesh" else 5e-3
        if len(members) == 1 and as_circle(members[0]):
            rings.append(circle((a + c) / 2, (b + d) / 2, c - a + 2 * margin))
        else:
            rings.append(rectangle((a + c) / 2, (b + d) / 2, c - a + 2 * margin, d - b + 2 * margin))
    return rings


def _opened(o: WallOpening, depth: float) -> WallOpening:
    """What a wrapping whose outer side is `depth` from the inside leaves open for an opening of the wall."""
    if o.kind != "bore" and o.through >= depth - 1e-6:
        return o
    wide, tall = o.free
    return replace(
        o, kind="slot" if o.kind == "slot" else "hole", length=wide, width=tall if o.kind == "slot" else wide
    )


def _round_jacket(
    draft: Draft, chamber: Chamber, name: str, way: Way, material: str, note: str, grown: float, thickness: float
) -> None:
    """A round wrapping: bent from a strip, or foam cut as a ring."""
    shape = chamber.shape
    first = level_thickness(shape, wall_of(chamber, "side")[1])
    inside = 2 * (first + grown - wall_of(chamber, "side")[1])
    sizes = {
        "inner": shape.width + inside,
        "inner_top": shape.top_width + inside,
        "length": shape.height,
        "thickness": thickness,
        "floor": 0.0,
        "outer": max(shape.width, shape.top_width) + inside + 2 * thickness,
        "wall": thickness,
    }
    openings = [_opened(o, grown + thickness) for o in draft.sides.get(chamber.name, [])]
    features = [Feature("wall", "thickness", thickness), *body_features(chamber, openings, sizes)]
    middle = math.pi * ((shape.width + shape.top_width) / 2 + inside + thickness)
    note = (
        note or f"strip {middle * 1e3:.4g} x {shape.height * 1e3:.4g} mm, {thickness * 1e3:.4g} mm thick, bent around"
    )
    strip = rectangle(middle / 2, shape.height / 2, middle, shape.height)
    rings = []
    for o in openings:
        mid = shape.width / 2 + inside / 2 + thickness / 2
        at = (o.angle % (2 * math.pi)) * mid
        rings.append(rectangle(at, o.v, o.length, o.width) if o.kind == "slot" else circle(at, o.v, o.width))
    flat = Sheet(strip, tuple(r for r in rings if box_of(r)[0] > 0 and box_of(r)[2] < middle), (), thickness)
    draft.add(
        Part(
            name,
            "jacket",
            f"chamber.{chamber.name}",
            way,
            material,
            1,
            sizes,
            (*chamber.place, 0.0),
            tuple(features),
            sheet=flat,
            note=note,
            line=chamber.line,
        )
    )
    draft.join(f"{chamber.name} wall", name, "glued", size=sizes["inner"], length=shape.height, side="room")


def _box_jacket(
    draft: Draft, chamber: Chamber, name: str, way: Way, material: str, note: str, grown: float, thickness: float
) -> None:
    """Four flat pieces around a box: front and back cover the ends of the other two."""
    shape, (x, y, z) = chamber.shape, chamber.place
    for panel, angle in PANELS.items():
        front = panel in ("front", "back")
        inner = (shape.width if front else shape.depth) + 2 * grown
        reach = (shape.depth if front else shape.width) / 2 + grown
        outline = panel_outline(inner, shape.height, thickness, 0 if front else 1, False, 0.0)
        mine = [o for o in draft.sides.get(chamber.name, []) if o.panel == panel]
        sign = -1.0 if panel in ("back", "left") else 1.0
        rings: list[Ring] = []
        windows: dict[str, list[Ring]] = {}
        for o in mine:
            if o.kind == "bore":
                opened = _opened(o, grown + thickness)
                rings.append(side_ring(opened, sign * o.u))
            elif o.through >= grown + thickness - 1e-6:
                rings.append(side_ring(o, sign * o.u))
            else:  # one window for all openings of a vent
                windows.setdefault(o.name, []).append(side_ring(o, sign * o.u))
        for members in windows.values():
            boxes = [box_of(r) for r in members]
            left, low = min(q[0] for q in boxes) - _MARGIN, max(min(q[1] for q in boxes) - _MARGIN, 1e-3)
            right, top = (
                max(q[2] for q in boxes) + _MARGIN,
                min(max(q[3] for q in boxes) + _MARGIN, shape.height - 1e-3),
            )
            left, right = max(left, 1e-3 - inner / 2), min(right, inner / 2 - 1e-3)
            rings.append(rectangle((left + right) / 2, (low + top) / 2, right - left, top - low))
        rings = [_within(r, shape.height) for r in rings]
        out = (math.cos(angle), math.sin(angle))
        place = (x + (reach + thickness) * out[0], y + (reach + thickness) * out[1], z, angle + math.pi / 2)
        sheet = Sheet(outline, tuple(rings), (), thickness)
        draft.add(
            Part(
                f"{name} {panel}",
                "jacket",
                f"chamber.{chamber.name}",
                way,
                material,
                1,
                {"upright": 1.0, "thickness": thickness},
                place,
                (Feature("wall", "thickness", thickness),),
                sheet=sheet,
                note=note,
                line=chamber.line,
            )
        )
        draft.join(f"{chamber.name} {panel}", f"{name} {panel}", "glued", size=inner, length=shape.height, side="room")


def _within(ring: Ring, height: float) -> Ring:
    """A round opening that would break through the edge of soft wrapping is cut as a rectangle that stops before it."""
    a, b, c, d = box_of(ring)
    if b > 5e-4 and d < height - 5e-4:
        return ring
    b, d = max(b, 1e-3), min(d, height - 1e-3)
    return rectangle((a + c) / 2, (b + d) / 2, c - a, d - b)
