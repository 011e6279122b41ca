"""The vertical cut through a habitat: what stands where in the plane of x (along the bench) and z (above it).

Chambers are cut through their middles and shown in one plane whatever their y; those farther back come first, so
that a drawing in order has the nearer ones on top. Thin things keep their true size; what has no place in the file
(a sensor, a heater's body, the water's form) gets one that shows where it belongs.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from nestwright.habitat.model import Bell, Chamber, Habitat, Layer, Shape

__all__ = ["Opening", "Piece", "Section", "section_shapes"]

Point = tuple[float, float]
Kind = Literal["wall", "lid", "air", "bell", "bell air", "grid", "water", "garden", "passage", "sensor", "heater"]

WATER_DENSITY = 1000.0
"""kg/m3, to draw a level; a drawing has no use for more digits."""
BLOCK_SWELL = 2.0
"""Bulk of a wet block over the water in it, for its drawn height: judgement."""


@dataclass(frozen=True)
class Piece:
    """One closed outline, m, of a part: `name` is the part's, `zone` the air that it belongs to."""

    kind: Kind
    name: str
    zone: str
    points: tuple[Point, ...]
    material: str = ""

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(x low, z low, x high, z high), m."""
        xs, zs = [p[0] for p in self.points], [p[1] for p in self.points]
        return min(xs), min(zs), max(xs), max(zs)


@dataclass(frozen=True)
class Opening:
    """Where air passes: its middle, m, and the direction out of the first zone (unit vector in x and z)."""

    name: str
    kind: Literal["vent", "passage", "grid", "lid gap", "rim gap"]
    at: Point
    out: Point
    size: float
    """Extent along the wall, m, as drawn."""
    zones: tuple[str, str]


@dataclass(frozen=True)
class Section:
    """All pieces in drawing order, all openings, and the level of the bench (z = 0)."""

    pieces: tuple[Piece, ...]
    openings: tuple[Opening, ...]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """(x low, z low, x high, z high) of all pieces, m."""
        boxes = [p.box for p in self.pieces] or [(0.0, 0.0, 1.0, 1.0)]
        lows, highs = zip(*[(b[:2], b[2:]) for b in boxes], strict=True)
        return min(b[0] for b in lows), min(b[1] for b in lows), max(b[0] for b in highs), max(b[1] for b in highs)

    def to_dict(self) -> dict[str, Any]:
        """Outlines and openings in mm."""
        return {
            "pieces": [
                {
                    "kind": p.kind,
                    "name": p.name,
                    "zone": p.zone,
                    "material": p.material,
                    "outline_mm": [[x * 1000, z * 1000] for x, z in p.points],
                }
                for p in self.pieces
            ],
            "openings": [
                {"kind": o.kind, "name": o.name, "between": list(o.zones), "at_mm": [v * 1000 for v in o.at]}
                for o in self.openings
            ],
        }


def section_shapes(habitat: Habitat) -> Section:
    """Outlines of a habitat's vertical cut, and its openings. Lengths in m; never raises for a checked habitat."""
    pieces: list[Piece] = []
    # A chamber that stands inside another comes after it.
    order = sorted(habitat.chambers, key=lambda c: (c.role != "outer", -c.place[1], -c.shape.volume))
    for chamber in order:
        pieces += _walls(chamber)
    for chamber in order:
        pieces.append(
            Piece("air", chamber.name, chamber.name, _form(chamber.shape, chamber.place[0], chamber.place[2]))
        )
    by_chamber = {c.name: [p for p in pieces if p.name == c.name] for c in order}
    pieces = [p for c in order for p in by_chamber[c.name]]
    bells = {b.chamber: b for b in habitat.bells}
    pieces += _grids(habitat)
    pieces += [p for p in (_water(habitat, k) for k in range(len(habitat.waters))) if p is not None]
    for bell in habitat.bells:
        pieces += _bell(habitat.chamber(bell.chamber), bell)
    for garden in habitat.gardens:
        pieces.append(_garden(habitat.chamber(garden.chamber), bells.get(garden.chamber), garden.volume))
    openings: list[Opening] = []
    for passage in habitat.passages:
        piece, opening = _passage(habitat, *passage.between, passage.heights, passage.bore, passage.name)
        pieces.append(piece)
        openings.append(opening)
    openings += _vents(habitat) + _gaps(habitat)
    return Section(tuple(pieces + _heaters(habitat) + _sensors(habitat, bells)), tuple(openings))


