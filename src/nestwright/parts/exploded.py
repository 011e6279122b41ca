"""Line pictures of the steps in which a habitat is put together: what is new drawn thick and apart from where it goes.

Seen from the front, the right and above in equal shares (isometric, ISO 5456-3), hidden lines left out.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from nestwright.parts.making import Made
from nestwright.parts.model import Part, Sheet
from nestwright.parts.order import OPPOSITE, Step

__all__ = ["boxes_of", "step_svg"]

Vector = tuple[float, float, float]
WAYS: dict[str, Vector] = {
    "up": (0, 0, 1), "to +x": (1, 0, 0), "to -x": (-1, 0, 0), "to +y": (0, 1, 0), "to -y": (0, -1, 0),
}  # fmt: skip
BEHIND = ("to -y", "to +x")
"""Ways of parts that come from behind, and are drawn over what hides them."""
_EYE = (1.0, -1.0, 1.0)
_APART = 12.0
"""Between parts that are drawn apart, mm of the habitat."""
_ACROSS = (1 / math.sqrt(2), 1 / math.sqrt(2), 0.0)
_UP = (-1 / math.sqrt(6), 1 / math.sqrt(6), 2 / math.sqrt(6))
_THICK, _THIN = 1.6, 0.6
"""Widths of lines, in pixels of a picture of `_WIDE`."""
_WIDE, _HIGH = 420.0, 300.0


def boxes_of(made: Made) -> dict[str, tuple[Vector, Vector]]:
    """Lowest and highest corner of each standing part's box in the habitat, mm."""
    boxes = {name: solid.bounding_box() for name, solid in _standing(made).items()}
    return {n: ((b.min.X, b.min.Y, b.min.Z), (b.max.X, b.max.Y, b.max.Z)) for n, b in boxes.items()}


def step_svg(made: Made, step: Step, before: tuple[str, ...]) -> str:
    """A step as SVG: its parts apart and numbered in their order; `before`, what stands already, in thin lines.

    Raises ValueError for a step of bought parts, which have no solid.
    """
    if step.kind == "bought":
        raise ValueError("bought parts have no solid")
    solids = _standing(made)
    parts = [solids[name] for name in step.parts]
    if step.kind == "join":
        new = {n: p.translate(v) for n, p, v in zip(step.parts, parts, _spread(parts), strict=True)}
        labels = [(_flat(_middle(solid)), str(n)) for n, solid in enumerate(new.values(), 1)]
        return _drawn({}, _visible(new), labels, None)
    old = {name: solids[name] for name in before}
    away = WAYS[OPPOSITE[step.way]]
    far = _clear(parts, list(old.values()), away)
    x, y, z = (far * k for k in away)
    new = {name: solids[name].translate((x, y, z)) for name in step.parts}
    if step.way in BEHIND:
        seen = _visible(old) | _visible(new)
    else:
        seen = _visible(old | new)
    arrow = None
    if far:
        ends = [_reach(list(new.values()), axis) for axis in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))]
        middle = [(low + high) / 2 for low, high in ends]
        arrow = (_flat(middle), _flat([m - 0.75 * far * k for m, k in zip(middle, away, strict=True)]))
    return _drawn({n: seen[n] for n in old}, {n: seen[n] for n in new}, [], arrow)


def _standing(made: Made) -> dict[str, Any]:
    """Solids where they stand, by name; flat parts without their small openings, which a picture does not show."""
    from nestwright.parts.solids import placed, solid_of

    found = {}
    for part in made.assembly.parts:
        if part.name not in made.solids or part.kind in ("mould", "coupon"):
            continue
        solid = made.solids[part.name]
        if part.sheet is not None and len(part.sheet.openings) > 12:
            solid = solid_of(_plain(part))
        found[part.name] = placed(part, solid)
    return found


def _plain(part: Part) -> Part:
    assert part.sheet is not None
    return replace(part, sheet=Sheet(part.sheet.outline, (), (), part.sheet.thickness))


def _middle(solid: Any) -> Vector:
    box = solid.bounding_box()
    return ((box.min.X + box.max.X) / 2, (box.min.Y + box.max.Y) / 2, (box.min.Z + box.max.Z) / 2)


def _reach(solids: list[Any], way: Vector) -> tuple[float, float]:
    """Least and most of solids along a way, mm."""
    ends = []
    for solid in solids:
        box = solid.bounding_box()
        low, high = (box.min.X, box.min.Y, box.min.Z), (box.max.X, box.max.Y, box.max.Z)
        for corner in (low, high):
            ends.append(sum(a * b for a, b in zip(corner, way, strict=True)))
    return min(ends), max(ends)


def _clear(new: list[Any], old: list[Any], way: Vector) -> float:
    """How far new parts are drawn from their place, so that they stand clear of the others."""
    if not old:
        return 0.0
    return max(0.0, _reach(old, way)[1] - _reach(new, way)[0]) + _APART


