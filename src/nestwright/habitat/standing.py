"""What stands in a chamber and takes its air: wet blocks, trays, bottles, bells, and chambers inside a case.

The proof takes these volumes from a chamber's air, the list of parts makes its solids by the same sizes. SI throughout.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestwright.habitat.model import Bell, Chamber, Grid, Habitat, Pattern, Shape, Water
from nestwright.habitat.sizes import size

__all__ = [
    "Bottle",
    "Tray",
    "bell_gap",
    "block_bulk",
    "bottle_of",
    "level_thickness",
    "mesh_seat",
    "port_recess",
    "share_under",
    "standing_volume",
    "tray_of",
]

_WATER = 1000.0
"""kg/m3: 1 mL counts as 1 g when the file is read."""


@dataclass(frozen=True)
class Tray:
    """A pool's tray: inner `side` (or diameter where `round_one`), inner height, thickness of wall and floor, m."""

    side: float
    height: float
    wall: float
    round_one: bool

    @property
    def material(self) -> float:
        """Volume of its walls and floor, m3."""
        outer = self.side + 2 * self.wall
        form = math.pi / 4 if self.round_one else 1.0
        return form * ((outer**2 - self.side**2) * self.height + outer**2 * self.wall)


@dataclass(frozen=True)
class Bottle:
    """A reservoir's bottle and the seat that holds it: diameter, height, inner width and height of the seat, m."""

    diameter: float
    height: float
    seat: float
    seat_height: float
    wall: float

    @property
    def seat_material(self) -> float:
        outer = self.seat + 2 * self.wall
        return math.pi / 4 * ((outer**2 - self.seat**2) * self.seat_height + outer**2 * self.wall)


def level_thickness(shape: Shape, thickness: float) -> float:
    """Thickness of a round wall measured level: more than square to it where the wall leans."""
    lean = (shape.top_width - shape.width) / 2 / shape.height if shape.kind == "cone" else 0.0
    return float(thickness * (1 + lean**2) ** 0.5)


def block_bulk(habitat: Habitat, water: Water) -> float:
    """Outer volume of a wet block: its solid and the water in its pores, m3."""
    told = next((m for m in habitat.makes if m.part == water.name), None)
    ceramic = told is not None and told.material == "porous ceramic"
    solid = size("clay_density" if ceramic else "gypsum_density")
    held = water.store / _WATER
    return held + water.dry_mass / solid if water.dry_mass else held / size("block_pores")


def tray_of(water: Water, chamber: Chamber) -> Tray | None:
    """The tray of a pool that does not cover its chamber's floor; None where the floor itself holds it."""
    if water.free_surface >= 0.98 * chamber.shape.base_area:
        return None
    round_one = chamber.shape.kind != "box"
    side = math.sqrt(4 / math.pi * water.free_surface if round_one else water.free_surface)
    height = water.store / _WATER / water.free_surface + size("tray_rim")
    return Tray(side, height, size("tray_wall"), round_one)


def bottle_of(water: Water, chamber: Chamber, play: float) -> Bottle | None:
    """The bottle of a reservoir in its usual proportions, wider where the chamber is low; None where it has no room."""
    volume, wall, aspect = water.store / _WATER, size("tray_wall"), size("bottle_aspect")
    room = chamber.shape.height - wall - 1e-3
    if room <= 0:
        return None
    d = (4 * volume / (math.pi * aspect)) ** (1 / 3)
    if d * aspect > room:
        d = math.sqrt(4 * volume / (math.pi * room))
    return Bottle(d, 4 * volume / (math.pi * d * d), d + play, 8e-3, wall)


def bell_gap(bell: Bell) -> float:
    """Height of a bell's rim above the floor, m: its feet take some of the gap, which is higher by as much."""
    feet = (4 if bell.shape.kind == "box" else 3) * size("foot")
    return bell.rim_gap * bell.shape.rim / (bell.shape.rim - feet) if bell.rim_gap > 0 else 0.0


def _grown(shape: Shape, side: float, height: float) -> float:
    """Volume of a form wider by `side` all round, its walls prolonged to a whole height."""
    if shape.kind == "box":
        return (shape.width + 2 * side) * (shape.depth + 2 * side) * height
    a, b = shape.width / 2 + side, shape.top_width / 2 + side
    return math.pi / 3 * (a * a + a * b + b * b) * height


