"""Where the openings of a grid or vent lie: evenly over a region, with material left between them. Lengths m."""

from __future__ import annotations

import math
from collections.abc import Callable

from nestwright.errors import InputError
from nestwright.habitat.model import Pattern
from nestwright.parts.model import Ring
from nestwright.parts.rings import circle, rectangle

__all__ = ["Region", "compact", "disc", "even", "frame", "opening_ring", "plate", "spread_over"]

Points = list[tuple[float, float]]
Region = tuple[float, float, Callable[[float, float, float, float], bool]]
"""Half width and half depth of what surrounds it, and whether an opening (x, y, half width, half depth) lies inside."""


def disc(outer: float, hole: float = 0.0) -> Region:
    """Inside a circle of radius `outer`, outside one of radius `hole`."""

    def inside(x: float, y: float, a: float, b: float) -> bool:
        if a == b:  # a round opening
            reach = math.hypot(x, y)
            return reach + a <= outer + 1e-12 and reach - a >= hole - 1e-12
        far = math.hypot(abs(x) + a, abs(y) + b)
        near = math.hypot(max(abs(x) - a, 0.0), max(abs(y) - b, 0.0))
        return far <= outer + 1e-12 and near >= hole - 1e-12

    return outer, outer, inside


def plate(half_width: float, half_depth: float) -> Region:
    """Inside a rectangle."""
    return (
        half_width,
        half_depth,
        lambda x, y, a, b: abs(x) + a <= half_width + 1e-12 and abs(y) + b <= half_depth + 1e-12,
    )


def frame(half_width: float, half_depth: float, hole_width: float, hole_depth: float) -> Region:
    """Inside a rectangle, outside a smaller one (half sizes)."""
    _, _, whole = plate(half_width, half_depth)

    def inside(x: float, y: float, a: float, b: float) -> bool:
        return whole(x, y, a, b) and (abs(x) - a >= hole_width - 1e-12 or abs(y) - b >= hole_depth - 1e-12)

    return half_width, half_depth, inside


def size_of(pattern: Pattern) -> tuple[float, float]:
    """Size along x and y of one opening: a slot lies along x."""
    return (pattern.length, pattern.width) if pattern.kind == "slot" else (pattern.width, pattern.width)


def opening_ring(pattern: Pattern, x: float, y: float) -> Ring:
    """Outline of one opening."""
    if pattern.kind == "slot":
        return rectangle(x, y, pattern.length, pattern.width)
    return circle(x, y, pattern.width)


def even(pattern: Pattern, count: int, region: Region, land: float) -> Points:
    """Middles of `count` openings evenly over a region, at least `land` apart.

    Fewer where no more have room: the caller compares.
    """
    if count <= 0:
        return []
    along, across = size_of(pattern)
    half_width, half_depth, inside = region

    def lattice(gap: float) -> Points:
        px, py = along + gap, across + gap
        if pattern.kind != "slot":
            py *= math.sqrt(3) / 2  # closest packing of circles
        rows = int(half_depth / py) + 1
        columns = int(half_width / px) + 1
        found = []
        for j in range(-rows, rows + 1):
            shift = px / 2 if pattern.kind != "slot" and j % 2 else 0.0
            for i in range(-columns - 1, columns + 1):
                x, y = i * px + shift, j * py
                if inside(x, y, along / 2, across / 2):
                    found.append((x, y))
        return found

    low = land
    best = lattice(low)
    if len(best) < count:
        return best
    high = land + 4 * math.sqrt(4 * half_width * half_depth / count)
    for _ in range(40):
        middle = (low + high) / 2
        tried = lattice(middle)
        if len(tried) >= count:
            low, best = middle, tried
        else:
            high = middle
    best.sort(key=lambda p: (math.hypot(*p), p))
    return [best[int((k + 0.5) * len(best) / count)] for k in range(count)]


def compact(pattern: Pattern, land: float, width: float, height: float) -> Points:
    """Middles of a pattern's openings as one group of rows about (0, 0), no wider than `width`; rows upward.

    Empty where it does not fit into `width` x `height`.
    """
    along, across = size_of(pattern)
    gap = max(land, min(along, across))
    columns = int((width + gap) / (along + gap) + 1e-9)
    if columns < 1:
        return []
    rows = math.ceil(pattern.count / columns)
    if rows > 1 and pattern.kind != "slot":  # a squarer group
        columns = min(columns, max(math.ceil(math.sqrt(pattern.count * 2)), math.ceil(pattern.count / rows)))
    rows = math.ceil(pattern.count / columns)
    if rows * across + (rows - 1) * gap > height + 1e-9:
        gap = max(land, (height - rows * across) / max(rows - 1, 1))
        if rows * across + (rows - 1) * gap > height + 1e-9:
            return []
    found: Points = []
    left = pattern.count
    for j in range(rows):
        here = math.ceil(left / (rows - j))
        left -= here
        y = (j - (rows - 1) / 2) * (across + gap)
        found += [((i - (here - 1) / 2) * (along + gap), y) for i in range(here)]
    return found


def spread_over(
    pattern: Pattern, parts: list[tuple[int, Region]], land: float, field: str, line: int, file: str
) -> Points:
    """Openings of a pattern, so many in each region. Raises InputError where they do not fit, with both numbers."""
    found: Points = []
    for count, region in parts:
        points = even(pattern, count, region, land)
        if len(points) < count:
            along, across = size_of(pattern)
            one = f"{along * 1e3:.4g} mm" if along == across else f"{across * 1e3:.4g} x {along * 1e3:.4g} mm"
            raise InputError(
                f"the pattern does not fit: {count} openings of {one} with {land * 1e3:.4g} mm between them, in "
                f"{2 * region[0] * 1e3:.4g} x {2 * region[1] * 1e3:.4g} mm",
                file=file, line=line, field=field, found=str(count), allowed=f"at most {len(points)} there",
            )  # fmt: skip
        found += points
    return found
