"""Finding a free place for each label of a drawing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache

Point = tuple[float, float]
Box = tuple[float, float, float, float]

__all__ = ["Box", "Sheet", "around"]


def around(
    middle: Point, out: Point = (0.0, -1.0), distances: Iterable[float] = (23, 32, 43, 56, 72, 90)
) -> Iterator[Point]:
    """Places about a point, the nearest first and those in the direction `out` before others."""
    base = math.atan2(out[1], out[0])
    for d, a in _turned(tuple(distances)):
        yield middle[0] + d * math.cos(base + a), middle[1] + d * math.sin(base + a)


@cache
def _turned(distances: tuple[float, ...]) -> list[tuple[float, float]]:
    """Distance and turn of each place, the nearest first."""
    turns = [k * math.pi / 12 * s for k in range(13) for s in ((1, -1) if 0 < k < 12 else (1,))]
    tried = [(d * (1 + 0.35 * abs(a)), d, a) for d in distances for a in turns]
    return [(d, a) for _, d, a in sorted(tried, key=lambda t: t[0])]


@dataclass
class Sheet:
    """What is taken already, within `limits` (x low, y low, x high, y high), px."""

    limits: Box
    taken: list[Box] = field(default_factory=list)

    def place(self, size: Point, candidates: Iterable[Point], avoid: Iterable[Box] = ()) -> Point | None:
        """The first candidate middle at which a box of `size` is free, and clear of `avoid`; it is then taken."""
        held = list(avoid)
        for middle in candidates:
            box = self._box(middle, size)
            if self._free(box) and not any(_overlap(box, other) for other in held):
                self.taken.append(box)
                return middle
        return None

    def _box(self, middle: Point, size: Point) -> Box:
        return middle[0] - size[0] / 2, middle[1] - size[1] / 2, middle[0] + size[0] / 2, middle[1] + size[1] / 2

    def _free(self, box: Box) -> bool:
        low_x, low_y, high_x, high_y = self.limits
        inside = box[0] >= low_x and box[1] >= low_y and box[2] <= high_x and box[3] <= high_y
        return inside and not any(_overlap(box, other) for other in self.taken)


def _overlap(a: Box, b: Box) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