def _form(
    shape: Shape, x: float, z: float, side: float = 0.0, base: float = 0.0, top: float = 0.0
) -> tuple[Point, ...]:
    """Outline of a shape with its floor's middle at x, z, grown by so much at sides, base and top."""
    low, high = shape.width / 2 + side, shape.top_width / 2 + side
    if shape.kind == "box":
        high = low
    return (
        (x - low, z - base),
        (x + low, z - base),
        (x + high, z + shape.height + top),
        (x - high, z + shape.height + top),
    )


def _walls(chamber: Chamber) -> list[Piece]:
    """Each layer of each face as an outline of its own, inner layers last so that they lie on top."""
    x, _, z = chamber.place
    found = []
    sides, tops, bases = (_steps(chamber.wall(face).layers) for face in ("side", "top", "base"))
    reach = sides[-1][1] if sides else 0.0
    shape = chamber.shape
    low, high = shape.width / 2, (shape.width if shape.kind == "box" else shape.top_width) / 2
    for inner, outer, material in reversed(sides):
        for sign in (-1, 1):
            points = (
                (x + sign * (low + inner), z),
                (x + sign * (low + outer), z),
                (x + sign * (high + outer), z + shape.height),
                (x + sign * (high + inner), z + shape.height),
            )
            found.append(Piece("wall", chamber.name, chamber.name, points, material))
    for inner, outer, material in reversed(bases):
        found.append(Piece("wall", chamber.name, chamber.name, _bar(x, low + reach, z - outer, z - inner), material))
    for inner, outer, material in reversed(tops):
        level = z + shape.height + chamber.lid_gap
        found.append(
            Piece("lid", chamber.name, chamber.name, _bar(x, high + reach, level + inner, level + outer), material)
        )
    return found


def _steps(layers: tuple[Layer, ...]) -> list[tuple[float, float, str]]:
    """(from, to, material) of each layer, m outward from the inner face."""
    at, found = 0.0, []
    for layer in layers:
        found.append((at, at + layer.thickness, layer.material))
        at += layer.thickness
    return found


def _bar(x: float, half: float, low: float, high: float) -> tuple[Point, ...]:
    return (x - half, low), (x + half, low), (x + half, high), (x - half, high)


def _bell(chamber: Chamber, bell: Bell) -> list[Piece]:
    x, z = chamber.place[0], chamber.place[2] + bell.rim_gap
    zone = f"{chamber.name}/bell"
    thick = sum(layer.thickness for layer in bell.layers)
    # The gap under the rim is air of the chamber: the bell's own air begins at the floor.
    material = bell.layers[0].material if bell.layers else ""
    inner = _form(bell.shape, x, z)
    return [
        Piece("bell", zone, zone, _form(bell.shape, x, z, side=thick, top=thick), material),
        Piece("bell air", zone, zone, inner),
    ]


def _grids(habitat: Habitat) -> list[Piece]:
    found = []
    for grid in habitat.grids:
        above, below = habitat.chamber(grid.above), habitat.chamber(grid.below)
        low, high = below.place[2] + below.shape.height, above.place[2]
        half = min(above.shape.width, below.shape.top_width if below.shape.kind != "box" else below.shape.width) / 2
        middle = (low + high) / 2
        half_thick = max(high - low, grid.pattern.thickness) / 2
        points = _bar(above.place[0], half, middle - half_thick, middle + half_thick)
        found.append(Piece("grid", f"{grid.above} grid", grid.above, points, grid.material))
    return found


def _water(habitat: Habitat, k: int) -> Piece | None:
    water = habitat.waters[k]
    chamber = habitat.chamber(water.chamber)
    shape, (x, _, z) = chamber.shape, chamber.place
    volume = water.store / WATER_DENSITY
    if water.kind == "pool":
        half, bulk = shape.width / 2, volume / shape.base_area
        side = math.sqrt(water.free_surface)
        if side < shape.width * 0.9:  # a tray, not the whole floor
            half, bulk = side / 2, volume / water.free_surface
    else:
        half = min(0.42 * shape.width, max(0.12 * shape.width, math.sqrt(water.free_surface) / 2))
        bulk = (BLOCK_SWELL if water.kind == "block" else 1.0) * volume / (2 * half) ** 2
    height = max(0.06 * shape.height, min(bulk, 0.7 * shape.height))
    # Several in one chamber, or one beside a garden or a chamber that stands inside, move aside.
    others = [w for w in habitat.waters if w.chamber == water.chamber]
    busy = any(g.chamber == water.chamber for g in habitat.gardens) or chamber.role == "outer"
    if len(others) > 1 or busy:
        place = others.index(water)
        x += (shape.width / 2 - half) * 0.94 * (1 if place % 2 == 0 else -1)
    return Piece("water", water.name, chamber.name, _bar(x, half, z, z + height), water.kind)


