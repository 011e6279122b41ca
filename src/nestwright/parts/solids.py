"""Solids of parts by build123d on Open CASCADE, in mm, each in its own frame. Its import takes seconds: only here.

Flat parts are their outlines at their thickness; an upright panel has its sheet's y upwards and its outer side at
y = 0. Round walls and everything turned are profiles turned about the vertical. Tubes and collars lie along x, raised
by their tilt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.model import Feature, Part, Ring, Sheet
from nestwright.parts.rings import as_circle

__all__ = ["place_of", "placed", "solid_of"]

Points = Sequence[tuple[float, float]]


def solid_of(part: Part) -> Any:
    """The solid of a part, a build123d Solid in mm.

    Raises
    ------
    InputError
        For a fitting, which has none, and for sizes of which no single closed body can be made.
    """
    make = _MAKERS.get(part.kind)
    if make is None:
        make = _sheet_solid if part.sheet is not None else None
    if make is None:
        raise InputError("has no solid: it is bought as it is", field=part.name, found=part.kind)
    if part.kind not in ("block", "mould") and part.sheet is not None and not _round(part):
        make = _sheet_solid
    if part.sizes.get("on_wall"):
        make = _mesh_on_wall
    return _one(part, make(part))


def place_of(part: Part) -> Any:
    """Where a part stands in the habitat: a build123d Location, mm."""
    from build123d import Location

    x, y, z, turn = part.place
    return Location((x * 1e3, y * 1e3, z * 1e3), (0, 0, math.degrees(turn)))


def placed(part: Part, solid: Any) -> Any:
    """The same solid where it stands in the habitat."""
    return solid.moved(place_of(part))


def _round(part: Part) -> bool:
    return "inner" in part.sizes or "roof" in part.sizes or part.kind == "coupon"


def _one(part: Part, shape: Any) -> Any:
    """The only solid of a shape. Raises InputError where there is not exactly one, or it is not sound."""
    # what two bodies share comes as a list
    bodies = shape if isinstance(shape, list) else [shape]
    solids = [solid for body in bodies for solid in body.solids()]
    if len(solids) != 1 or not solids[0].is_valid or solids[0].volume <= 0:
        raise InputError("its sizes make no single closed body", field=part.name, found=f"{len(solids)} bodies")
    return solids[0]


def _mm(part: Part) -> dict[str, float]:
    return {name: length * 1e3 for name, length in part.sizes.items()}


def _wire(ring: Ring) -> Any:
    from build123d import Plane, Wire

    found = as_circle(ring)
    if found:
        x, y, d = (one * 1e3 for one in found)
        return Wire.make_circle(d / 2, Plane((x, y, 0)))
    return Wire.make_polygon([(x * 1e3, y * 1e3, 0) for x, y in ring], close=True)


def sheet_face(sheet: Sheet) -> Any:
    """A sheet's outline with its openings as a flat face, mm."""
    from build123d import Face

    return Face(_wire(sheet.outline), [_wire(ring) for ring in sheet.openings])


def _sheet_solid(part: Part) -> Any:
    from build123d import Axis, Cylinder, Pos, Solid

    assert part.sheet is not None
    t = part.sheet.thickness * 1e3
    if part.sizes.get("upright"):
        return Solid.extrude(sheet_face(part.sheet), (0, 0, -t)).rotate(Axis.X, 90)
    solid = Solid.extrude(sheet_face(part.sheet), (0, 0, t))
    if "seat" in part.sizes:
        s = _mm(part)
        solid = solid.cut(Pos(0, 0, t - s["seat_depth"] / 2) * Cylinder(s["seat"] / 2, s["seat_depth"]))
    return solid


def turned(points: Points, degrees: float = 360.0) -> Any:
    """A profile of (radius, height) turned about the vertical, from the x axis on."""
    from build123d import Axis, Face, Solid, Wire

    clean = [p for n, p in enumerate(points) if math.dist(p, points[n - 1]) > 1e-9]
    straight = []
    for n, p in enumerate(clean):
        a, b = clean[n - 1], clean[(n + 1) % len(clean)]
        if abs((p[0] - a[0]) * (b[1] - p[1]) - (p[1] - a[1]) * (b[0] - p[0])) > 1e-9:
            straight.append(p)
    face = Face(Wire.make_polygon([(r, 0, z) for r, z in straight], close=True))
    return Solid.revolve(face, degrees, Axis.Z)


