"""Pictures of a parcel's papers: the section of its box, to scale, and marks for its outside.

The marks are our own drawings of what ISO 780 describes: from memory, not held against its text.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

if TYPE_CHECKING:
    from nestwright.parcel.model import Parcel

__all__ = ["cup_size", "keep_dry", "section_svg", "temperatures", "this_way_up"]

INK, BOARD, FOAM, FILL = "#22261f", "#c9ab7c", "#eeece4", "#f7f4ea"
HEAT, COLD, CUP = "#c4603a", "#7fa3bf", "#dfe8d8"
GAP = 0.15
"""Of a pack's share of the bar: what parts it from the next."""


def cup_size(volume: float) -> float:
    """Width and height, m, of a cup of `volume` m3 that is as wide as high; a file tells its volume only."""
    return (4 * volume / math.pi) ** (1 / 3)


def section_svg(parcel: Parcel, cup_word: str, filler_word: str) -> str:
    """Box, filler, packs and cup cut through width and height, 1 unit a millimetre; of a pack its place only.

    The words name cup and filler in the reader's language.
    """
    box = parcel.box
    width, height, wall = (1e3 * x for x in (box.width, box.height, box.thickness))
    drawn, inset = [], 0.0
    outer_w, outer_h = width + 2 * wall, height + 2 * wall
    for i, (thickness, _) in enumerate(box.layers):
        layer = outer_w - 2 * inset, outer_h - 2 * inset
        drawn.append(_rect(inset, inset, *layer, BOARD if i % 2 == 0 else FOAM))
        inset += 1e3 * thickness
    drawn.append(_rect(wall, wall, width, height, FILL if parcel.filler else "#ffffff"))
    side = min(1e3 * cup_size(parcel.cup.volume), width, height)
    x, y = wall + (width - side) / 2, wall + (height - side) / 2
    bar = 0.06 * min(width, height)
    spans = {
        "side": (wall, wall + 0.2 * height, bar, 0.6 * height),
        "top": (wall + 0.2 * width, wall, 0.6 * width, bar),
        "wrapped": (x - bar, y - bar, side + 2 * bar, bar),
    }
    for place, span in spans.items():
        packs = [pack.kind for pack in parcel.packs if pack.place == place for _ in range(pack.number)]
        for i, kind in enumerate(packs):
            drawn.append(_rect(*_part(span, i, len(packs)), HEAT if kind == "heat" else COLD))
    drawn.append(_rect(x, y, side, side, CUP))
    size = max(outer_w, outer_h) / 22
    drawn.append(_text(x + side / 2, y + side / 2, cup_word, size))
    if parcel.filler and y - wall > 3 * size:
        drawn.append(_text(wall + width / 2, wall + height - size, filler_word, size))
    return _svg(outer_w, outer_h, drawn)


def _part(span: tuple[float, float, float, float], i: int, n: int) -> tuple[float, float, float, float]:
    """The i-th of n bars of a span (left, top, width, height), one after the other along its longer side."""
    left, top, width, height = span
    gap = GAP if n > 1 else 0.0
    if width > height:
        one = width / n
        return left + one * (i + gap / 2), top, one * (1 - gap), height
    one = height / n
    return left, top + one * (i + gap / 2), width, one * (1 - gap)


def this_way_up() -> str:
    """Two arrows upward over a bar."""
    arrow = "M{0} 78 V42 H{1} L{2} 12 L{3} 42 H{4} V78 Z"
    marks = [arrow.format(x - 7, x - 18, x, x + 18, x + 7) for x in (28, 72)]
    return _svg(100, 100, [*(f'<path d="{m}" fill="{INK}"/>' for m in marks), _rect(8, 84, 84, 7, INK)])


def keep_dry() -> str:
    """An umbrella under falling drops."""
    drops = "".join(f"M{x} 6 l-4 12 h8 Z " for x in (22, 50, 78))
    return _svg(100, 100, [
        f'<path d="{drops}" fill="{INK}"/>',
        f'<path d="M12 60 A38 36 0 0 1 88 60 Z" fill="{INK}"/>',
        f'<path d="M50 58 V84 A8 8 0 0 0 66 84" fill="none" stroke="{INK}" stroke-width="5"/>',
    ])  # fmt: skip


def temperatures(low: str, high: str) -> str:
    """A thermometer between two bars with its limits in words."""
    return _svg(100, 100, [
        f'<path d="M44 20 a6 6 0 0 1 12 0 V66 a13 13 0 1 1 -12 0 Z" fill="none" stroke="{INK}" stroke-width="4"/>',
        f'<path d="M50 36 V76" stroke="{INK}" stroke-width="6"/>',
        f'<path d="M62 26 H94 M6 60 H38" stroke="{INK}" stroke-width="4"/>',
        _text(78, 21, high, 11),
        _text(22, 55, low, 11),
    ])  # fmt: skip


def _rect(x: float, y: float, width: float, height: float, fill: str) -> str:
    at = f'x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" height="{height:.2f}"'
    return f'<rect {at} fill="{fill}" stroke="{INK}" stroke-width="0.8"/>'


def _text(x: float, y: float, text: str, size: float) -> str:
    at = f'x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}"'
    return f'<text {at} text-anchor="middle" fill="{INK}" font-family="serif">{escape(text)}</text>'


def _svg(width: float, height: float, drawn: list[str]) -> str:
    box = f'viewBox="-2 -2 {width + 4:.2f} {height + 4:.2f}" width="{width + 4:.2f}" height="{height + 4:.2f}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {box}>{"".join(drawn)}</svg>'
