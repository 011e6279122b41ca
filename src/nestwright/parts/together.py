"""Do the parts go together? No two share space, and each can be taken out again straight up or sideways.

Parts that are glued or pressed together move as one. Taking out is judged on columns of one millimetre: a group can go
when nothing lies before it in any column; this is done again and again until nothing is left, or nothing can go.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.parts.model import Assembly, Part
from nestwright.parts.solids import placed

__all__ = ["OVERLAP", "Overlap", "Taken", "overlaps", "taken_apart"]

OVERLAP = 1.0
"""Shared volume up to which two parts are not in one place, mm3: what rounding and touching faces give."""

_CELL = 1.0
_TOUCH = 0.3
"""How far one part may stand before another and still slide past, mm: triangles are no circles."""

_WAYS = {"up": (2, 1), "to +x": (0, 1), "to -x": (0, -1), "to +y": (1, 1), "to -y": (1, -1)}
"""Axis and sense of each way out."""


@dataclass(frozen=True)
class Overlap:
    """Two parts that share `volume` m3."""

    one: str
    other: str
    volume: float

    def to_dict(self) -> dict[str, Any]:
        return {"one": self.one, "other": self.other, "volume_mm3": float(f"{self.volume * 1e9:.3g}")}


@dataclass(frozen=True)
class Taken:
    """Order in which the parts come apart: (parts that move as one, way out); and those that never do."""

    steps: tuple[tuple[tuple[str, ...], str], ...]
    stuck: tuple[tuple[str, ...], ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "steps": [{"parts": list(parts), "way": way} for parts, way in self.steps],
            "stuck": [list(parts) for parts in self.stuck],
        }


def overlaps(
    assembly: Assembly, solids: Mapping[str, Any], report: Callable[[float], None] = lambda _: None
) -> tuple[Overlap, ...]:
    """Pairs of parts that share more than `OVERLAP`, by the common volume of their solids.

    Only pairs whose boxes share space are looked at. Moulds and coupons do not stand in the habitat.
    """
    stand = {p.name: placed(p, solids[p.name]) for p in _standing(assembly, solids)}
    boxes = {name: _box(solid) for name, solid in stand.items()}
    names = list(stand)
    pairs = [(a, b) for n, a in enumerate(names) for b in names[n + 1 :] if _share(boxes[a], boxes[b])]
    found = []
    for k, (a, b) in enumerate(pairs):
        report(k / len(pairs))
        volume = _common(stand[a], stand[b])
        if volume > OVERLAP:
            found.append(Overlap(a, b, volume * 1e-9))
    return tuple(found)


def _standing(assembly: Assembly, solids: Mapping[str, Any]) -> list[Part]:
    return [p for p in assembly.parts if p.name in solids and p.kind not in ("mould", "coupon")]


def _box(solid: Any) -> NDArray[np.float64]:
    box = solid.bounding_box()
    return np.array([[box.min.X, box.min.Y, box.min.Z], [box.max.X, box.max.Y, box.max.Z]])


def _share(a: NDArray[np.float64], b: NDArray[np.float64]) -> bool:
    sides = np.minimum(a[1], b[1]) - np.maximum(a[0], b[0])
    return bool((sides > 1e-4).all() and sides.prod() > OVERLAP)


def _common(a: Any, b: Any) -> float:
    """Common volume of two solids, mm3."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    shared = BRepAlgoAPI_Common(a.wrapped, b.wrapped)
    if not shared.IsDone():
        return 0.0
    sums = GProp_GProps()
    BRepGProp.VolumeProperties_s(shared.Shape(), sums)
    return float(sums.Mass())


def taken_apart(assembly: Assembly, solids: Mapping[str, Any]) -> Taken:
    """Take a habitat apart from the outside in, each group straight up if it can, else sideways."""
    parts = _standing(assembly, solids)
    groups = _groups(assembly, [p.name for p in parts])
    shapes = {p.name: _corners(p, solids[p.name]) for p in parts}
    fields: dict[tuple[str, int], _Field] = {}

    def field(name: str, axis: int) -> _Field:
        if (name, axis) not in fields:
            fields[name, axis] = _columns(shapes[name], axis)
        return fields[name, axis]

    left, steps = list(groups), list[tuple[tuple[str, ...], str]]()
    # a tube slides out of its collars along its own axis, though it leans a little
    slides = {
        frozenset((j.outer, j.inner)) for j in assembly.joints if j.kind == "slides" and j.inner.endswith(" tube")
    }
    held: dict[tuple[int, str], int] = {}  # by group and way: the group that was in the way
    gone, before = True, -1
    while gone:
        gone, before = len(steps) != before, len(steps)
        for group in tuple(left):
            for way, (axis, sense) in _WAYS.items():
                blocker = held.get((id(group), way))
                if blocker is not None and any(id(other) == blocker for other in left):
                    continue
                others = (other for other in left if other is not group)
                found = next((o for o in others if _before(group, o, axis, sense, field, slides)), None)
                if found is None:
                    steps.append((group, way))
                    left = [g for g in left if g is not group]
                    break
                held[id(group), way] = id(found)
    return Taken(tuple(steps), tuple(left))