def _bell_material(bell: Bell) -> float:
    """Volume of a bell's wall, its plate above and its feet, m3."""
    s, thick, gap = bell.shape, sum(layer.thickness for layer in bell.layers), bell_gap(bell)
    level, foot = level_thickness(s, thick), size("foot")
    wall = _grown(s, level, s.height) - s.volume
    if s.kind == "box":
        return wall + (s.width + 2 * thick) * (s.depth + 2 * thick) * thick + 4 * (foot + thick) * thick * gap
    return wall + math.pi / 4 * (s.top_width + 2 * level) ** 2 * thick + 3 * foot * level * gap


def mesh_seat(pattern: Pattern, thickness: float) -> float:
    """Depth of the seat that holds a mesh in the top of a plate, m; 0 where the plate is too thin for one."""
    thick = min(2 * pattern.wire, thickness)
    return thick if thickness - thick >= size("frame_cover") / 2 else 0.0


def port_recess(habitat: Habitat, chamber: Chamber) -> float:
    """Air in the port of a mesh above a chamber, below the mesh that lies in the plate's upper side, m3."""
    total = 0.0
    for grid in habitat.grids:
        seat = mesh_seat(grid.pattern, grid.pattern.thickness) if grid.pattern.kind == "mesh" else 0.0
        if grid.below == chamber.name and seat:
            total += math.pi / 4 * grid.pattern.width**2 * (grid.pattern.thickness - seat)
    return total


def share_under(grid: Grid, bell: Bell | None, above: Chamber) -> float:
    """Share of a grid's open area that lies under the bell above it, 0 to 1: whole openings, or what of a meshed port
    the bell covers."""
    if bell is None:
        return 0.0
    s, pattern = bell.shape, grid.pattern
    if pattern.kind != "mesh":
        return round(pattern.count * min(1.0, s.base_area / above.shape.base_area)) / pattern.count
    r = pattern.width / 2
    if s.kind != "box":
        return min(1.0, (s.width / pattern.width) ** 2)
    x, y = min(s.width / 2, r), min(s.depth / 2, r)
    # strips of the port's circle across the bell's width
    n = 2000
    strips = (min(y, math.sqrt(max(r * r - ((k + 0.5) / n * x) ** 2, 0.0))) for k in range(n))
    return min(1.0, 4 * sum(strips) * x / n / (math.pi * r * r))


def _inside_case(habitat: Habitat, case: Chamber) -> float:
    """Volume of the chambers that stand in a case, with their walls and grids, m3."""
    total = 0.0
    inside = [c for c in habitat.chambers if case.name in (w.touches for w in c.walls)]
    for one in inside:
        above = next((g for g in habitat.grids if g.below == one.name), None)
        below = next((g for g in habitat.grids if g.above == one.name), None)
        thick = {w.face: sum(layer.thickness for layer in w.layers) for w in one.walls}
        side = level_thickness(one.shape, thick["side"])
        # a grid counts with the chamber above it; what stands on another chamber stands on its lid
        top = 0.0 if above else thick["top"] + one.lid_gap
        others = {c.name for c in inside}
        base = below.pattern.thickness if below else (0.0 if one.wall("base").touches in others else thick["base"])
        total += _grown(one.shape, side, one.shape.height)
        ends = ((one.shape.top_width, one.shape.depth, top), (one.shape.width, one.shape.depth, base))
        for width, depth, high in ends:
            if one.shape.kind == "box":
                total += (width + 2 * side) * (depth + 2 * side) * high
            else:
                total += math.pi / 4 * (width + 2 * side) ** 2 * high
    return total


def standing_volume(habitat: Habitat, chamber: Chamber) -> float:
    """Air that everything in a chamber takes from it, but for its garden: a bell counts with the space inside, m3."""
    total = 0.0
    for water in habitat.waters:
        if water.chamber != chamber.name:
            continue
        if water.kind == "block":
            total += block_bulk(habitat, water)
            continue
        total += water.store / _WATER
        if water.kind == "pool":
            tray = tray_of(water, chamber)
            total += tray.material if tray else 0.0
        else:
            bottle = bottle_of(water, chamber, size("tube_play"))
            total += bottle.seat_material if bottle else 0.0
    for bell in habitat.bells:
        if bell.chamber == chamber.name:
            total += bell.shape.volume + _bell_material(bell)
    if chamber.role == "outer":
        total += _inside_case(habitat, chamber)
    return total
