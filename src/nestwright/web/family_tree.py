"""Where the boxes and lines of a family stand: who gave above who received, as narrow as a phone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Box", "Gift", "Line", "Tree", "tree_of"]

BOX, HIGH, WORDS, APART, EDGE = 150, 34, 20, 16, 6
LANE, INDENT, DEEPEST = 12, 16, 4
WIDE = 346
"""Pixels that a phone of 390 has between its margins, scroll bar aside."""
MOST = 60
"""Colonies in one picture; the lists beside it have all."""


@dataclass(frozen=True)
class Gift:
    """Something that went from one colony to another."""

    giver: str
    taker: str
    day: str
    what: str


@dataclass(frozen=True)
class Box:
    """A colony and the upper left corner of its box, in pixels."""

    name: str
    x: int
    y: int


@dataclass(frozen=True)
class Line:
    """All gifts of one colony to another: the first day, how many, the line's path in SVG, and where its words begin,
    below the box of who received."""

    giver: str
    taker: str
    day: str
    what: str
    times: int
    path: str
    x: int
    y: int


@dataclass(frozen=True)
class Tree:
    """A family as a drawing, in pixels; `box` and `high` are the size of a colony's box."""

    boxes: tuple[Box, ...]
    lines: tuple[Line, ...]
    width: int
    height: int
    box: int = BOX
    high: int = HIGH


def tree_of(name: str, gifts: Sequence[Gift]) -> Tree | None:
    """A colony's family, or None for one without.

    One colony a row, by generations from `name`: a giver stands above the first colony that it is met from, a taker
    below. The lines of a giver run in a lane of their own left of the boxes, so that no two lie upon each other.
    """
    depth = _generations(name, gifts)
    if len(depth) < 2:
        return None
    highest = min(depth.values())
    row = {one: at for at, one in enumerate(sorted(depth, key=lambda one: depth[one]))}
    together: dict[tuple[str, str], list[Gift]] = {}
    for gift in gifts:
        if gift.giver in row and gift.taker in row:
            together.setdefault((gift.giver, gift.taker), []).append(gift)
    lane = _lanes(row, list(together))
    left = EDGE + LANE * (max(lane.values()) + 1)
    boxes: dict[str, Box] = {}
    lines: list[Line] = []
    y = EDGE
    for one in row:
        boxes[one] = Box(one, left + INDENT * min(depth[one] - highest, DEEPEST), y)
        y += HIGH + WORDS * sum(taker == one for _, taker in together) + APART
    words: dict[str, int] = {}
    for (giver, taker), given in together.items():
        words[taker] = words.get(taker, 0) + 1
        lines.append(_line(boxes[giver], boxes[taker], left - LANE * (lane[giver] + 1), given, words[taker]))
    return Tree(tuple(boxes.values()), tuple(lines), max(WIDE, left + INDENT * DEEPEST + BOX), y - APART + EDGE)


def _generations(name: str, gifts: Sequence[Gift]) -> dict[str, int]:
    """Each colony of a family, and how many generations it stands below `name`."""
    depth = {name: 0}
    waiting = [name]
    while waiting:
        one = waiting.pop(0)
        for gift in gifts:
            for other, near, step in ((gift.giver, gift.taker, -1), (gift.taker, gift.giver, 1)):
                if near == one and other not in depth and len(depth) < MOST:
                    depth[other] = depth[one] + step
                    waiting.append(other)
    return depth


def _lanes(row: dict[str, int], pairs: Sequence[tuple[str, str]]) -> dict[str, int]:
    """The lane of each giver, 0 beside the boxes; the shortest lines are nearest, and a lane is used again further
    down."""
    spans: dict[str, tuple[int, int]] = {}
    for giver, taker in pairs:
        first, last = spans.get(giver, (row[giver], row[giver]))
        spans[giver] = (min(first, row[taker]), max(last, row[taker]))
    lane: dict[str, int] = {}
    for giver in sorted(spans, key=lambda one: (spans[one][1] - spans[one][0], row[one])):
        first, last = spans[giver]
        taken = {lane[one] for one in lane if spans[one][0] <= last and first <= spans[one][1]}
        lane[giver] = next(at for at in range(len(spans)) if at not in taken)
    return lane


def _line(giver: Box, taker: Box, lane: int, given: Sequence[Gift], words: int) -> Line:
    """From the left of who gave along its lane to an arrow at who received."""
    first = min(given, key=lambda one: one.day)
    # apart where one colony both gives and receives
    y0, y1 = giver.y + HIGH * 2 // 3, taker.y + HIGH // 3
    path = f"M{giver.x} {y0} H{lane} V{y1} H{taker.x} m-7 -4 l7 4 l-7 4"
    at = taker.y + HIGH + WORDS * words - 5
    return Line(giver.name, taker.name, first.day, first.what, len(given), path, taker.x, at)
