"""Outlines on a sheet: circles, rectangles, panels with fingers; their lengths and areas. Lengths m.

A circle is a ring of 72 corners on it; `as_circle` finds it again, so that solids and drawings get true circles.
"""

from __future__ import annotations

import functools
import itertools
import math

from nestwright.parts.model import Ring, Sheet
from nestwright.parts.sizes import size

__all__ = [
    "as_circle", "base_outline", "box_of", "circle", "fingers", "panel_outline", "rectangle", "ring_area",
    "ring_length", "sheet_area", "sheet_cut",
]  # fmt: skip

_CORNERS = 72


def circle(x: float, y: float, diameter: float) -> Ring:
    turns = (2 * math.pi * n / _CORNERS for n in range(_CORNERS))
    return tuple((x + diameter / 2 * math.cos(t), y + diameter / 2 * math.sin(t)) for t in turns)


def rectangle(x: float, y: float, width: float, depth: float) -> Ring:
    """A rectangle about its middle."""
    a, b = width / 2, depth / 2
    return ((x - a, y - b), (x + a, y - b), (x + a, y + b), (x - a, y + b))


@functools.lru_cache(maxsize=8192)
def as_circle(ring: Ring) -> tuple[float, float, float] | None:
    """(x, y, diameter) of a ring of at least 48 corners that all lie on one circle, else None."""
    if len(ring) < 48:
        return None
    x = sum(p[0] for p in ring) / len(ring)
    y = sum(p[1] for p in ring) / len(ring)
    reach = [math.hypot(a - x, b - y) for a, b in ring]
    return (x, y, 2 * reach[0]) if max(reach) - min(reach) < 1e-7 + 1e-6 * reach[0] else None


def ring_area(ring: Ring) -> float:
    """Area that a ring encloses; of a circle the true one."""
    found = as_circle(ring)
    if found:
        return math.pi / 4 * found[2] ** 2
    pairs = zip(ring, (*ring[1:], ring[0]), strict=True)
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2


def ring_length(ring: Ring) -> float:
    found = as_circle(ring)
    if found:
        return math.pi * found[2]
    return sum(math.dist(a, b) for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))


def box_of(ring: Ring) -> tuple[float, float, float, float]:
    """(x low, y low, x high, y high)."""
    xs, ys = [p[0] for p in ring], [p[1] for p in ring]
    return min(xs), min(ys), max(xs), max(ys)


def sheet_area(sheet: Sheet) -> float:
    """Area of the material seen from above, m2."""
    return ring_area(sheet.outline) - sum(map(ring_area, sheet.openings))


def sheet_cut(sheet: Sheet) -> float:
    """Length of all cuts, m."""
    return ring_length(sheet.outline) + sum(map(ring_length, sheet.openings))


def fingers(length: float, thickness: float) -> list[float]:
    """Ends of the parts into which a joint of this length is cut: an odd number; one where it is too short."""
    count = int(length / max(size("finger"), 2 * thickness))
    count -= 1 - count % 2
    count = max(count, 1)
    return [length * k / count for k in range(count + 1)]


def _steps(ends: list[float], mine: int, out: float, inside: float) -> list[tuple[float, float]]:
    """(along, across) of an edge that stands at `out` where it owns a finger (even or odd: `mine`), else `inside`."""
    found: list[tuple[float, float]] = []
    for k, (a, b) in enumerate(itertools.pairwise(ends)):
        across = out if k % 2 == mine else inside
        for one in ((a, across), (b, across)):
            if not found or math.dist(found[-1], one) > 1e-9:
                found.append(one)
    return found


def panel_outline(inner: float, height: float, thickness: float, mine: int, jointed: bool, tabs: float) -> Ring:
    """A wall panel: `u` about its middle, `v` up from the floor; tabs of depth `tabs` go down into the base.

    `inner` is the length along the inside. `mine` 0: it owns the even fingers of both corners (and all where
    nothing is jointed), 1: the odd ones.
    """
    half = inner / 2
    if not jointed:
        end = half + (thickness if mine == 0 else 0.0)
        return ((-end, 0.0), (end, 0.0), (end, height), (-end, height))
    bottom = _steps(fingers(inner, thickness), 1, -tabs, 0.0)
    side = _steps(fingers(height, thickness), mine, half + thickness, half)
    right = [(across, along) for along, across in side]
    left = [(-across, along) for along, across in reversed(side)]
    points = [(along - half, across) for along, across in bottom] + right + left
    return _clean(points)


def base_outline(width: float, depth: float, thickness: float, jointed: bool) -> Ring:
    """A base under four walls, about its middle: `width` x `depth` inside, with room for the tabs of the walls."""
    a, b = width / 2, depth / 2
    if not jointed:
        return rectangle(0.0, 0.0, width + 2 * thickness, depth + 2 * thickness)
    t = thickness
    long, deep = _steps(fingers(width, t), 1, 0.0, t), _steps(fingers(depth, t), 1, 0.0, t)
    points = [(-a - t, -b - t)]
    points += [(u - a, -b - v) for u, v in long]
    points += [(a + t, -b - t)]
    points += [(a + v, u - b) for u, v in deep]
    points += [(a + t, b + t)]
    points += [(a - u, b + v) for u, v in long]
    points += [(-a - t, b + t)]
    points += [(-a - v, b - u) for u, v in deep]
    return _clean(points)


def _clean(points: list[tuple[float, float]]) -> Ring:
    """Without doubled points and points in the middle of a straight line."""
    ring = [p for p, q in zip(points, [points[-1], *points[:-1]], strict=True) if math.dist(p, q) > 1e-9]
    found = []
    for before, p, after in zip([ring[-1], *ring[:-1]], ring, [*ring[1:], ring[0]], strict=True):
        cross = (p[0] - before[0]) * (after[1] - p[1]) - (p[1] - before[1]) * (after[0] - p[0])
        if abs(cross) > 1e-12:
            found.append(p)
    return tuple(found)
