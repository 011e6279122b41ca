"""The openings that vents and sensors make in walls, lids and bases, with meshes, their frames, and lead-throughs."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal

from nestwright.habitat.model import Chamber, Pattern, Vent
from nestwright.parts.draft import Draft, WallOpening, level_thickness, outer_radius, radius_at, reach_of, wall_of
from nestwright.parts.model import Feature, Part, Ring, Sheet
from nestwright.parts.rings import box_of, circle
from nestwright.parts.sizes import size
from nestwright.parts.spread import compact, opening_ring

Points = list[tuple[float, float]]

__all__ = ["list_sensor_holders", "list_vents"]

_VENT_STEPS = (0.35, -0.35, 0.0, 0.65, -0.65)
"""Where vents lie on a lid, in half widths off the middle: as the section is drawn."""


def list_vents(draft: Draft) -> None:
    """Openings of vents in their faces, and the mesh with its frame where they are meshed."""
    nth: dict[tuple[str, str], int] = {}
    for vent in draft.habitat.vents:
        key = (vent.chamber, vent.face)
        nth[key] = nth.get(key, -1) + 1
        if vent.face == "side":
            _side_vent(draft, vent)
        else:
            _flat_vent(draft, vent, nth[key])
        if vent.closed > 0:
            note = f"{vent.closed * 100:.3g} % of vent {vent.name} taped shut"
            tape = Part(
                f"{vent.name} tape",
                "fitting",
                f"plug.{vent.name}",
                "bought",
                "PVC",
                1,
                {},
                note="adhesive tape",
                line=vent.line,
            )
            draft.add(tape)
            draft.join(vent.name, f"{vent.name} tape", "stands", name=note, side="room")


def _side_vent(draft: Draft, vent: Vent) -> None:
    chamber = draft.habitat.chamber(vent.chamber)
    shape, pattern, land = chamber.shape, vent.pattern, size("land")
    # a mesh covers a round port, a slot lies level
    kind: Literal["hole", "slot"] = "slot" if pattern.kind == "slot" else "hole"
    half = pattern.width / 2
    v = min(max(vent.height, half + land), shape.height - half - land)
    room = 2 * min(v, shape.height - v) - 2 * land
    openings = draft.sides.setdefault(vent.chamber, [])
    through = max(pattern.thickness if pattern.kind != "mesh" else 0.0, wall_of(chamber, "side")[1])
    along = pattern.length if kind == "slot" else pattern.width
    if shape.kind == "box":
        points, panel, box = [], "", (0.0, 0.0, 0.0, 0.0)
        for panel in _panels_by_freedom(openings):
            width = (shape.width if panel in ("front", "back") else shape.depth) - 2 * land
            points = compact(pattern, land, width, room)
            if points:
                box = _around(points, along, pattern.width)
                if not any(o.panel == panel and _meets(o, box, v) for o in openings):
                    break
                points = []
        for x, y in points:
            free = (box[2] - box[0] + 0.01, box[3] - box[1] + 0.01)
            openings.append(WallOpening(vent.name, kind, pattern.width, along, v + y, 0.0, panel, x, free, through))
    else:
        radius = radius_at(shape, v)
        points = compact(pattern, land, 2 * math.pi * radius - land, room)
        points = _around_the_wall(points, pattern.count, radius, along + max(land, pattern.width))
        turn = next(
            (t for t in _turns(pattern.count) if _fits_round(openings, points, t, v, radius, along, pattern.width)),
            None,
        )
        if turn is None:
            points = []
        for x, y in points:
            free = (along + 0.01, pattern.width + 0.01)
            openings.append(
                WallOpening(
                    vent.name, kind, pattern.width, along, v + y, x / radius + (turn or 0.0), "", 0.0, free, through
                )
            )
    if not points:
        found = f"{pattern.count} of {pattern.width * 1e3:.4g} mm"
        allowed = f"what a wall {shape.height * 1e3:.4g} mm high has room for beside its other openings"
        raise draft.fault(
            f"the vent does not fit into the side of {chamber.name!r}", vent.line, f"vent.{vent.name}", found, allowed
        )
    if pattern.kind == "mesh":
        _mesh_on_side(draft, vent, chamber, openings[-1])


def _turns(count: int) -> Iterator[float]:
    """Turns of a ring of openings about the wall, half a step off the axes first."""
    step = 2 * math.pi / count
    for k in (0.5, 0.0, 0.25, 0.75, 0.125, 0.375, 0.625, 0.875):
        yield k * step
    for k in range(72):
        yield k * math.pi / 36


def _around_the_wall(points: Points, count: int, radius: float, step: float) -> Points:
    """Rows of openings spread evenly around the wall."""
    rows = sorted({round(y, 9) for _, y in points})
    found, left = [], count
    for j, y in enumerate(rows):
        here = math.ceil(left / (len(rows) - j))
        left -= here
        shift = 0.5 * (j % 2)
        found += [((i + shift) * 2 * math.pi * radius / here, y) for i in range(here)]
    return found


def _fits_round(
    openings: list[WallOpening],
    points: Points,
    turn: float,
    v: float,
    radius: float,
    along: float,
    width: float,
) -> bool:
    for other in openings:
        for x, y in points:
            away = (x / radius + turn - other.angle + math.pi) % (2 * math.pi) - math.pi
            wide = max(other.length, other.free[0] if other.kind == "bore" else 0.0)
            tall = max(other.width, other.free[1] if other.kind == "bore" else 0.0)
            if abs(away) * radius < (along + wide) / 2 + 1e-3 and abs(v + y - other.v) < (width + tall) / 2 + 1e-3:
                return False
    return True


def _panels_by_freedom(openings: list[WallOpening]) -> list[str]:
    """Panels of a box, those without openings first; the front before the back."""
    order = ["front", "back", "right", "left"]
    return sorted(order, key=lambda p: sum(o.panel == p for o in openings))


def _around(points: Points, along: float, across: float) -> tuple[float, float, float, float]:
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    return min(xs) - along / 2, min(ys) - across / 2, max(xs) + along / 2, max(ys) + across / 2


def _meets(other: WallOpening, box: tuple[float, float, float, float], v: float) -> bool:
    wide = max(other.length, other.free[0] if other.kind == "bore" else 0.0) / 2 + 1e-3
    tall = max(other.width, other.free[1] if other.kind == "bore" else 0.0) / 2 + 1e-3
    flat = other.u + wide > box[0] and other.u - wide < box[2]
    return flat and other.v + tall > v + box[1] and other.v - tall < v + box[3]


def _flat_vent(draft: Draft, vent: Vent, nth: int) -> None:
    chamber = draft.habitat.chamber(vent.chamber)
    shape, pattern, land = chamber.shape, vent.pattern, size("land")
    wide = shape.width if shape.kind == "box" or vent.face == "base" else shape.top_width
    deep = shape.depth if shape.kind == "box" else wide
    x = _VENT_STEPS[nth % len(_VENT_STEPS)] * wide / 2
    if vent.to != "room":
        x = 0.0 if nth == 0 else x
    span = 2 * (wide / 2 - abs(x) - land)
    points = compact(pattern, land, span if shape.kind == "box" else 0.7 * span, deep - 2 * land) or compact(
        pattern, land, (wide - 2 * land) * (1.0 if shape.kind == "box" else 0.7), (deep - 2 * land) * 0.7
    )
    if not points:
        field = f"vent.{vent.name}"
        found = f"{pattern.count} of {pattern.width * 1e3:.4g} mm"
        allowed = f"what fits {wide * 1e3:.4g} x {deep * 1e3:.4g} mm"
        raise draft.fault(
            f"the vent does not fit into the {vent.face} of {chamber.name!r}", vent.line, field, found, allowed
        )
    half = max(abs(p[0]) for p in points) + (pattern.length if pattern.kind == "slot" else pattern.width) / 2
    if half > wide / 2 - abs(x) - land + 1e-9:  # too wide a group for a place aside
        x = 0.0
    rings = [opening_ring(pattern, x + a, b) for a, b in points]
    plates = draft.lids if vent.face == "top" else draft.bases
    plates.setdefault(chamber.name, []).extend((vent.name, pattern, ring) for ring in rings)
    if pattern.kind == "mesh":
        level = chamber.place[2] + (
            shape.height + chamber.lid_gap + wall_of(chamber, "top")[1]
            if vent.face == "top"
            else -wall_of(chamber, "base")[1]
        )
        _mesh_and_frame(draft, vent, chamber, (chamber.place[0] + x, chamber.place[1], level), vent.face == "top")


def _mesh_and_frame(draft: Draft, vent: Vent, chamber: Chamber, at: tuple[float, float, float], above: bool) -> None:
    """Woven mesh on the outer side of a port, in the seat of a frame that is glued over it."""
    p, seat = vent.pattern, size("seat_width")
    thick = p.thickness or 2 * p.wire
    thick = 2 * p.wire if thick > 2.5 * p.wire else thick  # a wall's thickness is not the mesh's
    cover = size("frame_cover")
    play = draft.play(vent.name, "tube_play")
    mesh_d, outer = p.width + 2 * seat, p.width + 4 * seat
    share = math.pi * p.wire / (4 * (p.aperture + p.wire))
    wire = f"woven mesh {p.aperture * 1e3:.4g} mm, wire {p.wire * 1e3:.4g} mm"
    z = at[2] if above else at[2] - thick
    disc = Sheet(circle(0.0, 0.0, mesh_d), (), (), thick)
    draft.add(
        Part(
            f"{vent.name} mesh",
            "mesh",
            f"vent.{vent.name}",
            "cut",
            "stainless steel",
            1,
            {"diameter": mesh_d, "thickness": thick, "solid_share": share},
            (at[0], at[1], z, 0.0),
            pattern=p,
            sheet=disc,
            note=wire,
            line=vent.line,
        )
    )
    way, material, note = draft.way(vent.name, "small", "PETG")
    name = f"{vent.name} frame"
    sizes = {
        "outer": outer,
        "bore": p.width,
        "seat": mesh_d + play,
        "seat_depth": thick,
        "height": thick + cover,
        "down": 0.0 if above else 1.0,
    }
    features = (
        Feature("wall", "cover over the mesh", cover),
        Feature("bore", "port", p.width, side="ants"),
        Feature("depth", "seat of the mesh", thick / (mesh_d + play)),
    )
    place = (at[0], at[1], at[2] if above else at[2] - thick - cover, 0.0)
    draft.add(
        Part(
            name, "mesh frame", f"vent.{vent.name}", way, material, 1, sizes, place, features, note=note, line=vent.line
        )
    )
    plate = f"{chamber.name} {'lid' if above else 'base'}"
    draft.join(plate, name, "glued", size=outer, length=seat)
    draft.join(name, f"{vent.name} mesh", "glued", size=mesh_d, length=seat)


def _mesh_on_side(draft: Draft, vent: Vent, chamber: Chamber, opening: WallOpening) -> None:
    """Mesh glued on the outer side of a wall: bent around a round one."""
    p, seat = vent.pattern, size("seat_width")
    thick = 2 * p.wire
    d = p.width + 2 * seat
    share = math.pi * p.wire / (4 * (p.aperture + p.wire))
    x, y, z = chamber.place
    angle = {"front": -math.pi / 2, "back": math.pi / 2, "right": 0.0, "left": math.pi}.get(
        opening.panel, opening.angle
    )
    reach = reach_of(chamber, opening.v, opening.panel)
    along = (math.cos(angle), math.sin(angle))
    shift = {"front": (opening.u, 0.0), "back": (opening.u, 0.0), "left": (0.0, opening.u), "right": (0.0, opening.u)}
    du, dv = shift.get(opening.panel, (0.0, 0.0))
    place = (x + reach * along[0] + du, y + reach * along[1] + dv, z + opening.v, angle)
    radius = 0.0 if chamber.shape.kind == "box" else outer_radius(chamber, opening.v)
    lean = (chamber.shape.top_width - chamber.shape.width) / 2 / chamber.shape.height if radius else 0.0
    level = level_thickness(chamber.shape, thick) if radius else thick
    disc = Sheet(circle(0.0, 0.0, d), (), (), thick)
    name = f"{vent.name} mesh"
    draft.add(
        Part(
            name,
            "mesh",
            f"vent.{vent.name}",
            "cut",
            "stainless steel",
            1,
            {
                "diameter": d,
                "thickness": level,
                "solid_share": share,
                "on_wall": 1.0,
                "wall_radius": radius,
                "lean": lean,
            },
            place,
            pattern=p,
            sheet=disc,
            line=vent.line,
            note=f"woven mesh {p.aperture * 1e3:.4g} mm, wire {p.wire * 1e3:.4g} mm",
        )
    )
    draft.join(f"{chamber.name} wall", name, "glued", size=d, length=seat)


def list_sensor_holders(draft: Draft) -> None:
    """A plug in the lid for each sensor's lead; the sensor itself is bought."""
    seen: dict[str, int] = {}
    for sensor in draft.habitat.sensors:
        chamber = draft.habitat.chamber(sensor.chamber)
        note = "sensor for temperature and humidity"
        draft.add(
            Part(
                f"{sensor.name} sensor",
                "fitting",
                f"sensor.{sensor.name}",
                "bought",
                "PVC",
                1,
                {},
                note=note,
                line=sensor.line,
            )
        )
        top = _plate_above(draft, chamber)
        if top is None:
            continue
        n = seen[chamber.name] = seen.get(chamber.name, -1) + 1
        bore = size("cable")
        outer, flange = bore + 5e-3, bore + 9e-3
        half = (chamber.shape.depth if chamber.shape.kind == "box" else chamber.shape.top_width) / 2
        y = (half - flange / 2 - 1e-3) * (1 if n % 2 == 0 else -1)
        x = 0.02 * (n // 2)
        if _taken(draft.lids.get(chamber.name, []), x, y, flange):
            x += flange + 2e-3
        draft.lids.setdefault(chamber.name, []).append((f"{sensor.name} holder", None, circle(x, y, outer)))
        level, thickness = top
        way, material, text = draft.way(sensor.name, "small", "PETG")
        sizes = {"outer": outer, "bore": bore, "length": thickness, "flange": flange, "flange_height": 2e-3}
        features = (Feature("bore", "bore for the lead", bore), Feature("wall", "wall", (outer - bore) / 2))
        name = f"{sensor.name} holder"
        under = "; the lead goes under the bell's rim" if sensor.under_bell else ""
        draft.add(
            Part(
                name,
                "sensor holder",
                f"sensor.{sensor.name}",
                way,
                material,
                1,
                sizes,
                (chamber.place[0] + x, chamber.place[1] + y, level, 0.0),
                features,
                note=text or f"sealed with silicone around the lead{under}",
                line=sensor.line,
            )
        )
        draft.join(f"{chamber.name} lid", name, "pressed", size=outer, length=thickness, fit="")


def _plate_above(draft: Draft, chamber: Chamber) -> tuple[float, float] | None:
    """Level of a lid's lower side and its thickness; None where a grid closes the chamber above."""
    if any(g.below == chamber.name for g in draft.habitat.grids):
        return None
    return chamber.place[2] + chamber.shape.height + chamber.lid_gap, wall_of(chamber, "top")[1]


def _taken(openings: list[tuple[str, Pattern | None, Ring]], x: float, y: float, wide: float) -> bool:
    for _, _, ring in openings:
        a, b, c, d = box_of(ring)
        grown = wide / 2 + 6e-3
        if a - grown < x < c + grown and b - grown < y < d + grown:
            return True
    return False
