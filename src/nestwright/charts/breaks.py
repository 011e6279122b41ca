"""Long empty stretches between chambers, drawn short with a mark where the tube is cut."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from nestwright.charts.marks import line
from nestwright.charts.theme import INK, PAPER
from nestwright.habitat.section import Section

__all__ = ["Break", "along", "find_breaks", "mark_svg"]

LONGEST, SHOWN = 0.5, 0.2
"""Shares of the width of all that stands on the bench: from which on a stretch is cut, and what is left of it."""


@dataclass(frozen=True)
class Break:
    """A stretch from `low` to `high`, m along the bench, drawn as long as `shown` m would be."""

    low: float
    high: float
    shown: float


def find_breaks(section: Section) -> tuple[Break, ...]:
    """The stretches in which nothing but passages lies and which are long beside the rest."""
    spans = sorted(p.box[::2] for p in section.pieces if p.kind != "passage")
    merged: list[list[float]] = []
    for low, high in spans:
        if merged and low <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], high)
        else:
            merged.append([low, high])
    solid = sum(high - low for low, high in merged)
    gaps = pairwise(merged)
    return tuple(Break(a[1], b[0], SHOWN * solid) for a, b in gaps if b[0] - a[1] > LONGEST * solid)


def along(x: float, breaks: tuple[Break, ...]) -> float:
    """Place along the drawing, m, of a place along the bench."""
    drawn = x
    for cut in breaks:
        part = max(0.0, min(1.0, (x - cut.low) / (cut.high - cut.low)))
        drawn -= part * (cut.high - cut.low - cut.shown)
    return drawn


def mark_svg(x: float, y: float, half: float) -> list[str]:
    """Two slanted strokes, px, about x, y over a tube that is `half` px to each side of y."""
    high = half + 10
    paper = f"{x - 6:.1f},{y + high:.1f} {x:.1f},{y - high:.1f} {x + 6:.1f},{y - high:.1f} {x:.1f},{y + high:.1f}"
    style = f'stroke="{INK}" stroke-width="1"'
    strokes = [line((x - 6 + k, y + high, x + k, y - high), style) for k in (0, 6)]
    return [f'<polygon points="{paper}" fill="{PAPER}"/>', *strokes]
