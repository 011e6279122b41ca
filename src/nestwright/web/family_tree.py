"""Where the boxes and lines of a family stand: who gave left of who received."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["Box", "Gift", "Line", "Tree", "tree_of"]

BOX, ACROSS, DOWN, HIGH, EDGE = 150, 410, 84, 34, 6
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
    """A gift, its path in SVG, and where its words stand."""

    giver: str
    taker: str
    day: str
    says: str
    path: str
    x: float
    y: float


@dataclass(frozen=True)
class Tree:
    """A family as a drawing, in pixels; `box` is the width of a colony's box."""

    boxes: tuple[Box, ...]
    lines: tuple[Line, ...]
    width: int
    height: int
    box: int = BOX


def tree_of(name: str, gifts: Sequence[Gift]) -> Tree | None:
    """A colony's family, or None for one without.

    Columns are generations from `name`: a giver stands one column left of the first colony that it is met from, a taker
    one right. Two gifts between the same two share one line, so that their words do not lie upon each other.
    """
    column = {name: 0}
    waiting = [name]
    while waiting:
        one = waiting.pop(0)
        for gift in gifts:
            for other, step in ((gift.giver, -1), (gift.taker, 1)):
                near = gift.taker if step < 0 else gift.giver
                if near == one and other not in column and len(column) < MOST:
                    column[other] = column[one] + step
                    waiting.append(other)
    if len(column) < 2:
        return None
    left = min(column.values())
    rows: dict[int, int] = {}
    places: dict[str, Box] = {}
    for other, at in column.items():
        row = rows[at] = rows.get(at, -1) + 1
        places[other] = Box(other, EDGE + (at - left) * ACROSS, EDGE + row * DOWN)
    together: dict[tuple[str, str], list[Gift]] = {}
    for gift in gifts:
        if gift.giver in places and gift.taker in places:
            together.setdefault((gift.giver, gift.taker), []).append(gift)
    lines = tuple(_line(places[a], places[b], given) for (a, b), given in together.items())
    width = 2 * EDGE + (max(column.values()) - left) * ACROSS + BOX
    return Tree(tuple(places.values()), lines, width, 2 * EDGE + max(rows.values()) * DOWN + HIGH + 24)


def _line(giver: Box, taker: Box, given: Sequence[Gift]) -> Line:
    first = min(given, key=lambda one: one.day)
    says = f"{first.day}, {first.what}" if len(given) == 1 else f"{first.day}, {len(given)} ×"
    y0, y1 = giver.y + HIGH / 2, taker.y + HIGH / 2
    if giver.x == taker.x:  # the same column: out to the right and back
        x = giver.x + BOX
        path = f"M{x} {y0} C{x + 60} {y0} {x + 60} {y1} {x} {y1}"
        return Line(giver.name, taker.name, first.day, says, path, x + 90, (y0 + y1) / 2)
    x0, x1 = (giver.x + BOX, taker.x) if giver.x < taker.x else (giver.x, taker.x + BOX)
    middle = (x0 + x1) / 2
    path = f"M{x0} {y0} C{middle} {y0} {middle} {y1} {x1} {y1}"
    # near the end at which lines of one box are apart
    end = y1 if abs(y1) >= abs(y0) else y0
    return Line(giver.name, taker.name, first.day, says, path, middle, end - 8 if end == y0 == y1 else end + 24)
