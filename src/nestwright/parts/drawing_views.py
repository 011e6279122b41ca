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
    across = size.get("outer") or size.get("diameter")
    high = size.get("height") or size.get("length") or size.get("thickness")
    if across and high:
        return _round(across, high, size)
    if measured is not None and min(measured.box) > 0:
        x, y, z = (length * 1e3 for length in measured.box)
        return _block(x, y, z)
    if size.get("width") and size.get("depth") and high:
        return _block(size["width"], size["depth"], high)
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
    face = View("face", (outline, *openings), (), box, "end" if is_circle(outline) else "", (0, 1))
    low, high = box[1], box[3]
    edge = ((0.0, low), (thick, low), (thick, high), (0.0, high), (0.0, low))
    return face, View("edge", (edge,), (), (0.0, low, thick, high), "", (2, 1))


def _circle(diameter: float) -> tuple[Point, ...]:
    turns = [2 * math.pi * n / _CORNERS for n in range(_CORNERS + 1)]
    return tuple((diameter / 2 * math.cos(t), diameter / 2 * math.sin(t)) for t in turns)


def _round(across: float, high: float, size: dict[str, float]) -> tuple[View, View]:
    """A tube, rod, ring, disc or cone about the vertical; a bore goes through."""
    top = size.get("top_outer", across)
    wall = size.get("wall", 0.0)
    bore = size.get("inner") or size.get("bore") or (across - 2 * wall if 0 < 2 * wall < across else 0.0)
    top_bore = bore * top / across if top != across and not wall else top - (across - bore)
    r, s = across / 2, top / 2
    side = ((-r, 0.0), (r, 0.0), (s, high), (-s, high), (-r, 0.0))
    hidden: tuple[tuple[Point, ...], ...] = ()
    circles = [_circle(across)]
    if top != across:
        circles.append(_circle(top))
    if bore > 0:
        hidden = (((-bore / 2, 0.0), (-top_bore / 2, high)), ((bore / 2, 0.0), (top_bore / 2, high)))
        circles.append(_circle(top_bore))
    wide = max(r, s)
    front = View("front", (side,), hidden, (-wide, 0.0, wide, high), "side", (0, 2), bore, top)
    return front, View("top", tuple(circles), (), (-wide, -wide, wide, wide), "end", (0, 1), bore, top)


def _block(x: float, y: float, z: float) -> tuple[View, View]:
    def rectangle(a: float, b: float) -> tuple[Point, ...]:
        return ((0.0, 0.0), (a, 0.0), (a, b), (0.0, b), (0.0, 0.0))

    front = View("front", (rectangle(x, z),), (), (0.0, 0.0, x, z))
    return front, View("top", (rectangle(x, y),), (), (0.0, 0.0, x, y), "", (0, 1))


def _solid(part: Part, solid: Any) -> tuple[View, View]:
    """Both views by hidden-line removal of the solid."""
    box = solid.bounding_box()
    middle = box.center()
    far = 10 * box.diagonal
    size = {name: length * 1e3 for name, length in part.sizes.items()}
    round_ = bool(size.get("outer") or size.get("diameter")) and abs(box.size.X - box.size.Y) < 1e-3
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
        count = 1 if str(edge.geom_type).endswith("LINE") and "B" not in str(edge.geom_type) else 24
        points = [edge.position_at(n / count) for n in range(count + 1)]
        lines.append(tuple((p.X + shift[0], p.Y + shift[1]) for p in points))
    return tuple(lines)
