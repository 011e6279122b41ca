"""The walls, bases and lids of chambers, and what is wrapped around them."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from nestwright.habitat.model import Chamber, Pattern
from nestwright.parts.draft import Draft, edge_feature, level_thickness, wall_of
from nestwright.parts.listing_wrapping import list_wrapping
from nestwright.parts.model import Feature, Kind, Part, Ring, Sheet, Side, Way
from nestwright.parts.rings import as_circle, base_outline, box_of, circle, panel_outline, rectangle
from nestwright.parts.sizes import size
from nestwright.parts.wall_forms import PANELS, Openings, body_features, outer_size, side_ring
from nestwright.parts.ways import Form

__all__ = ["list_body", "share_plate_below"]


_CLOSE = 5e-4
"""Plates nearer to each other than this are one, m."""


def share_plate_below(draft: Draft, chamber: Chamber) -> None:
    """What pierces the base of a chamber that stands on another's lid pierces that lid: to be told before the lids."""
    shared = _shared(draft, chamber)
    if shared is None:
        return
    dx, dy = chamber.place[0] - shared.place[0], chamber.place[1] - shared.place[1]
    for name, pattern, ring in draft.bases.get(chamber.name, []):
        moved = tuple((x + dx, y + dy) for x, y in ring)
        draft.lids.setdefault(shared.name, []).append((name, pattern, moved))


def _shared(draft: Draft, chamber: Chamber) -> Chamber | None:
    """The chamber whose lid is this one's base: it touches it below, and both plates would lie in one place."""
    if any(g.above == chamber.name for g in draft.habitat.grids):
        return None
    below = next((c for c in draft.habitat.chambers if c.name == chamber.wall("base").touches), None)
    if below is None:
        return None
    _, thickness = wall_of(chamber, "base")
    under = below.place[2] + below.shape.height + below.lid_gap
    return below if abs(chamber.place[2] - thickness - under) < _CLOSE else None


def list_body(draft: Draft, chamber: Chamber) -> None:
    """Every part of one chamber itself."""
    grids = draft.habitat.grids
    over_grid = any(g.above == chamber.name for g in grids)
    under_grid = any(g.below == chamber.name for g in grids)
    shared = _shared(draft, chamber)
    _check_wall(draft, chamber)
    base = not over_grid and shared is None
    shape = chamber.shape
    material, _ = wall_of(chamber, "side")
    form: Form = "panels" if shape.kind == "box" else "cone" if shape.kind == "cone" else "tube"
    way, made_of, note = draft.way(chamber.name, form, material)
    one_body = way in ("printed", "resin", "cast", "bought") or (way == "milled" and shape.kind != "box")
    with_floor = base and one_body and wall_of(chamber, "base")[0] == material
    if shape.kind == "box" and not one_body:
        _panels(draft, chamber, way, made_of, note, base)
    else:
        _shell(draft, chamber, way, made_of, note, with_floor)
    if base and not with_floor:
        _base(draft, chamber, way)
    if shared is not None:
        draft.join(
            f"{shared.name} lid", f"{chamber.name} wall", "glued", size=shape.rim, length=wall_of(chamber, "side")[1]
        )
    if not under_grid:
        _lid(draft, chamber)
    list_wrapping(draft, chamber, base)
    if base:
        _stand(draft, chamber)


def _check_wall(draft: Draft, chamber: Chamber) -> None:
    shape = chamber.shape
    least = min(shape.width, shape.top_width, shape.depth)
    for wall in chamber.walls:
        thickness = wall.layers[0].thickness
        if wall.face == "side" and thickness >= least / 2:
            raise draft.fault(
                f"the wall of {chamber.name!r} is as thick as the chamber is wide from its middle",
                wall.line or chamber.line,
                f"chamber.{chamber.name}.{wall.face}.layers[0]",
                f"{thickness * 1e3:.4g} mm",
                f"less than {least / 2 * 1e3:.4g} mm",
            )


def _serves(chamber: Chamber) -> str:
    return f"chamber.{chamber.name}"


def _land_feature(rings: list[Ring]) -> list[Feature]:
    """Least material between the openings of a plate."""
    middles = [((b[0] + b[2]) / 2, (b[1] + b[3]) / 2, b[2] - b[0], b[3] - b[1]) for b in map(box_of, rings)]
    least = math.inf
    at = (0.0, 0.0, 0.0)
    for n, (x, y, w, d) in enumerate(middles):
        for u, v, w2, d2 in middles[:n]:
            if abs(u - x) > w + 0.05 and abs(v - y) > d + 0.05:
                continue
            gap_x, gap_y = abs(u - x) - (w + w2) / 2, abs(v - y) - (d + d2) / 2
            round_ones = abs(w - d) < 1e-9 and abs(w2 - d2) < 1e-9
            gap = math.hypot(u - x, v - y) - (w + w2) / 2 if round_ones else max(gap_x, gap_y)
            if gap < least:
                least, at = gap, ((u + x) / 2, (v + y) / 2, 0.0)
    return [] if least is math.inf else [Feature("land", "between openings", least, at)]