def _garden(chamber: Chamber, bell: Bell | None, volume: float) -> Piece:
    """Half a ball of the garden's volume, flattened where it would not fit."""
    x, _, z = chamber.place
    radius = (1.5 * volume / math.pi) ** (1 / 3)
    room = bell.shape if bell else chamber.shape
    across = min(radius, 0.48 * min(room.width, room.top_width))
    high = min(radius, 0.92 * (room.height + (bell.rim_gap if bell else 0.0)))
    points = tuple((x + across * math.cos(math.pi * k / 24), z + high * math.sin(math.pi * k / 24)) for k in range(25))
    return Piece("garden", f"{chamber.name} garden", f"{chamber.name}/bell" if bell else chamber.name, points)


def _half_at(shape: Shape, height: float) -> float:
    """Half the inner width at a height above the floor, m."""
    if shape.kind == "box" or shape.height <= 0:
        return shape.width / 2
    part = max(0.0, min(1.0, height / shape.height))
    return (shape.width + part * (shape.top_width - shape.width)) / 2


def _passage(
    habitat: Habitat, one: str, two: str, heights: tuple[float, float], bore: float, name: str
) -> tuple[Piece, Opening]:
    a, b = habitat.chamber(one), habitat.chamber(two)
    za, zb = a.place[2] + heights[0], b.place[2] + heights[1]
    away = b.place[0] - a.place[0]
    apart = abs(away) > 0.25 * (a.shape.width + b.shape.width)
    if apart:
        sign = math.copysign(1.0, away)
        start = (a.place[0] + sign * _half_at(a.shape, heights[0]), za)
        end = (b.place[0] - sign * _half_at(b.shape, heights[1]), zb)
        along = (end[0] - start[0], end[1] - start[1])
        length = math.hypot(*along) or 1.0
        across = (0.0, bore / 2)
    else:
        sign = math.copysign(1.0, zb - za)
        x = (a.place[0] + b.place[0]) / 2
        start, end = (x, za), (x, zb)
        along, length, across = (0.0, zb - za), abs(zb - za) or 1.0, (bore / 2, 0.0)
    points = (
        (start[0] - across[0], start[1] - across[1]),
        (end[0] - across[0], end[1] - across[1]),
        (end[0] + across[0], end[1] + across[1]),
        (start[0] + across[0], start[1] + across[1]),
    )
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    return (
        Piece("passage", name, one, points),
        Opening(name, "passage", middle, (along[0] / length, along[1] / length), bore, (one, two)),
    )


def _vents(habitat: Habitat) -> list[Opening]:
    """Vents to the room on the freer side; several on one face stand side by side."""
    found: list[Opening] = []
    tops: dict[tuple[str, str], int] = {}
    for vent in habitat.vents:
        chamber = habitat.chamber(vent.chamber)
        shape, (x, _, z) = chamber.shape, chamber.place
        pattern = vent.pattern
        size = pattern.length if pattern.kind == "slot" else pattern.width
        nth = tops[(vent.chamber, vent.face)] = tops.get((vent.chamber, vent.face), -1) + 1
        thick = sum(layer.thickness for layer in chamber.wall(vent.face).layers)
        if vent.face == "side":
            sign = _freer_side(habitat, chamber, nth)
            at = (x + sign * (_half_at(shape, vent.height) + thick / 2), z + vent.height)
            out, size = (float(sign), 0.0), max(pattern.width, 0.002)
        else:
            # Off the middle, where heaters, sensors and the garden's label are.
            half = _half_at(shape, shape.height if vent.face == "top" else 0.0)
            step = (0.35, -0.35, 0.0, 0.65, -0.65)[nth % 5]
            up = vent.face == "top"
            at = (x + step * half, z + shape.height + thick / 2 if up else z - thick / 2)
            out = (0.0, 1.0 if up else -1.0)
        found.append(Opening(vent.name, "vent", at, out, min(size, shape.width), (vent.chamber, vent.to)))
    return found


def _freer_side(habitat: Habitat, chamber: Chamber, nth: int) -> int:
    """Right (1) or left (-1): away from passages first, else away from neighbours; further vents alternate."""
    x = chamber.place[0]
    load = {1: 0.0, -1: 0.0}
    for passage in habitat.passages:
        if chamber.name in passage.between:
            other = next(n for n in passage.between if n != chamber.name)
            load[1 if habitat.chamber(other).place[0] > x else -1] += 1
    for other_one in habitat.chambers:
        if abs(other_one.place[0] - x) > 1e-9:
            load[1 if other_one.place[0] > x else -1] += 0.01
    side = 1 if load[1] <= load[-1] else -1
    return side if nth % 2 == 0 else -side


