"""Does every part fit into its chamber? Rules on the sizes of one chamber and what is in or on it."""

from __future__ import annotations

import math
from collections.abc import Iterator

from nestwright.habitat.findings import Finding, mm
from nestwright.habitat.model import Bell, Chamber, Face, Habitat, Pattern, Shape

__all__ = ["check_fit"]

SLACK = 1e-9
"""Metres by which rounding may make a size too large."""
DENSEST = math.pi / (2 * math.sqrt(3))
"""Largest share of a plane that equal circles can cover (hexagonal packing; Thue's theorem)."""


def check_fit(habitat: Habitat) -> Iterator[Finding]:
    """Bells, gardens, water, vents, grids, passages and lids against the size of their chambers."""
    for bell in habitat.bells:
        yield from _bell(bell, habitat.chamber(bell.chamber))
    yield from _contents(habitat)
    yield from _vents(habitat)
    for grid in habitat.grids:
        above, below = habitat.chamber(grid.above), habitat.chamber(grid.below)
        floor = min(above.shape.base_area, below.shape.top_area)
        room = floor * (DENSEST if grid.pattern.kind == "hole" else 1.0)
        if pattern_area(grid.pattern) > room * (1 + 1e-6):
            key = f"grid.{grid.above}.{_size_key(grid.pattern)}"
            found = f"{pattern_area(grid.pattern) * 1e4:.4g} cm2"
            allowed = f"at most {room * 1e4:.4g} cm2"
            if grid.pattern.kind == "hole":
                allowed += f" of round holes in {floor * 1e4:.4g} cm2 of grid"
            yield _bad("the openings together exceed the grid", grid.line, key, found, allowed)
    for passage in habitat.passages:
        for name, height, key in zip(passage.between, passage.heights, ("from_height", "to_height"), strict=True):
            top = habitat.chamber(name).shape.height
            if height - passage.bore / 2 < -SLACK or height + passage.bore / 2 > top + SLACK:
                allowed = f"its middle {mm(passage.bore / 2)} to {mm(top - passage.bore / 2)} above the floor"
                if top < passage.bore:
                    allowed = f"a bore of at most {mm(top)}"
                message = f"the bore does not fit into the side of chamber {name!r}"
                yield _bad(message, passage.line, f"passage.{passage.name}.{key}", mm(height), allowed)
    for chamber in habitat.chambers:
        if chamber.lid_gap > 0:
            where = f"chamber.{chamber.name}.lid_gap"
            touches = chamber.wall("top").touches
            if touches != "room":
                yield _bad(
                    f"the lid has a gap but the top touches {touches!r}", chamber.line, where, mm(chamber.lid_gap)
                )
            if chamber.lid_gap > chamber.shape.height:
                allowed = f"at most {mm(chamber.shape.height)}"
                yield _bad(
                    "the lid's gap is higher than the chamber", chamber.line, where, mm(chamber.lid_gap), allowed
                )


def _bad(message: str, line: int, field: str, found: str = "", allowed: str = "") -> Finding:
    return Finding("error", message, line, field, found, allowed)


def pattern_area(pattern: Pattern) -> float:
    """Area on the face that the openings take, m2; of a mesh that of its whole port."""
    if pattern.kind == "slot":
        return pattern.count * pattern.width * pattern.length
    return pattern.count * math.pi / 4 * pattern.width**2


def _size_key(pattern: Pattern) -> str:
    return "diameter" if pattern.kind == "mesh" else "count"


def _room_at(shape: Shape, height: float) -> tuple[float, float]:
    """Clear width and depth of a chamber at a height above its floor."""
    if shape.kind == "box":
        return shape.width, shape.depth
    share = min(max(height / shape.height, 0.0), 1.0)
    size = shape.width + (shape.top_width - shape.width) * share
    return size, size


def _bell(bell: Bell, chamber: Chamber) -> Iterator[Finding]:
    where = f"bell.{bell.chamber}"
    wall = sum(layer.thickness for layer in bell.layers)
    top = bell.rim_gap + bell.shape.height + wall
    if top > chamber.shape.height + SLACK:
        allowed = f"rim gap, height and wall together at most {mm(chamber.shape.height)}"
        yield _bad("the bell is higher than its chamber", bell.line, f"{where}.height", mm(top), allowed)
    ends = ((bell.shape.width, bell.shape.depth, bell.rim_gap), (bell.shape.top_width, None, top))
    for width, depth, height in ends:
        across, along = width + 2 * wall, (width if depth is None else depth) + 2 * wall
        if bell.shape.kind == "box" and depth is None:
            continue
        clear_x, clear_y = _room_at(chamber.shape, height)
        if bell.shape.kind == "box" and chamber.shape.kind != "box":
            across = along = math.hypot(across, along)
        if across > clear_x + SLACK or along > clear_y + SLACK:
            key = {"box": "width", "cone": "bottom_diameter", "cylinder": "diameter"}[bell.shape.kind]
            found = mm(across if across > clear_x else along) + " outside"
            allowed = f"at most {mm(clear_x if across > clear_x else clear_y)} at that height"
            yield _bad("the bell is larger than its chamber", bell.line, f"{where}.{key}", found, allowed)
            return


