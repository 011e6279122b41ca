"""In which order a habitat's parts are joined and put together, from how it comes apart.

The rule is our own: first every group of glued or pressed parts is joined, from its lowest part outwards along the
joints; then the groups go in, the last to come out first, each the opposite way, but a lid never before what it stands
on; what is bought comes last.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from nestwright.parts.model import Assembly
from nestwright.parts.together import Taken

__all__ = ["OPPOSITE", "Step", "assembly_steps"]

OPPOSITE = {"up": "down", "down": "up", "to +x": "to -x", "to -x": "to +x", "to +y": "to -y", "to -y": "to +y"}


Box = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Lowest and highest corner."""
Going = tuple[tuple[str, ...], str]
"""Parts that move as one, and their way."""


@dataclass(frozen=True)
class Step:
    """One step: `parts` in their order, `way` they go ("down", "to +x" and so on; "" where they are joined or bought),
    and how they are held: kinds of joints."""

    kind: Literal["join", "place", "bought"]
    parts: tuple[str, ...]
    way: str = ""
    joints: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {"kind": self.kind, "parts": list(self.parts), "way": self.way, "joints": list(self.joints)}


def assembly_steps(assembly: Assembly, taken: Taken, boxes: Mapping[str, Box]) -> tuple[Step, ...]:
    """The steps; `boxes` of the parts where they stand, by name, in any one unit."""
    groups = [(group, OPPOSITE[way]) for group, way in reversed(taken.steps)]
    joined = [_joined(assembly, group, boxes) for group, _ in groups if len(group) > 1]
    there: set[str] = set()
    put = []
    for group, way in _stood(assembly, groups, boxes):
        put.append(Step("place", group, way, _kinds(assembly, group, there)))
        there.update(group)
    bought = tuple(p.name for p in assembly.parts if p.kind == "fitting")
    return (*joined, *put, *([Step("bought", bought)] if bought else []))


def _stood(assembly: Assembly, groups: list[Going], boxes: Mapping[str, Box]) -> list[Going]:
    """The groups with each that goes down put after those it stands on, where nothing in between would lie over it."""
    out = list(groups)
    for going in groups:
        group, way = going
        at = out.index(going)
        under = {j.outer for j in assembly.joints if j.kind == "stands" and j.inner in group}
        last = max((n for n, (other, _) in enumerate(out) if under & set(other)), default=at)
        between = [name for other, _ in out[at + 1 : last + 1] for name in other]
        if way == "down" and last > at and not any(_over(boxes[a], boxes[b]) for a in between for b in group):
            out.insert(last, out.pop(at))
    return out


def _over(one: Box, other: Box) -> bool:
    """Whether a part reaches over the foot of another that it overlaps from above."""
    beside = any(one[0][k] >= other[1][k] or one[1][k] <= other[0][k] for k in (0, 1))
    return not beside and one[1][2] > other[0][2] + 0.5


def _joined(assembly: Assembly, group: tuple[str, ...], boxes: Mapping[str, Box]) -> Step:
    joints = [j for j in assembly.joints if j.kind in ("glued", "pressed") and {j.outer, j.inner} <= set(group)]
    left = sorted(group, key=lambda name: (boxes[name][0][2] + boxes[name][1][2], name))
    order = [left.pop(0)]
    while left:
        near = {name for j in joints for name in (j.outer, j.inner) if {j.outer, j.inner} & set(order)}
        order.append(next((name for name in left if name in near), left[0]))
        left.remove(order[-1])
    return Step("join", tuple(order), "", tuple(sorted({j.kind for j in joints})))


def _kinds(assembly: Assembly, group: tuple[str, ...], there: set[str]) -> tuple[str, ...]:
    """How a group meets what stands there already."""
    met = [j for j in assembly.joints if any({j.outer, j.inner} == {a, b} for a in group for b in there)]
    return tuple(sorted({j.kind for j in met}))