def _gaps(habitat: Habitat) -> list[Opening]:
    found = []
    for chamber in habitat.chambers:
        if chamber.lid_gap > 0:
            shape, (x, _, z) = chamber.shape, chamber.place
            thick = sum(layer.thickness for layer in chamber.wall("side").layers)
            at = (x - _half_at(shape, shape.height) - thick, z + shape.height)
            touches = chamber.wall("top").touches
            to = touches if any(c.name == touches for c in habitat.chambers) else "room"
            found.append(
                Opening(f"{chamber.name} lid gap", "lid gap", at, (-1.0, 0.0), chamber.lid_gap, (chamber.name, to))
            )
    for bell in habitat.bells:
        chamber = habitat.chamber(bell.chamber)
        thick = sum(layer.thickness for layer in bell.layers)
        at = (chamber.place[0] + bell.shape.width / 2 + thick / 2, chamber.place[2] + bell.rim_gap / 2)
        zones = (f"{bell.chamber}/bell", bell.chamber)
        found.append(Opening(f"{bell.chamber} rim gap", "rim gap", at, (1.0, 0.0), bell.rim_gap, zones))
    bells = {b.chamber for b in habitat.bells}
    for grid in habitat.grids:
        above, below = habitat.chamber(grid.above), habitat.chamber(grid.below)
        middle = (above.place[2] + below.place[2] + below.shape.height) / 2
        inner = f"{grid.above}/bell" if grid.above in bells else grid.above
        half = min(above.shape.width, below.shape.width) / 2
        size = grid.pattern.thickness
        names = [(f"{grid.above} grid", inner, -0.3)]
        if grid.above in bells:
            names.append((f"{grid.above} outer grid", grid.above, -0.88))
        for name, zone, part in names:
            at = (above.place[0] + part * half, middle)
            found.append(Opening(name, "grid", at, (0.0, -1.0), size, (zone, grid.below)))
    return found


def _heaters(habitat: Habitat) -> list[Piece]:
    """A heater of a face lies along its outer side; one in air or water is a small bar there."""
    found = []
    for heater in habitat.heaters:
        chamber = habitat.chamber(heater.where[0])
        shape, (x, _, z) = chamber.shape, chamber.place
        where = heater.where[1]
        thin = max(0.0015, 0.012 * shape.height)
        thick = sum(layer.thickness for wall in chamber.walls if wall.face == where for layer in wall.layers)
        if where == "side":
            half = max(shape.width, shape.top_width) / 2 + thick
            points = _bar(x + half + thin, thin, z + 0.2 * shape.height, z + 0.8 * shape.height)
        elif where == "top":
            points = _bar(x, 0.2 * shape.width, z + shape.height + thick, z + shape.height + thick + 2 * thin)
        elif where == "base":
            points = _bar(x, 0.4 * shape.width, z - thick - 2 * thin, z - thick)
        elif where == "water":
            body = [w for w in habitat.waters if w.chamber == chamber.name]
            piece = _water(habitat, habitat.waters.index(body[0])) if body else None
            low = piece.box if piece else (x - 0.2 * shape.width, z, x + 0.2 * shape.width, z)
            points = _bar((low[0] + low[2]) / 2, 0.35 * (low[2] - low[0]), z, z + 2 * thin)
        else:
            points = _bar(
                x - 0.36 * shape.width, 0.06 * shape.width, z + 0.9 * shape.height, z + 0.9 * shape.height + 2 * thin
            )
        found.append(Piece("heater", heater.name, chamber.name, points))
    return found


def _sensors(habitat: Habitat, bells: dict[str, Bell]) -> list[Piece]:
    found: list[Piece] = []
    for sensor in habitat.sensors:
        chamber = habitat.chamber(sensor.chamber)
        under = bells.get(sensor.chamber) if sensor.under_bell else None
        room = under.shape if under else chamber.shape
        zone = f"{chamber.name}/bell" if under else chamber.name
        # Several in one room stand on either side and below each other.
        nth = sum(p.zone == zone for p in found)
        side, up = (1 if nth % 2 == 0 else -1), 0.7 - 0.18 * (nth // 2 % 4)
        x = chamber.place[0] + side * 0.36 * min(room.width, room.top_width)
        z = chamber.place[2] + (under.rim_gap if under else 0.0) + up * room.height
        half = 0.02 * chamber.shape.height
        found.append(Piece("sensor", sensor.name, zone, ((x - half, z), (x, z - half), (x + half, z), (x, z + half))))
    return found