def _contents(habitat: Habitat) -> Iterator[Finding]:
    bells = {b.chamber: b for b in habitat.bells}
    for garden in habitat.gardens:
        bell = bells.get(garden.chamber)
        room = (bell.shape if bell else habitat.chamber(garden.chamber).shape).volume
        if garden.volume > room * (1 + 1e-9):
            name = "bell" if bell else "chamber"
            yield _bad(
                f"the garden is larger than its {name}",
                garden.line,
                f"garden.{garden.chamber}.volume",
                f"{garden.volume * 1e6:.4g} mL",
                f"at most {room * 1e6:.4g} mL",
            )
    for water in habitat.waters:
        shape, where = habitat.chamber(water.chamber).shape, f"water.{water.name}"
        if water.kind == "pool" and water.free_surface > shape.base_area * (1 + 1e-6):
            found, allowed = f"{water.free_surface * 1e4:.4g} cm2", f"at most {shape.base_area * 1e4:.4g} cm2"
            yield _bad("the pool is larger than the floor", water.line, f"{where}.free_surface", found, allowed)
        if water.kind == "block" and water.free_surface > (2 * shape.base_area + shape.side_area) * (1 + 1e-6):
            found = f"{water.free_surface * 1e4:.4g} cm2"
            yield _bad("the block's surface is larger than its chamber's", water.line, f"{where}.free_surface", found)
        # 1 mL counts as 1 g, as when the file is read; so store / 1000 is its volume in m3.
        if water.store > shape.volume * 1000 * (1 + 1e-9):
            found, allowed = f"{water.store * 1e3:.4g} mL", f"at most {shape.volume * 1e6:.4g} mL"
            yield _bad("holds more water than its chamber", water.line, f"{where}.store", found, allowed)


def _face_size(shape: Shape, face: Face, across: float) -> tuple[float, float]:
    """Longest and shortest straight size of a face that one opening must fit into; `across` is a height in it."""
    if face == "side":
        width, depth = _room_at(shape, across)
        return max(width, depth), shape.height
    size = shape.top_width if face == "top" else shape.width
    return (max(shape.width, shape.depth), min(shape.width, shape.depth)) if shape.kind == "box" else (size, size)


def _vents(habitat: Habitat) -> Iterator[Finding]:
    taken: dict[tuple[str, Face], float] = {}
    for vent in habitat.vents:
        chamber, where, pattern = habitat.chamber(vent.chamber), f"vent.{vent.name}", vent.pattern
        longest, shortest = _face_size(chamber.shape, vent.face, vent.height)
        long_side = pattern.length if pattern.kind == "slot" else pattern.width
        key = "length" if pattern.kind == "slot" else "diameter"
        if long_side > longest + SLACK or pattern.width > shortest + SLACK:
            allowed = f"at most {mm(min(longest, shortest) if key == 'diameter' else longest)}"
            yield _bad(f"the vent is larger than the {vent.face}", vent.line, f"{where}.{key}", mm(long_side), allowed)
        elif vent.face == "side":
            half, top = pattern.width / 2, chamber.shape.height
            if vent.height - half < -SLACK or vent.height + half > top + SLACK:
                allowed = f"its middle {mm(half)} to {mm(top - half)} above the floor"
                message = (
                    "the vent reaches above its chamber" if vent.height > half else "the vent reaches below the floor"
                )
                yield _bad(message, vent.line, f"{where}.height", mm(vent.height), allowed)
        spot = (vent.chamber, vent.face)
        before = taken.get(spot, 0.0)
        area = chamber.shape.area(vent.face)
        taken[spot] = before + pattern_area(pattern) / (DENSEST if pattern.kind == "hole" else 1.0)
        if taken[spot] > area * (1 + 1e-6) >= before:
            message = f"the openings together exceed the {vent.face} of chamber {vent.chamber!r}"
            found = f"{pattern_area(pattern) * 1e4:.4g} cm2 in this vent"
            yield _bad(
                message, vent.line, f"{where}.{_size_key(pattern)}", found, f"{area * 1e4:.4g} cm2 of wall in all"
            )
        touches = chamber.wall(vent.face).touches
        if touches != vent.to and not (vent.to == "room" and touches == "room"):
            message = (
                f"the {vent.face} of chamber {vent.chamber!r} touches {touches!r}, so no air passes to {vent.to!r}"
            )
            yield _bad(message, vent.line, f"{where}.to", repr(vent.to), f"a vent in a face that touches {vent.to!r}")