def _shell(part: Part) -> Any:
    """A wall, round or rectangular, with what closes it, its feet and its openings."""
    from build123d import Align, Box, Pos

    s = _mm(part)
    h, t, floor, roof, gap = s["length"], s["thickness"], s.get("floor", 0.0), s.get("roof", 0.0), s.get("gap", 0.0)
    if "width" in s:
        low = (Align.CENTER, Align.CENTER, Align.MIN)
        w, d = s["width"], s["depth"]
        under, over = max(floor, gap), 0 if roof else 1
        outer = Pos(0, 0, -under) * Box(w + 2 * t, d + 2 * t, under + h + roof, align=low)
        start = 0.0 if floor else -under - 1
        solid = outer.cut(Pos(0, 0, start) * Box(w, d, h + over - start, align=low))
    else:
        a, b = s["inner"] / 2, s["inner_top"] / 2
        if floor:
            outside = [(0.0, -floor), (a + t, -floor), (a + t, 0.0), (b + t, h)]
            profile = [*outside, (b, h), (a, 0.0), (0.0, 0.0)]
        elif roof:
            profile = [
                (a, -gap),
                (a + t, -gap),
                (a + t, 0),
                (b + t, h),
                (b + t, h + roof),
                (0, h + roof),
                (0, h),
                (b, h),
                (a, 0),
            ]
        else:
            profile = [(a, -gap), (a + t, -gap), (a + t, 0), (b + t, h), (b, h), (a, 0)]
        solid = turned(profile)
    if gap:
        solid = solid.cut(*_between_feet(s))
    tools = [tool for f in part.features for tool in _drills(part, f)]
    return solid.cut(*tools) if tools else solid


def _between_feet(s: dict[str, float]) -> list[Any]:
    """What is taken out of a rim so that only its feet are left."""
    from build123d import Align, Box, Pos

    t, gap, foot = s["thickness"], s["gap"], s["foot"]
    if "width" in s:
        w, d = s["width"], s["depth"]
        low = (Align.CENTER, Align.CENTER, Align.MIN)
        along = Box(w - 2 * foot, d + 4 * t, gap + 1, align=low)
        across = Box(w + 4 * t, d, gap + 1, align=low)
        return [Pos(0, 0, -gap - 1) * along, Pos(0, 0, -gap - 1) * across]
    a, n = s["inner"] / 2, round(s["feet"] / 1e3)  # a number, and no length
    wide = math.degrees(foot / (a + t / 2))
    window = turned([(a - 1, -gap - 1), (a + t + 1, -gap - 1), (a + t + 1, 0), (a - 1, 0)], 360 / n - wide)
    return [_spun(window, 360 * k / n + wide / 2) for k in range(n)]


def _spun(solid: Any, degrees: float) -> Any:
    from build123d import Axis

    return solid.rotate(Axis.Z, degrees)


def _drills(part: Part, f: Feature) -> Iterable[Any]:
    """What is taken out of a wall for one opening: square to a flat wall, towards the middle in a round one."""
    from build123d import Align, Box, Cylinder, Pos, Rot

    if f.kind not in ("hole", "bore", "slot") or f.side != "ants" or part.kind not in ("body", "jacket"):
        return
    s, w = _mm(part), f.size * 1e3
    long = s.get(f"length of {f.name}", w)
    x, y, z = (one * 1e3 for one in f.at)
    if z < 0:
        deep = s["floor"] + 2
        tool = Cylinder(w / 2, deep) if f.kind != "slot" else Box(long, w, deep)
        yield Pos(x, y, -s["floor"] / 2) * tool
        return
    if "width" in s:
        on_x = abs(abs(x) - s["width"] / 2) < abs(abs(y) - s["depth"] / 2)
        turn = (0.0 if x > 0 else 180.0) if on_x else math.copysign(90.0, y)
        start, end = -1.0, s["thickness"] + 1
        base = Pos(x, y, z)
    else:
        turn = math.degrees(math.atan2(y, x))
        share = z / s["length"]
        r = (s["inner"] + (s["inner_top"] - s["inner"]) * share) / 2
        lean = abs(s["inner_top"] - s["inner"]) / 2 / s["length"]
        start = math.sqrt(max(r * r - long * long / 4, 0.0)) - 1 - lean * w
        end = r + s["thickness"] + 1 + lean * w
        base = Pos(0, 0, z)
    if f.kind == "slot":
        tool = Box(end - start, long, w, align=(Align.MIN, Align.CENTER, Align.CENTER))
    else:
        tool = Rot(0, 90, 0) * Cylinder(w / 2, end - start, align=(Align.CENTER, Align.CENTER, Align.MIN))
    yield base * Rot(0, 0, turn) * Pos(start, 0, 0) * tool


def _pipe(part: Part) -> Any:
    """A tube or plug along x, raised by its tilt."""
    from build123d import Rot

    s = _mm(part)
    a, b, h = s["bore"] / 2, s["outer"] / 2, s["length"]
    solid = turned([(a, 0), (b, 0), (b, h), (a, h)])
    return Rot(0, 90 - math.degrees(part.sizes.get("tilt", 0.0)), 0) * solid


