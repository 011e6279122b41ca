"""A sheet of drawing paper: lines of ISO 128 widths, texts whose boxes are kept so that none is laid on another; mm.

Texts are set in DejaVu Sans Mono, whose letters are all 0.602 em wide, so that their boxes are known without a font.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from xml.sax.saxutils import escape

__all__ = ["LETTER", "THICK", "THIN", "Box", "Paper", "crossing", "fitted", "text_width"]

Point = tuple[float, float]
THICK, THIN = 0.5, 0.25
"""Widths of lines: ISO 128-2, line group 0.5."""
LETTER = 3.5
"""Size of type, mm: capitals are then 2.5 mm high, the smallest but one of ISO 3098-1."""
_ADVANCE = 0.602
_DASHED, _CHAIN = "3 1.2", "8 1.2 0.6 1.2"


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box, apart: float = 0.0) -> bool:
        return (
            self.left < other.right + apart
            and other.left < self.right + apart
            and self.top < other.bottom + apart
            and other.top < self.bottom + apart
        )

    def holds(self, other: Box) -> bool:
        return (
            self.left <= other.left + 1e-9
            and self.top <= other.top + 1e-9
            and self.right >= other.right - 1e-9
            and self.bottom >= other.bottom - 1e-9
        )

    def crossed(self, a: Point, b: Point) -> bool:
        """Whether a straight piece meets the box (Liang and Barsky's clipping)."""
        low, high = 0.0, 1.0
        for start, step, least, most in (
            (a[0], b[0] - a[0], self.left, self.right),
            (a[1], b[1] - a[1], self.top, self.bottom),
        ):
            if abs(step) < 1e-12:
                if not least <= start <= most:
                    return False
                continue
            first, last = sorted(((least - start) / step, (most - start) / step))
            low, high = max(low, first), min(high, last)
        return low <= high


def text_width(text: str, size: float = LETTER) -> float:
    return len(text) * _ADVANCE * size


def fitted(text: str, width: float, size: float = LETTER, smallest: float = 2.5) -> tuple[str, float]:
    """A text and the size of type at which it fits a width; cut with dots where the smallest is still too large."""
    while size > smallest and text_width(text, size) > width:
        size = max(smallest, size - 0.25)
    room = int(width / (_ADVANCE * size))
    return (text if len(text) <= room else text[: max(0, room - 1)] + "…"), size


@dataclass
class Paper:
    """What is drawn so far: `marks` as SVG, `texts` the boxes of all texts, `drawn` the straight pieces
    that labels stay off, by squares of the sheet."""

    width: float
    height: float
    marks: list[str] = field(default_factory=list)
    texts: list[Box] = field(default_factory=list)
    drawn: dict[tuple[int, int], list[tuple[Point, Point]]] = field(default_factory=dict)

    def line(
        self, points: Sequence[Point], width: float = THIN, style: str = "", closed: bool = False, keep: bool = False
    ) -> None:
        """A run of straight pieces; `style` "" full, "hidden" dashed, "centre" chain. `keep`: labels stay off it."""
        if len(points) < 2:
            return
        path = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + ("Z" if closed else "")
        dash = {"hidden": f' stroke-dasharray="{_DASHED}"', "centre": f' stroke-dasharray="{_CHAIN}"'}.get(style, "")
        self.marks.append(f'<path d="{path}" stroke-width="{width}"{dash}/>')
        if keep:
            ends = [*points, points[0]] if closed else list(points)
            for a, b in pairwise(ends):
                around = Box(min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
                for cell in _cells(around):
                    self.drawn.setdefault(cell, []).append((a, b))

    def circle(self, x: float, y: float, radius: float, width: float = THIN, fill: str = "none") -> None:
        self.marks.append(f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}" stroke-width="{width}" fill="{fill}"/>')

    def arrow(self, tip: Point, angle: float) -> None:
        """A filled head 3 mm long and 1 mm wide; `angle` of the way it points, rad, y down."""
        c, s = math.cos(angle), math.sin(angle)
        corners = [tip, (tip[0] - 3 * c - 0.5 * s, tip[1] - 3 * s + 0.5 * c),
                   (tip[0] - 3 * c + 0.5 * s, tip[1] - 3 * s - 0.5 * c)]  # fmt: skip
        path = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in corners) + "Z"
        self.marks.append(f'<path d="{path}" fill="black" stroke="none"/>')

    def box_of(self, text: str, x: float, y: float, size: float, anchor: str, upright: bool = False) -> Box:
        """Box of a text whose foot line begins (or has its middle or end) at x, y; upright: read from the right."""
        long, up, down = text_width(text, size), 0.76 * size, 0.24 * size
        start = {"start": 0.0, "middle": -long / 2, "end": -long}[anchor]
        if upright:
            return Box(x - up, y - start - long, x + down, y - start)
        return Box(x + start, y - up, x + start + long, y + down)

    def text(
        self, text: str, x: float, y: float, size: float = LETTER, anchor: str = "start", upright: bool = False,
        bold: bool = False,
    ) -> None:  # fmt: skip
        if not text:
            return
        self.texts.append(self.box_of(text, x, y, size, anchor, upright))
        turn = f' transform="rotate(-90 {x:.3f} {y:.3f})"' if upright else ""
        heavy = ' font-weight="bold"' if bold else ""
        self.marks.append(
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:g}" text-anchor="{anchor}" fill="black" stroke="none"'
            f"{heavy}{turn}>{_clean(text)}</text>"
        )

    def free(self, box: Box, within: Box) -> bool:
        """Whether a box lies within another, off all texts and off the thick lines."""
        near = Box(box.left - 0.6, box.top - 0.6, box.right + 0.6, box.bottom + 0.6)
        if not within.holds(near) or any(near.meets(other) for other in self.texts):
            return False
        return not any(near.crossed(a, b) for cell in _cells(near) for a, b in self.drawn.get(cell, ()))

    def svg(self, title: str) -> str:
        body = "\n".join(self.marks)
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{self.width:g}mm" height="{self.height:g}mm" '
            f'viewBox="0 0 {self.width:g} {self.height:g}" role="img">\n<title>{_clean(title)}</title>\n'
            f'<rect width="{self.width:g}" height="{self.height:g}" fill="white"/>\n'
            '<g fill="none" stroke="black" stroke-linejoin="round" '
            "font-family=\"'DejaVu Sans Mono', 'Liberation Mono', monospace\">\n"
            f"{body}\n</g>\n</svg>\n"
        )


def _clean(text: str) -> str:
    """A text as it may stand in XML, whatever a name holds."""
    return escape("".join(c if c.isprintable() else "?" for c in text))


def _cells(box: Box) -> Iterator[tuple[int, int]]:
    """Squares of 10 mm that a box meets."""
    for column in range(math.floor(box.left / 10), math.floor(box.right / 10) + 1):
        for row in range(math.floor(box.top / 10), math.floor(box.bottom / 10) + 1):
            yield column, row


def crossing(a: Point, b: Point, c: Point, d: Point) -> bool:
    """Whether two straight pieces cross."""

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
