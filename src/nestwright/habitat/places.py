"""Where chambers stand: overlap, contact, reach of passages, and on which side of the garden food and waste lie."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

from nestwright.habitat.findings import Finding, mm
from nestwright.habitat.model import Chamber, Habitat

__all__ = ["check_places"]

TOLERANCE = 5e-4
"""Metres by which drawn places may miss each other; half a millimetre is what a maker can keep."""

Ends = tuple[float, float]


def check_places(habitat: Habitat) -> Iterator[Finding]:
    """Rules on the places of chambers and on what joins two of them."""
    yield from _overlaps(habitat)
    yield from _contacts(habitat)
    for grid in habitat.grids:
        above, below = habitat.chamber(grid.above), habitat.chamber(grid.below)
        if grid.above == grid.below:
            yield Finding("error", "a grid lies between two different chambers", grid.line, f"grid.{grid.above}.below")
        elif _floor_distance(above, below) > 0 or above.place[2] < below.place[2] + below.shape.height - TOLERANCE:
            message = f"chamber {grid.above!r} does not stand above chamber {grid.below!r}"
            found = f"floor of {grid.above!r} at {mm(above.place[2])}, top of {grid.below!r} at "
            found += mm(below.place[2] + below.shape.height)
            yield Finding("error", message, grid.line, f"grid.{grid.above}.above", found)
        elif above.wall("base").touches != grid.below or below.wall("top").touches != grid.above:
            message = "there is a grid between two faces that do not touch each other"
            yield Finding(
                "error", message, grid.line, f"grid.{grid.above}", allowed="touches = the other chamber's name"
            )
    for passage in habitat.passages:
        a, b = (habitat.chamber(n) for n in passage.between)
        gap = math.hypot(max(_floor_distance(a, b), 0.0), max(_apart(_heights(a), _heights(b)), 0.0))
        if _inside(a, b) or _inside(b, a):
            continue
        if passage.length < gap - TOLERANCE:
            message = f"the passage is shorter than the way from {a.name!r} to {b.name!r}"
            where = f"passage.{passage.name}.length"
            yield Finding("error", message, passage.line, where, mm(passage.length), f"at least {mm(gap)}")
    yield from _sides(habitat)


def _wall(chamber: Chamber, face: str) -> float:
    return sum(layer.thickness for w in chamber.walls if w.face == face for layer in w.layers)


def _heights(c: Chamber) -> Ends:
    return c.place[2], c.place[2] + c.shape.height


def _outer_heights(c: Chamber) -> Ends:
    low, high = _heights(c)
    return low - _wall(c, "base"), high + _wall(c, "top")


def _apart(a: Ends, b: Ends) -> float:
    """Distance between two stretches; negative by as much as they overlap."""
    return max(a[0] - b[1], b[0] - a[1])


def _floor_distance(a: Chamber, b: Chamber, wall: bool = False) -> float:
    """Distance of two floor plans (0 or less when they overlap), with or without the side walls."""
    extra = (_wall(a, "side") + _wall(b, "side")) if wall else 0.0
    dx, dy = abs(a.place[0] - b.place[0]), abs(a.place[1] - b.place[1])
    wide = [max(c.shape.width, c.shape.top_width) for c in (a, b)]
    if a.shape.kind != "box" and b.shape.kind != "box":
        return math.hypot(dx, dy) - (wide[0] + wide[1]) / 2 - extra
    if a.shape.kind == "box" and b.shape.kind == "box":
        gap_x = dx - (a.shape.width + b.shape.width) / 2
        gap_y = dy - (a.shape.depth + b.shape.depth) / 2
        outside = math.hypot(max(gap_x, 0.0), max(gap_y, 0.0))
        return (outside if outside > 0 else max(gap_x, gap_y)) - extra
    box, round_one, size = (a, b, wide[1]) if a.shape.kind == "box" else (b, a, wide[0])
    gap_x, gap_y = dx - box.shape.width / 2, dy - box.shape.depth / 2
    outside = math.hypot(max(gap_x, 0.0), max(gap_y, 0.0))
    assert round_one.shape.kind != "box"
    return (outside if outside > 0 else max(gap_x, gap_y)) - size / 2 - extra


def _inside(a: Chamber, b: Chamber) -> bool:
    """Does a stand within the inner space of b, and say so by a face that touches b?"""
    if not any(w.touches == b.name for w in a.walls):
        return False
    low, high = _heights(a)
    b_low, b_high = _heights(b)
    dx, dy = abs(a.place[0] - b.place[0]), abs(a.place[1] - b.place[1])
    half_x, half_y = max(a.shape.width, a.shape.top_width) / 2, max(a.shape.depth, a.shape.top_width) / 2
    if a.shape.kind == "box":
        half_x, half_y = a.shape.width / 2, a.shape.depth / 2
    in_plan = dx + half_x <= b.shape.width / 2 + TOLERANCE and dy + half_y <= b.shape.depth / 2 + TOLERANCE
    return in_plan and low >= b_low - TOLERANCE and high <= b_high + TOLERANCE


def _overlaps(habitat: Habitat) -> Iterator[Finding]:
    for a, b in combinations(habitat.chambers, 2):
        touching = any(w.touches == b.name for w in a.walls) or any(w.touches == a.name for w in b.walls)
        if touching and (_inside(a, b) or _inside(b, a)):
            continue
        # Chambers that share a wall may reach into each other's walls, but not into each other's air.
        heights = (_heights(a), _heights(b)) if touching else (_outer_heights(a), _outer_heights(b))
        deep = max(_floor_distance(a, b, wall=not touching), _apart(*heights))
        if deep < -TOLERANCE:
            message = f"chamber {b.name!r} overlaps chamber {a.name!r} by {mm(-deep)}"
            yield Finding(
                "error", message, b.line, f"chamber.{b.name}.place", allowed="chambers that stand apart or touch"
            )


def _contacts(habitat: Habitat) -> Iterator[Finding]:
    names = {c.name for c in habitat.chambers}
    for c in habitat.chambers:
        for wall in c.walls:
            if wall.touches not in names:
                continue
            other = habitat.chamber(wall.touches)
            if _inside(c, other) or _inside(other, c):
                continue
            if wall.face == "side":
                gap = max(_floor_distance(c, other) - _wall(c, "side") - _wall(other, "side"), 0.0)
                beside = _apart(_heights(c), _heights(other)) < 0
                ok = gap <= 2 * TOLERANCE and beside
            else:
                lower, upper = (other, c) if wall.face == "base" else (c, other)
                gap = _heights(upper)[0] - _heights(lower)[1]
                thick = max(_wall(upper, "base"), _wall(lower, "top"))
                ok = gap <= thick + 2 * TOLERANCE and _floor_distance(c, other) < 0 and gap >= -TOLERANCE
            if not ok:
                message = f"the {wall.face} is said to touch chamber {other.name!r}, but does not reach it"
                field = f"chamber.{c.name}.{wall.face}.touches"
                yield Finding(
                    "error", message, wall.line or c.line, field, repr(other.name), "a chamber that it reaches"
                )
            elif wall.face == "base" and other.wall("top").touches == c.name:
                theirs = other.wall("top").layers
                if theirs != wall.layers[::-1]:
                    message = f"the wall shared with {other.name!r} is told twice, and differently"
                    where = f"chamber.{c.name}.base.layers"
                    yield Finding("error", message, wall.line or c.line, where, allowed="tell it in one of the two")


def _sides(habitat: Habitat) -> Iterator[Finding]:
    """Common practice, no source: food and waste are kept on opposite sides of the garden."""
    roles = {r: [c for c in habitat.chambers if c.role == r] for r in ("garden", "forage", "dump")}
    for dump in roles["dump"]:
        for forage in roles["forage"]:
            for garden in roles["garden"][:1]:
                ax, ay = (dump.place[i] - garden.place[i] for i in (0, 1))
                bx, by = (forage.place[i] - garden.place[i] for i in (0, 1))
                if ax * bx + ay * by > 0:
                    message = f"lies on the same side of {garden.name!r} as the food in {forage.name!r}"
                    message += " (common practice, no source: keep them on opposite sides)"
                    yield Finding("warning", message, dump.line, f"chamber.{dump.name}.place")