def _spread(solids: list[Any]) -> list[Vector]:
    """Shifts that draw the parts of a group away from its first: plates across themselves, others from its middle."""
    first = _middle(solids[0])
    shifts: list[Vector] = [(0.0, 0.0, 0.0)]
    gone: dict[tuple[int, bool], int] = {}
    for solid in solids[1:]:
        box = solid.bounding_box().size
        size = (box.X, box.Y, box.Z)
        out = [own - other for own, other in zip(_middle(solid), first, strict=True)]
        thin, next_thin = sorted(size)[:2]
        axis = size.index(thin) if thin < 0.25 * next_thin else max(range(3), key=lambda k: abs(out[k]))
        side = (axis, out[axis] >= -1e-6)
        gone[side] = gone.get(side, 0) + 1
        step = [0.0, 0.0, 0.0]
        step[axis] = (1 if side[1] else -1) * (2 * _APART * gone[side] + (size[2] / 4 if axis == 2 else 0.0))
        shifts.append((step[0], step[1], step[2]))
    return shifts


def _flat(point: Any) -> tuple[float, float]:
    return (
        sum(a * b for a, b in zip(point, _ACROSS, strict=True)),
        sum(a * b for a, b in zip(point, _UP, strict=True)),
    )


Lines = list[list[tuple[float, float]]]


def _visible(solids: Mapping[str, Any]) -> dict[str, Lines]:
    """Visible edges of each solid among all of them, flat, mm."""
    from build123d import Shape
    from OCP.BRepLib import BRepLib
    from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
    from OCP.HLRAlgo import HLRAlgo_Projector
    from OCP.HLRBRep import HLRBRep_Algo, HLRBRep_HLRToShape

    algorithm = HLRBRep_Algo()
    for solid in solids.values():
        algorithm.Add(solid.wrapped)
    frame = gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(*_EYE), gp_Dir(*_ACROSS))
    algorithm.Projector(HLRAlgo_Projector(frame))
    algorithm.Update()
    algorithm.Hide()
    shapes = HLRBRep_HLRToShape(algorithm)
    found: dict[str, Lines] = {}
    for name, solid in solids.items():
        lines: Lines = []
        for kind in (shapes.VCompound, shapes.OutLineVCompound):
            compound = kind(solid.wrapped)
            if compound is None or compound.IsNull():
                continue
            BRepLib.BuildCurves3d_s(compound)
            for edge in Shape.cast(compound).edges():
                straight = str(edge.geom_type).endswith(".LINE")
                count = 1 if straight else min(48, max(8, math.ceil(edge.length / 3)))
                points = [edge.position_at(k / count) for k in range(count + 1)]
                lines.append([(p.X, p.Y) for p in points])
        found[name] = lines
    return found


def _drawn(
    old: Mapping[str, Lines],
    new: Mapping[str, Lines],
    labels: list[tuple[tuple[float, float], str]],
    arrow: tuple[tuple[float, float], tuple[float, float]] | None,
) -> str:
    points = [p for group in (old, new) for lines in group.values() for line in lines for p in line]
    left, right = min(x for x, _ in points), max(x for x, _ in points)
    low, high = min(y for _, y in points), max(y for _, y in points)
    scale = min((_WIDE - 30) / max(right - left, 1e-9), (_HIGH - 30) / max(high - low, 1e-9))
    wide, tall = (right - left) * scale + 30, (high - low) * scale + 30

    def put(p: tuple[float, float]) -> tuple[float, float]:
        return 15 + (p[0] - left) * scale, 15 + (high - p[1]) * scale

    def path(lines: Lines) -> str:
        return " ".join(
            "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in map(put, line)) for line in lines
        )  # fmt: skip

    marks = [
        f'<path d="{path(lines)}" stroke="{ink}" stroke-width="{width}"/>'
        for group, ink, width in ((old, "#7a8072", _THIN), (new, "#22261f", _THICK))
        for lines in group.values()
        if lines
    ]
    if arrow is not None:
        (x0, y0), (x1, y1) = put(arrow[0]), put(arrow[1])
        turn = math.atan2(y1 - y0, x1 - x0)
        wings = " ".join(
            f"M{x1:.1f} {y1:.1f} {x1 - 9 * math.cos(turn + t):.1f} {y1 - 9 * math.sin(turn + t):.1f}"
            for t in (-0.45, 0.45)
        )
        marks.append(f'<path d="M{x0:.1f} {y0:.1f} {x1:.1f} {y1:.1f} {wings}" stroke="#a4441f" stroke-width="2"/>')
    for at, told in labels:
        x, y = put(at)
        marks.append(
            f'<circle cx="{x:.1f}" cy="{y:.1f}" r="8" fill="#fff" stroke="#a4441f"/>'
            f'<text x="{x:.1f}" y="{y + 3.6:.1f}" font-size="10.5" font-family="serif" text-anchor="middle" '
            f'fill="#22261f">{told}</text>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {tall:.0f}" width="{wide:.0f}" '
        f'height="{tall:.0f}"><g fill="none" stroke-linecap="round" stroke-linejoin="round">{"".join(marks)}</g></svg>'
    )
