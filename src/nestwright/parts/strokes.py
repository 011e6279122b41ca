"""Names as single strokes for a laser to engrave, and the place for them on a flat part."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Iterator

from nestwright.parts.model import Ring, Sheet
from nestwright.parts.rings import box_of
from nestwright.parts.sizes import size

__all__ = ["Strokes", "marked", "not_engraved", "strokes_of"]

Strokes = tuple[Ring, ...]
"""Open lines, m."""

_O = "10 01 05 16 36 45 41 30 10"
_LETTERS = {
    "A": "00 26 40/12 32", "B": "00 06 36 45 44 33 42 41 30 00/03 33", "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00", "E": "46 06 00 40/03 33", "F": "46 06 00/03 33", "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06/40 46/03 43", "I": "20 26/10 30/16 36", "J": "46 41 30 10 01", "K": "00 06/46 03 40", "L": "06 00 40",
    "M": "00 06 23 46 40", "N": "00 06 40 46", "O": _O, "P": "00 06 36 45 44 33 03", "Q": f"{_O}/22 40",
    "R": "00 06 36 45 44 33 03/23 40", "S": "45 36 16 05 04 13 33 42 41 30 10 01", "T": "06 46/26 20",
    "U": "06 01 10 30 41 46", "V": "06 20 46", "W": "06 10 23 30 46", "X": "00 46/06 40", "Y": "06 23 46/23 20",
    "Z": "06 46 00 40", "0": f"{_O}/01 45", "1": "15 26 20/10 30", "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 42 41 30 10 01/13 33", "4": "30 36 02 42", "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 03", "7": "06 46 10", "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "43 13 04 05 16 36 45 41 30 10 01", "-": "13 33", ".": "20 21", "/": "00 46", ",": "21 10",
}  # fmt: skip
"""Corners on a grid of 4 x 6, as "xy"; a stroke ends at "/"."""
_WIDE, _HIGH, _STEP = 4, 6, 6
_STEPS = 40
"""Places tried along each side."""


def strokes_of(text: str, height: float) -> Strokes:
    """A text with its lower left corner in (0, 0), letters `height` m high; what is no letter or digit is left out.

    Examples
    --------
    >>> strokes_of("L", 0.006)
    (((0.0, 0.006), (0.0, 0.0), (0.004, 0.0)),)
    """
    plain = unicodedata.normalize("NFKD", text).upper()
    known = "".join(c for c in plain if c in _LETTERS or c == " ")
    unit = height / _HIGH
    found = []
    for place, letter in enumerate(known):
        for stroke in _LETTERS.get(letter, "").split("/"):
            corners = [(int(c[0]) + _STEP * place, int(c[1])) for c in stroke.split()]
            if corners:
                found.append(tuple((x * unit, y * unit) for x, y in corners))
    return tuple(found)


def not_engraved(text: str) -> str:
    """What of a text there is no stroke for, each once."""
    return "".join(dict.fromkeys(c for c in text if c != " " and not strokes_of(c, 1.0)))


def marked(sheet: Sheet, text: str) -> Strokes:
    """The text where it lies clear of the outline and all openings, as low as it can; empty where it has no room."""
    found = strokes_of(text, size("engrave_height"))
    if not found:
        return ()
    points = [p for stroke in found for p in stroke]
    wide, high = max(x for x, _ in points), max(y for _, y in points)
    for x, y in _places(sheet, wide, high):
        if _clear(sheet, x, y, wide, high):
            return tuple(tuple((x + a, y + b) for a, b in stroke) for stroke in found)
    return ()


def _places(sheet: Sheet, wide: float, high: float) -> Iterator[tuple[float, float]]:
    a, b, c, d = box_of(sheet.outline)
    for j in range(_STEPS + 1):
        for i in range(_STEPS + 1):
            if c - a > wide and d - b > high:
                yield a + (c - a - wide) * i / _STEPS, b + (d - b - high) * j / _STEPS


def _clear(sheet: Sheet, x: float, y: float, wide: float, high: float) -> bool:
    rim = size("land")
    left, low, right, top = x - rim, y - rim, x + wide + rim, y + high + rim
    for ring in sheet.openings:
        a, b, c, d = box_of(ring)
        if a < right and c > left and b < top and d > low:
            return False
    # no corner of the outline lies in the box, nor does an edge cross it, and its corners are inside
    edges = list(zip(sheet.outline, (*sheet.outline[1:], sheet.outline[0]), strict=True))
    for p, q in edges:
        steps = max(1, math.ceil(math.dist(p, q) / rim))
        for k in range(steps):
            u, v = p[0] + (q[0] - p[0]) * k / steps, p[1] + (q[1] - p[1]) * k / steps
            if left < u < right and low < v < top:
                return False
    return _inside(sheet.outline, x, y)


def _inside(ring: Ring, x: float, y: float) -> bool:
    """Even and odd crossings of a line to the right."""
    found = False
    for (a, b), (c, d) in zip(ring, (*ring[1:], ring[0]), strict=True):
        if (b > y) != (d > y) and x < a + (y - b) / (d - b) * (c - a):
            found = not found
    return found