def plate_features(openings: Openings, thickness: float, side: Side) -> tuple[Feature, ...]:
    """Features of a flat part with openings: thickness, each group of openings, the least land, its edges."""
    found: list[Feature] = [Feature("wall", "thickness", thickness)]
    groups: dict[str, list[tuple[Pattern | None, Ring]]] = {}
    for name, pattern, ring in openings:
        groups.setdefault(name, []).append((pattern, ring))
    for name, members in groups.items():
        pattern, ring = members[0]
        a, b, c, d = box_of(ring)
        at = ((a + c) / 2, (b + d) / 2, thickness)
        kind: Literal["hole", "slot"] = "slot" if pattern is not None and pattern.kind == "slot" else "hole"
        who: Side = "ants" if pattern is not None and pattern.kind != "mesh" else "inside"
        found.append(Feature(kind, name, min(c - a, d - b), at, who, len(members)))
    found += _land_feature([ring for _, _, ring in openings])
    return (*found, edge_feature(side=side))


def _shell(draft: Draft, chamber: Chamber, way: Way, material: str, note: str, with_floor: bool) -> None:
    """A round wall, or a body in one piece; its own origin is the middle of the inner floor."""
    shape = chamber.shape
    _, thickness = wall_of(chamber, "side")
    floor = wall_of(chamber, "base")[1] if with_floor else 0.0
    openings = draft.sides.get(chamber.name, [])
    level = level_thickness(shape, thickness)
    sizes = {
        "inner": shape.width,
        "inner_top": shape.top_width,
        "length": shape.height,
        "thickness": level,
        "floor": floor,
    }
    if shape.kind == "box":
        sizes = {
            "width": shape.width,
            "depth": shape.depth,
            "length": shape.height,
            "thickness": thickness,
            "floor": floor,
        }
    else:
        sizes["outer"] = max(shape.width, shape.top_width) + 2 * level
        sizes["wall"] = (sizes["outer"] - min(shape.width, shape.top_width)) / 2
    features = [Feature("wall", "wall", thickness)]
    features += body_features(chamber, openings, sizes)
    if with_floor:
        features.append(Feature("wall", "floor", floor))
        for name, _, ring in draft.bases.get(chamber.name, []):
            a, b, c, d = box_of(ring)
            sizes[f"length of {name}"] = max(c - a, d - b)
            kind: Literal["hole", "slot"] = "hole" if as_circle(ring) else "slot"
            features.append(Feature(kind, name, min(c - a, d - b), ((a + c) / 2, (b + d) / 2, -floor), "ants"))
    features.append(edge_feature("rims"))
    if not note and way == "cut":
        note = f"tube {sizes.get('outer', 0) * 1e3:.4g} x {thickness * 1e3:.4g} mm, cut square"
    elif not note and way == "bought":
        note = f"{material} body for {chamber.name}"
    draft.add(
        Part(
            f"{chamber.name} wall",
            "body",
            _serves(chamber),
            way,
            material,
            1,
            sizes,
            (*chamber.place, 0.0),
            tuple(features),
            note=note,
            line=chamber.line,
        )
    )
    if with_floor:
        draft.closed_below[chamber.name] = f"{chamber.name} wall"


def _panels(draft: Draft, chamber: Chamber, way: Way, material: str, note: str, base: bool) -> None:
    """Four walls; own origins are the middles of their lower outer edges, at the inner floor's level."""
    shape, (x, y, z) = chamber.shape, chamber.place
    _, t = wall_of(chamber, "side")
    jointed = way in ("laser", "milled")
    base_way = draft.way(f"base {chamber.name}", "plate", wall_of(chamber, "base")[0])[0]
    tabs = wall_of(chamber, "base")[1] if jointed and base and base_way in ("laser", "milled") else 0.0
    names = {}
    for panel, angle in PANELS.items():
        front = panel in ("front", "back")
        inner, reach = (shape.width, shape.depth / 2) if front else (shape.depth, shape.width / 2)
        outline = panel_outline(inner, shape.height, t, 0 if front else 1, jointed, tabs)
        if jointed and not tabs:
            outline = tuple((u, max(v, 0.0)) for u, v in outline)
            outline = tuple(p for n, p in enumerate(outline) if p != outline[n - 1])
        mine = [o for o in draft.sides.get(chamber.name, []) if o.panel == panel]
        sign = -1.0 if panel in ("back", "left") else 1.0
        rings = [side_ring(o, sign * o.u) for o in mine]
        found: list[Feature] = [Feature("wall", "thickness", t)]
        for o, ring in zip(mine, rings, strict=True):
            a, b, c, d = box_of(ring)
            found.append(Feature(o.kind, o.name, o.width, ((a + c) / 2, 0.0, (b + d) / 2), "ants"))
        # a panel stands: what is up on its sheet is up in its own frame
        found += [replace(f, at=(f.at[0], 0.0, f.at[1])) for f in _land_feature(rings)]
        found.append(edge_feature())
        out = (math.cos(angle), math.sin(angle))
        place = (x + (reach + t) * out[0], y + (reach + t) * out[1], z, angle + math.pi / 2)
        names[panel] = f"{chamber.name} {panel}"
        sheet = Sheet(outline, tuple(rings), (), t)
        draft.add(
            Part(
                names[panel],
                "panel",
                _serves(chamber),
                way,
                material,
                1,
                {"upright": 1.0, "thickness": t},
                place,
                tuple(found),
                sheet=sheet,
                note=note,
                line=chamber.line,
            )
        )
    for front_one in ("front", "back"):
        for side in ("left", "right"):
            draft.join(names[front_one], names[side], "glued", size=shape.height, length=t)


