"""Flat parts as DXF and SVG for a laser, mm: outlines moved by half the width of the cut, lines to engrave, tabs.

Layers of the DXF: CUT_INSIDE first, then CUT_OUTSIDE, ENGRAVE, and NOTE, which is not made. In the SVG cuts are red
and engraving is blue.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.model import Part, Ring, Sheet
from nestwright.parts.rings import as_circle, box_of
from nestwright.parts.sizes import size
from nestwright.parts.strokes import Strokes, marked

__all__ = ["LAYERS", "Cut", "cuts_of", "draw_cut", "dxf_bytes", "laid", "moved_ring", "order_classes", "svg_text"]

Line = tuple[tuple[float, float], ...]
LAYERS = (("CUT_INSIDE", 1), ("CUT_OUTSIDE", 1), ("ENGRAVE", 5))
"""Layers of a DXF in the order in which they are made, with the number of their colour."""


@dataclass(frozen=True)
class Cut:
    """Lines of one flat part after the width of the cut is taken off, mm: circles (x, y, diameter) and lines.

    `outside` is closed where it has no tabs; else it is several open lines.
    """

    circles: tuple[tuple[float, float, float], ...]
    inside: tuple[Line, ...]
    outside: tuple[Line, ...]
    outer_circle: tuple[float, float, float] | None
    tabs: int
    engraved: tuple[Line, ...]


def engraving(part: Part, serial: str = "") -> tuple[str, Strokes]:
    """What is engraved on a part that a laser cuts, and its strokes: its name with the serial of its build; where there
    is no room for both the serial alone, else the name; "" where there is none for either."""
    if part.sheet is None or part.way != "laser":
        return "", ()
    for text in (f"{part.name} {serial}", serial, part.name) if serial else (part.name,):
        if strokes := marked(part.sheet, text):
            return text, strokes
    return "", ()


def cuts_of(part: Part, kerf: float, *, named: bool = False, serial: str = "") -> Cut:
    """What a beam of width `kerf` m is to follow so that the part comes out at its size.

    The outside is moved out and openings in by half the kerf. A part with a side below that of data/parts.toml
    would tip into the bed: it is held by two tabs in its outline. `named`: what a laser cuts has its name engraved
    where there is room, with the `serial` of its build where there is one.

    Raises
    ------
    InputError
        For a part that is not flat, and for an opening that the cut is wider than.
    """
    if part.sheet is None:
        raise InputError("is not flat: it has no outline to cut", field=part.name, found=part.kind)
    sheet = part.sheet
    circles, inside = [], []
    for ring in sheet.openings:
        found = as_circle(ring)
        a, b, c, d = box_of(ring)
        narrow = min(c - a, d - b)
        if narrow <= kerf:
            place = {
                "field": part.name,
                "found": f"{narrow * 1e3:.3g} mm",
                "allowed": f"wider than {kerf * 1e3:.3g} mm",
            }
            raise InputError("an opening is narrower than the cut", line=part.line, **place)
        if found:
            circles.append((found[0] * 1e3, found[1] * 1e3, (found[2] - kerf) * 1e3))
        else:
            inside.append(_mm(moved_ring(ring, -kerf / 2)))
    outer, tabs = as_circle(sheet.outline), _tabs(sheet)
    outside: tuple[Line, ...] = ()
    outer_circle = None
    if outer and not tabs:
        outer_circle = (outer[0] * 1e3, outer[1] * 1e3, (outer[2] + kerf) * 1e3)
    elif outer:
        outside = tuple(_arcs(outer, kerf, tabs))
    else:
        ring = _mm(moved_ring(sheet.outline, kerf / 2))
        outside = tuple(_split(ring, tabs)) if tabs else ((*ring, ring[0]),)
    engraved = tuple(_mm((*ring, ring[0])) for ring in sheet.engraved)
    if named:
        engraved += tuple(_mm(stroke) for stroke in engraving(part, serial)[1])
    return Cut(tuple(circles), tuple((*r, r[0]) for r in inside), outside, outer_circle, tabs, engraved)


def _mm(ring: Ring) -> Line:
    return tuple((x * 1e3, y * 1e3) for x, y in ring)


def _tabs(sheet: Sheet) -> int:
    a, b, c, d = box_of(sheet.outline)
    return 2 if min(c - a, d - b) < size("tab_below") else 0


def _arcs(outer: tuple[float, float, float], kerf: float, tabs: int) -> Iterator[Line]:
    """A circle as open lines of many short stretches, with gaps between them."""
    x, y, d = (v * 1e3 for v in outer)
    r = (d + kerf * 1e3) / 2
    gap = size("tab_width") * 1e3 / r
    each = 2 * math.pi / tabs - gap
    for k in range(tabs):
        turns = [2 * math.pi * k / tabs + gap / 2 + each * n / 180 for n in range(181)]
        yield tuple((x + r * math.cos(t), y + r * math.sin(t)) for t in turns)


def moved_ring(ring: Ring, out: float) -> Ring:
    """An outline moved outwards by `out` (inwards where it is negative), with mitred corners. Lengths m."""
    pairs = list(zip(ring, (*ring[1:], ring[0]), strict=True))
    turn = math.copysign(1.0, sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs))
    found = []
    for before, at, after in zip((ring[-1], *ring[:-1]), ring, (*ring[1:], ring[0]), strict=True):
        n1, n2 = _normal(before, at, turn), _normal(at, after, turn)
        scale = out / max(1 + n1[0] * n2[0] + n1[1] * n2[1], 1e-9)
        found.append((at[0] + scale * (n1[0] + n2[0]), at[1] + scale * (n1[1] + n2[1])))
    return tuple(found)


def _normal(a: tuple[float, float], b: tuple[float, float], turn: float) -> tuple[float, float]:
    """Unit vector to the outer side of an edge."""
    length = math.dist(a, b)
    return turn * (b[1] - a[1]) / length, -turn * (b[0] - a[0]) / length


def _split(ring: Line, tabs: int) -> Iterator[Line]:
    """A closed line as `tabs` open ones with gaps between them, each gap in the middle of a straight stretch."""
    edges = list(zip(ring, (*ring[1:], ring[0]), strict=True))
    whole, gap = sum(math.dist(a, b) for a, b in edges), size("tab_width") * 1e3
    n = len(edges)
    starts: list[int] = []
    for k in range(tabs):  # the longest edge about so far along
        aim, run, best = whole * (k + 0.25) / tabs, 0.0, (-math.inf, 0)
        for number, (a, b) in enumerate(edges):
            long = math.dist(a, b)
            near = abs(run + long / 2 - aim)
            run += long
            if long > 2 * gap:
                best = max(best, (-near + min(long, 20.0) * 0.2, number))
        starts.append(best[1])
    starts = sorted(set(starts))
    for k, first in enumerate(starts):
        last = starts[(k + 1) % len(starts)]
        a, b = edges[first]
        line = [_along(a, b, 0.5, gap / 2)]
        number = first
        while True:
            line.append(edges[number][1])
            number = (number + 1) % n
            if number == last:
                break
        c, d = edges[last]
        line.append(_along(c, d, 0.5, -gap / 2))
        yield tuple(line)


def _along(a: tuple[float, float], b: tuple[float, float], share: float, more: float) -> tuple[float, float]:
    length = math.dist(a, b)
    t = min(max(share + more / length, 0.0), 1.0)
    return a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])


def dxf_bytes(part: Part, kerf: float, *, named: bool = False, serial: str = "") -> bytes:
    """DXF R2010 in mm of one flat part. Raises InputError as `cuts_of`."""
    import ezdxf
    from ezdxf import units

    cut = cuts_of(part, kerf, named=named, serial=serial)
    before = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True  # no clock, no random numbers
    try:
        doc = ezdxf.new("R2010", units=units.MM)
        for name, colour in (*LAYERS, ("NOTE", 8)):
            doc.layers.add(name, color=colour)
        space = doc.modelspace()
        draw_cut(space, cut)
        a, b, _, _ = box_of(part.sheet.outline)  # type: ignore[union-attr]
        note = space.add_text(_note(part, kerf, cut), height=3, dxfattribs={"layer": "NOTE"})
        note.set_placement((a * 1e3, b * 1e3 - 8))
        out = io.StringIO()
        order_classes(doc)
        doc.write(out)
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = before
    return out.getvalue().encode("utf-8")


def order_classes(doc: Any) -> None:
    """Have a DXF list its classes by name: the library takes them from a set, whose order changes with each process."""
    doc.classes.add_required_classes(doc.dxfversion)
    doc.classes.classes = dict(sorted(doc.classes.classes.items()))


def draw_cut(space: Any, cut: Cut) -> None:
    """Draw the lines of a part into the space of a DXF, each on its layer."""
    for x, y, d in cut.circles:
        space.add_circle((x, y), d / 2, dxfattribs={"layer": "CUT_INSIDE"})
    for line in cut.inside:
        space.add_lwpolyline(line[:-1], close=True, dxfattribs={"layer": "CUT_INSIDE"})
    for line in cut.engraved:
        closed = line[0] == line[-1]
        space.add_lwpolyline(line[:-1] if closed else line, close=closed, dxfattribs={"layer": "ENGRAVE"})
    if cut.outer_circle:
        x, y, d = cut.outer_circle
        space.add_circle((x, y), d / 2, dxfattribs={"layer": "CUT_OUTSIDE"})
    for line in cut.outside:
        closed = cut.tabs == 0
        space.add_lwpolyline(line[:-1] if closed else line, close=closed, dxfattribs={"layer": "CUT_OUTSIDE"})


def laid(cut: Cut, to: Callable[[float, float], tuple[float, float]]) -> Cut:
    """The lines of a part where it lies on a sheet: `to` moves and turns a point, mm."""

    def circle(one: tuple[float, float, float]) -> tuple[float, float, float]:
        return (*to(one[0], one[1]), one[2])

    def lines(some: tuple[Line, ...]) -> tuple[Line, ...]:
        return tuple(tuple(to(*p) for p in line) for line in some)

    outer = circle(cut.outer_circle) if cut.outer_circle else None
    return replace(
        cut, circles=tuple(map(circle, cut.circles)), inside=lines(cut.inside), outside=lines(cut.outside),
        outer_circle=outer, engraved=lines(cut.engraved),
    )  # fmt: skip


def _note(part: Part, kerf: float, cut: Cut) -> str:
    thick = part.sheet.thickness * 1e3 if part.sheet else 0.0
    deep = f", engrave {size('engrave_depth') * 1e3:.2g} mm deep" if cut.engraved else ""
    return (
        f"{part.name}: {part.material} {thick:.3g} mm, {part.quantity} x, cut {kerf * 1e3:.3g} mm wide taken off{deep}"
    )


def svg_text(part: Part, kerf: float, *, named: bool = False, serial: str = "") -> str:
    """SVG of one flat part at its true size in mm. Raises InputError as `cuts_of`."""
    from xml.sax.saxutils import escape

    cut = cuts_of(part, kerf, named=named, serial=serial)
    a, b, c, d = (v * 1e3 for v in box_of(part.sheet.outline))  # type: ignore[union-attr]
    edge = 2 + kerf * 1e3
    x0, y0, width, height = a - edge, b - edge, c - a + 2 * edge, d - b + 2 * edge

    def at(x: float, y: float) -> str:  # y upwards on the sheet, downwards in the file
        return f"{_short(x - x0)},{_short(height - (y - y0))}"

    def circle(x: float, y: float, across: float) -> str:
        cx, cy = at(x, y).split(",")
        return f'<circle cx="{cx}" cy="{cy}" r="{_short(across / 2)}"/>'

    def path(line: Line) -> str:
        closed = line[0] == line[-1]
        return f'<path d="M{" L".join(at(*p) for p in (line[:-1] if closed else line))}{" Z" if closed else ""}"/>'

    inside = "".join(circle(*one) for one in cut.circles) + "".join(map(path, cut.inside))
    outside = (circle(*cut.outer_circle) if cut.outer_circle else "") + "".join(map(path, cut.outside))
    engraved = "".join(map(path, cut.engraved))
    style = 'fill="none" stroke-width="0.1"'
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_short(width)}mm" height="{_short(height)}mm" '
        f'viewBox="0 0 {_short(width)} {_short(height)}">\n<title>{escape(_note(part, kerf, cut))}</title>\n'
        f'<g id="engrave" {style} stroke="#0000ff">{engraved}</g>\n'
        f'<g id="cut-inside" {style} stroke="#ff0000">{inside}</g>\n'
        f'<g id="cut-outside" {style} stroke="#ff0000">{outside}</g>\n</svg>\n'
    )


def _short(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")
