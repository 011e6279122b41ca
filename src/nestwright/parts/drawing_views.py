"""Views of a part: from its flat outline, from its solid, or from its named sizes; mm, x to the right, y up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.model import Measured, Part, Ring

__all__ = ["View", "views_of"]

Point = tuple[float, float]
_CORNERS = 96


@dataclass(frozen=True)
class View:
    """One view: full and hidden lines, its box (left, bottom, right, top), whether a round body is seen from the side
    ("side") or along its axis ("end"), and which of x, y, z of the part run to the right and up."""

    name: str
    full: tuple[tuple[Point, ...], ...]
    hidden: tuple[tuple[Point, ...], ...]
    box: tuple[float, float, float, float]
    round: str = ""
    axes: tuple[int, int] = (0, 2)
    bore: float = 0.0
    top: float = 0.0
    outer_only: bool = False

    @property
    def width(self) -> float:
        return self.box[2] - self.box[0]

    @property
    def height(self) -> float:
        return self.box[3] - self.box[1]


def views_of(part: Part, measured: Measured | None = None, solid: Any = None) -> tuple[View, View]:
    """Front view and the view that goes with it: from above of a body, of the edge of a flat part.

    Raises
    ------
    InputError
        For a part without an outline, a solid, sizes or a measured box: there is nothing to draw.
    """
    if part.sheet is not None:
        return _sheet(part)
    if solid is not None:
        return _solid(part, solid)
    size = {name: length * 1e3 for name, length in part.sizes.items()}
    high = size.get("height") or size.get("length") or size.get("thickness")
    if "top_width" in size and "low_width" in size and high:
        return _stump(size, high)
    if size.get("outer") and high:
        return _round(size["outer"], high, size)
    if size.get("width") and size.get("depth") and high:
        return _box_body(size, high)
    if measured is not None and min(measured.box) > 0:
        x, y, z = (length * 1e3 for length in measured.box)
        return _block(x, y, z)
    raise InputError("has no sizes to draw it by", field=part.name, found=part.kind, line=part.line)


def _box(lines: Sequence[Sequence[Point]]) -> tuple[float, float, float, float]:
    xs, ys = [x for line in lines for x, _ in line], [y for line in lines for _, y in line]
    return min(xs), min(ys), max(xs), max(ys)


def _ring(ring: Ring) -> tuple[Point, ...]:
    points = tuple((x * 1e3, y * 1e3) for x, y in ring)
    return (*points, points[0])


def is_circle(ring: Sequence[Point]) -> bool:
    """Whether the corners of an outline lie on one circle, close enough together to be one."""
    points = list(ring[:-1])
    if len(points) < 16:
        return False
    left, low, right, high = _box([points])
    x, y, r = (left + right) / 2, (low + high) / 2, (right - left) / 2
    return all(abs(math.hypot(a - x, b - y) - r) < 2e-3 * r for a, b in points)


def _sheet(part: Part) -> tuple[View, View]:
    assert part.sheet is not None
    outline = _ring(part.sheet.outline)
    openings = tuple(_ring(r) for r in part.sheet.openings)
    box, thick = _box([outline]), part.sheet.thickness * 1e3
    # a panel that stands has its features told in the habitat's upright frame: x along it, z up
    axes = (0, 2) if part.sizes.get("upright") else (0, 1)
    face = View("face", (outline, *openings), (), box, "end" if is_circle(outline) else "", axes)
    low, high = box[1], box[3]
    edge = ((0.0, low), (thick, low), (thick, high), (0.0, high), (0.0, low))
    return face, View("edge", (edge,), (), (0.0, low, thick, high), "", (2, 1))


def _circle(diameter: float) -> tuple[Point, ...]:
    turns = [2 * math.pi * n / _CORNERS for n in range(_CORNERS + 1)]
    return tuple((diameter / 2 * math.cos(t), diameter / 2 * math.sin(t)) for t in turns)


def _round(across: float, high: float, size: dict[str, float]) -> tuple[View, View]:
    """A tube, rod, ring, disc, cup or cone about the vertical.

    z = 0 is the inner floor: a `floor` lies below it and a `roof` above the length; without them a bore goes through.
    """
    floor, roof = size.get("floor", 0.0), size.get("roof", 0.0)
    wall = size.get("wall", 0.0)
    bore = size.get("inner") or size.get("bore") or (across - 2 * wall if 0 < 2 * wall < across else 0.0)
    top_bore = size.get("inner_top", bore)
    thick = size.get("thickness", 0.0)
    cone = abs(top_bore - bore) > 1e-6 and thick > 0
    low = bore + 2 * thick if cone else across
    top = top_bore + 2 * thick if cone else size.get("top_outer", across)
    if not cone and top != across:
        top_bore = top - (across - bore) if bore > 0 else 0.0
    r, s, base, end = low / 2, top / 2, -floor, high + roof
    side = ((-r, base), (r, base), (s, end), (-s, end), (-r, base))
    hidden: tuple[tuple[Point, ...], ...] = ()
    circles = [_circle(low)]
    if abs(top - low) > 1e-6:
        circles.append(_circle(top))
    within: tuple[tuple[Point, ...], ...] = ()
    if bore > 0:
        left, right = ((-bore / 2, 0.0), (-top_bore / 2, high)), ((bore / 2, 0.0), (top_bore / 2, high))
        hidden = (left, right)
        hidden += ((left[0], right[0]),) if floor else ()
        hidden += ((left[1], right[1]),) if roof else ()
        if roof:
            within = (_circle(max(bore, top_bore)),)  # under the roof
        else:
            circles.append(_circle(top_bore))
    wide = max(r, s)
    front = View("front", (side,), hidden, (-wide, base, wide, end), "side", (0, 2), max(bore, 0.0), top)
    return front, View("top", tuple(circles), within, (-wide, -wide, wide, wide), "end", (0, 1), bore, top)


def _rectangle(left: float, low: float, right: float, high: float) -> tuple[Point, ...]:
    return ((left, low), (right, low), (right, high), (left, high), (left, low))


def _box_body(size: dict[str, float], high: float) -> tuple[View, View]:
    """A box of inner width and depth with walls of `thickness`, about the middle of its inner floor; solid without."""
    x, y, t = size["width"] / 2, size["depth"] / 2, size.get("thickness", 0.0)
    if not t or "length" not in size:
        return _block(2 * x, 2 * y, high)
    floor, roof = size.get("floor", 0.0), size.get("roof", 0.0)
    a, b, base, end = x + t, y + t, -floor, high + roof
    front = View("front", (_rectangle(-a, base, a, end),), (_rectangle(-x, 0.0, x, high),), (-a, base, a, end))
    inner = _rectangle(-x, -y, x, y)
    outer = _rectangle(-a, -b, a, b)
    full, hidden = ((outer,), (inner,)) if roof else ((outer, inner), ())
    return front, View("top", full, hidden, (-a, -b, a, b), "", (0, 1))


def _stump(size: dict[str, float], high: float) -> tuple[View, View]:
    """A block with draft, wide side up, or the mould around it (`wall`)."""
    wall = size.get("wall", 0.0)
    round_ = not size.get("box")
    w, d = size["top_width"] / 2 + wall, size["top_depth"] / 2 + wall
    low_w, low_d = size["low_width"] / 2 + wall, size["low_depth"] / 2 + wall
    side = ((-low_w, -wall), (low_w, -wall), (w, high), (-w, high), (-low_w, -wall))
    hidden: tuple[tuple[Point, ...], ...] = ()
    above: list[tuple[Point, ...]] = [_circle(2 * w) if round_ else _rectangle(-w, -d, w, d)]
    if wall:
        a, b, c, e = w - wall, low_w - wall, d - wall, low_d - wall
        hidden = (((-a, high), (-b, 0.0), (b, 0.0), (a, high)),)
        above += [_circle(2 * a), _circle(2 * b)] if round_ else [_rectangle(-a, -c, a, c), _rectangle(-b, -e, b, e)]
        below: tuple[tuple[Point, ...], ...] = ()
    else:
        below = (_circle(2 * low_w) if round_ else _rectangle(-low_w, -low_d, low_w, low_d),)
    front = View("front", (side,), hidden, (-w, -wall, w, high), "side" if round_ else "", (0, 2), 0.0, 0.0)
    depth = w if round_ else d
    return front, View("top", tuple(above), below, (-w, -depth, w, depth), "end" if round_ else "", (0, 1))


def _block(x: float, y: float, z: float) -> tuple[View, View]:
    """A part of which only the outer size is known."""
    front = View("front", (_rectangle(0.0, 0.0, x, z),), (), (0.0, 0.0, x, z), outer_only=True)
    return front, View("top", (_rectangle(0.0, 0.0, x, y),), (), (0.0, 0.0, x, y), "", (0, 1))


def _solid(part: Part, solid: Any) -> tuple[View, View]:
    """Both views by hidden-line removal of the solid."""
    box = solid.bounding_box()
    middle = box.center()
    far = 10 * box.diagonal
    size = {name: length * 1e3 for name, length in part.sizes.items()}
    round_ = (
        bool(size.get("outer") or (size.get("top_width") and not size.get("box")))
        and abs(box.size.X - box.size.Y) < 1e-3
    )
    ways = (
        ("front", (middle.X, middle.Y - far, middle.Z), (0, 0, 1), (0, 2), "side"),
        ("top", (middle.X, middle.Y, middle.Z + far), (0, 1, 0), (0, 1), "end"),
    )
    made = []
    for name, eye, up, axes, seen in ways:
        full, hidden = solid.project_to_viewport(eye, viewport_up=up, look_at=(middle.X, middle.Y, middle.Z))
        at = (middle.X, middle.Y, middle.Z)
        shift = (at[axes[0]], at[axes[1]])
        low = (box.min.X, box.min.Y, box.min.Z)
        high = (box.max.X, box.max.Y, box.max.Z)
        ends = (low[axes[0]], low[axes[1]], high[axes[0]], high[axes[1]])
        lines, dashed = _sampled(full, shift), _sampled(hidden, shift)
        made.append(View(name, lines, dashed, ends, seen if round_ else "", axes))
    return made[0], made[1]


def _sampled(edges: Any, shift: Point) -> tuple[tuple[Point, ...], ...]:
    lines = []
    for edge in edges:
        straight = str(edge.geom_type).endswith("LINE") and "B" not in str(edge.geom_type)
        # no corner of a large circle is seen, and a small hole does not fill the file
        count = 1 if straight else min(max(12, math.ceil(edge.length)), _CORNERS)
        points = [edge.position_at(n / count) for n in range(count + 1)]
        lines.append(tuple((p.X + shift[0], p.Y + shift[1]) for p in points))
    return tuple(lines)