def _base(draft: Draft, chamber: Chamber, wall_way: Way) -> None:
    material, thickness = wall_of(chamber, "base")
    way, material, note = draft.way(f"base {chamber.name}", "plate", material)
    shape = chamber.shape
    t = wall_of(chamber, "side")[1]
    if shape.kind == "box":
        jointed = wall_way in ("laser", "milled") and way in ("laser", "milled")
        outline = base_outline(shape.width, shape.depth, t, jointed)
    else:
        outline = circle(0.0, 0.0, outer_size(chamber, "base")[0])
    openings = draft.bases.get(chamber.name, [])
    x, y, z = chamber.place
    name = f"{chamber.name} base"
    draft.add(_plate(name, "panel", chamber, way, material, outline, openings, thickness, (x, y, z - thickness), note))
    draft.closed_below[chamber.name] = name
    for wall in _walls(draft, chamber):
        draft.join(name, wall, "glued", size=shape.rim, length=t)


def _walls(draft: Draft, chamber: Chamber) -> list[str]:
    return [
        p.name for p in draft.parts if p.serves == _serves(chamber) and (p.kind == "body" or p.sizes.get("upright"))
    ]


def _plate(
    name: str,
    kind: Kind,
    chamber: Chamber,
    way: Way,
    material: str,
    outline: Ring,
    openings: Openings,
    thickness: float,
    at: tuple[float, float, float],
    note: str,
) -> Part:
    sheet = Sheet(outline, tuple(ring for _, _, ring in openings), (), thickness)
    features = plate_features(openings, thickness, "room")
    sizes = {"thickness": thickness}
    return Part(
        name,
        kind,
        _serves(chamber),
        way,
        material,
        1,
        sizes,
        (*at, 0.0),
        features,
        sheet=sheet,
        note=note,
        line=chamber.line,
    )


def _lid(draft: Draft, chamber: Chamber) -> None:
    material, thickness = wall_of(chamber, "top")
    way, material, note = draft.way(f"lid {chamber.name}", "plate", material)
    shape, (x, y, z) = chamber.shape, chamber.place
    width, depth = outer_size(chamber, "top")
    outline = rectangle(0.0, 0.0, width, depth) if shape.kind == "box" else circle(0.0, 0.0, width)
    gap = chamber.lid_gap
    note = note or (f"lies on spots {gap * 1e3:.3g} mm high: the lid's gap" if gap > 0 else "")
    name = f"{chamber.name} lid"
    at = (x, y, z + shape.height + gap)
    part = _plate(name, "lid", chamber, way, material, outline, draft.lids.get(chamber.name, []), thickness, at, note)
    draft.add(part)
    t = wall_of(chamber, "side")[1]
    outside = chamber.wall("top").touches == "room"
    for wall in _walls(draft, chamber)[:1]:
        side = "ants" if outside and chamber.role not in ("outer", "sump") else "inside"
        draft.join(wall, name, "stands", size=max(width, depth), gap=gap, length=t, side=side)


def _stand(draft: Draft, chamber: Chamber) -> None:
    """What carries a chamber whose underside stands free above the bench."""
    under = chamber.place[2] - sum(layer.thickness for layer in chamber.wall("base").layers)
    if under < 1e-3 or chamber.wall("base").touches not in ("bench", "room", "floor"):
        return
    x, y, _ = chamber.place
    wall = size("stand_wall")
    width, depth = outer_size(chamber, "base")
    way, material, note = draft.way(f"stand {chamber.name}", "small", "PETG")
    if chamber.shape.kind == "box":
        sizes = {"width": width - 2 * wall, "depth": depth - 2 * wall, "length": under, "thickness": wall, "floor": 0.0}
    else:
        inner = width - 2 * wall
        sizes = {
            "inner": inner,
            "inner_top": inner,
            "length": under,
            "thickness": wall,
            "floor": 0.0,
            "outer": width,
            "wall": wall,
        }
    draft.add(
        Part(
            f"{chamber.name} stand",
            "stand",
            _serves(chamber),
            way,
            material,
            1,
            sizes,
            (x, y, 0.0, 0.0),
            (Feature("wall", "wall", wall),),
            note=note,
            line=chamber.line,
        )
    )
    draft.join(f"{chamber.name} stand", draft.closed_below.get(chamber.name, ""), "stands", side="room")