def _collar(part: Part) -> Any:
    """A ring around a tube's end that ends on the wall: flat, round or conical."""
    from build123d import Align, Box, Cone, Cylinder, Pos, Rot

    s, tilt, lean = _mm(part), part.sizes["tilt"], part.sizes.get("lean", 0.0)
    a, b, h, r = s["bore"] / 2, s["outer"] / 2, s["length"], s["wall_radius"]
    back = 1 + b * (abs(math.tan(tilt)) + abs(lean)) + (r - math.sqrt(max(r * r - b * b, 0.0)) if r else 0.0)
    ring = Rot(0, 90 - math.degrees(tilt), 0) * turned([(a, -back), (b, -back), (b, h), (a, h)])
    tall = 4 * b
    if not r:
        wall = Box(4 * back, tall, tall, align=(Align.MAX, Align.CENTER, Align.CENTER))
    elif lean:
        wall = Pos(-r, 0, 0) * Cone(r - lean * tall / 2, r + lean * tall / 2, tall)
    else:
        wall = Pos(-r, 0, 0) * Cylinder(r, tall)
    return ring.cut(wall)


def _holder(part: Part) -> Any:
    s = _mm(part)
    a, b, f, h, t = s["bore"] / 2, s["outer"] / 2, s["flange"] / 2, s["length"], s["flange_height"]
    return turned([(a, 0), (b, 0), (b, h), (f, h), (f, h + t), (a, h + t)])


def _mesh_frame(part: Part) -> Any:
    """The ring over a mesh, its seat on the lower side, or on the upper one where it hangs under a base."""
    s = _mm(part)
    a, b, h, seat, deep = s["bore"] / 2, s["outer"] / 2, s["height"], s["seat"] / 2, s["seat_depth"]
    points = [(seat, 0), (b, 0), (b, h), (a, h), (a, deep), (seat, deep)]
    return turned([(r, h - z) for r, z in points] if s["down"] else points)


def _mesh_on_wall(part: Part) -> Any:
    """A disc of mesh on the outer side of a wall, bent around a round one; the wall's outside is at x = 0."""
    from build123d import Cylinder, Pos, Rot

    s = _mm(part)
    d, t, r = s["diameter"], s["thickness"], s["wall_radius"]
    disc = Rot(0, 90, 0) * Cylinder(d / 2, 2 * t if not r else d)
    if not r:
        return Pos(t / 2, 0, 0) * Rot(0, 90, 0) * Cylinder(d / 2, t)
    lean = part.sizes.get("lean", 0.0) * d
    band = turned([(r - lean, -d), (r - lean + t, -d), (r + lean + t, d), (r + lean, d)])
    return Pos(-r, 0, 0) * band.intersect(Pos(r, 0, 0) * disc)


def _block(part: Part) -> Any:
    from build123d import Plane, Pos, Rectangle, loft

    s = _mm(part)
    h = s["height"]
    if part.sizes["box"]:
        low = Rectangle(s["low_width"], s["low_depth"])
        return loft([low.face(), (Plane.XY.offset(h) * Rectangle(s["top_width"], s["top_depth"])).face()])
    return Pos(0, 0, 0) * turned([(0, 0), (s["low_width"] / 2, 0), (s["top_width"] / 2, h), (0, h)])


def _mould(part: Part) -> Any:
    """A tray of the block's form: open above, the block stands in it as in its chamber."""
    from build123d import Align, Box, Cylinder, Pos

    s = _mm(part)
    h, t = s["height"], s["wall"]
    low = (Align.CENTER, Align.CENTER, Align.MIN)
    if part.sizes["box"]:
        outer = Box(s["top_width"] + 2 * t, s["top_depth"] + 2 * t, h + t, align=low)
    else:
        outer = Cylinder(s["top_width"] / 2 + t, h + t, align=low)
    return outer.cut(Pos(0, 0, t) * _block(part))


def _cylinder(part: Part) -> Any:
    s = _mm(part)
    r, h = s["outer"] / 2, s["length"]
    return turned([(0, 0), (r, 0), (r, h), (0, h)])


def _coupon(part: Part) -> Any:
    from nestwright.parts.coupon import coupon_solid

    return coupon_solid(part)


_MAKERS: dict[str, Callable[[Part], Any]] = {
    "body": _shell, "jacket": _shell, "bell": _shell, "tray": _shell, "feeder seat": _shell, "stand": _shell,
    "tube": _pipe, "plug": _pipe, "port": _collar, "coupling": _collar, "sensor holder": _holder,
    "mesh frame": _mesh_frame, "block": _block, "mould": _mould, "reservoir": _cylinder, "coupon": _coupon,
    "mesh": _sheet_solid, "panel": _sheet_solid, "lid": _sheet_solid, "grid": _sheet_solid,
}  # fmt: skip