def _groups(assembly: Assembly, names: list[str]) -> list[tuple[str, ...]]:
    """Parts that move as one, those of lids and covers first."""
    leader = {name: name for name in names}

    def top(name: str) -> str:
        while leader[name] != name:
            name = leader[name]
        return name

    for joint in assembly.joints:
        if joint.kind in ("glued", "pressed") and joint.outer in leader and joint.inner in leader:
            leader[top(joint.inner)] = top(joint.outer)
    found: dict[str, list[str]] = {}
    for name in names:
        found.setdefault(top(name), []).append(name)
    return [tuple(group) for group in found.values()]


def _corners(part: Part, solid: Any) -> NDArray[np.float64]:
    """Triangles (n, 3, 3) of a part where it stands, mm; a flat part without its small openings."""
    from nestwright.parts.triangles import triangles_of

    if part.kind == "grid" and part.sheet is not None:
        from build123d import Solid

        from nestwright.parts.model import Sheet
        from nestwright.parts.solids import sheet_face

        t = part.sheet.thickness
        solid = Solid.extrude(sheet_face(Sheet(part.sheet.outline, (), (), t)), (0, 0, t * 1e3))
    mesh = triangles_of(placed(part, solid), 0.2, 0.5)
    return mesh.corners[mesh.faces]


@dataclass(frozen=True)
class _Field:
    """Lowest and highest of a part in columns along an axis, from column `start` on; inf, -inf where it is not."""

    start: tuple[int, int]
    least: NDArray[np.float64]
    most: NDArray[np.float64]


def _columns(triangles: NDArray[np.float64], axis: int) -> _Field:
    across = [k for k in range(3) if k != axis]
    # columns stand off the round numbers that parts end on
    flat = (triangles[:, :, across] - 0.0037) / _CELL
    start = np.ceil(flat.reshape(-1, 2).min(axis=0)).astype(int)
    count = np.maximum(np.floor(flat.reshape(-1, 2).max(axis=0)).astype(int) - start + 1, 1)
    flat = flat - start
    least, most = np.full(count, np.inf), np.full(count, -np.inf)
    area = _cross(flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0])
    low, high = np.ceil(flat.min(axis=1)).astype(int), np.floor(flat.max(axis=1)).astype(int)
    used = (np.abs(area) > 1e-9) & (high >= low).all(axis=1)
    for k in np.flatnonzero(used):
        (u0, v0), (u1, v1), z = low[k], high[k], triangles[k, :, axis]
        u, v = np.arange(u0, u1 + 1)[:, None], np.arange(v0, v1 + 1)[None, :]
        (ax, ay), (bx, by), (cx, cy) = flat[k]
        wa = ((bx - u) * (cy - v) - (cx - u) * (by - v)) / area[k]
        wb = ((cx - u) * (ay - v) - (ax - u) * (cy - v)) / area[k]
        inside = (wa >= -1e-9) & (wb >= -1e-9) & (wa + wb <= 1 + 1e-9)
        level = wa * z[0] + wb * z[1] + (1 - wa - wb) * z[2]
        spot = (slice(u0, u1 + 1), slice(v0, v1 + 1))
        least[spot] = np.where(inside, np.minimum(least[spot], level), least[spot])
        most[spot] = np.where(inside, np.maximum(most[spot], level), most[spot])
    return _Field((int(start[0]), int(start[1])), least, most)


def _cross(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    found: NDArray[np.float64] = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return found


def _before(
    group: Iterable[str],
    other: Iterable[str],
    axis: int,
    sense: int,
    field: Callable[[str, int], _Field],
    slides: set[frozenset[str]],
) -> bool:
    """Whether another group lies before a group on its way out."""
    theirs = [(name, field(name, axis)) for name in other]
    for name in group:
        mine = field(name, axis)
        for other_name, one in theirs:
            if axis != 2 and frozenset((name, other_name)) in slides:
                continue
            low = [max(mine.start[k], one.start[k]) for k in (0, 1)]
            high = [min(mine.start[k] + mine.least.shape[k], one.start[k] + one.least.shape[k]) for k in (0, 1)]
            if high[0] <= low[0] or high[1] <= low[1]:
                continue
            a = tuple(slice(low[k] - mine.start[k], high[k] - mine.start[k]) for k in (0, 1))
            b = tuple(slice(low[k] - one.start[k], high[k] - one.start[k]) for k in (0, 1))
            beyond = one.most[b] - mine.least[a] if sense > 0 else mine.most[a] - one.least[b]
            if (beyond > _TOUCH).any():  # -inf where one of the two is not
                return True
    return False
