"""Dimensioned drawing of one part on a sheet A4: two views in first-angle projection, sizes, fits, title block.

Lines by ISO 128, letters by ISO 3098, scales by ISO 5455, frame by ISO 5457, projection by ISO 5456-2 (first angle),
general tolerances by ISO 2768-1 class m. The same part gives the same bytes: no clock, no names drawn at random.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.drawing_block import FRAME, TABLE_WIDTH, TITLE, draw_notes, draw_table, draw_title
from nestwright.parts.drawing_texts import PartFit, Row, fits_of, notes_of, number, rows_of
from nestwright.parts.drawing_views import View, views_of
from nestwright.parts.model import Assembly, Measured, Part
from nestwright.parts.paper import LETTER, THICK, THIN, Box, Paper, crossing, text_width
from nestwright.parts.process_rules import Processes, shipped_processes
from nestwright.press.setting import set_paper

__all__ = ["Drawing", "drawing_of", "drawing_pdf", "drawing_svg"]

_A4 = (297.0, 210.0)
_SCALES = (20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02)
_STEP = 8.0
"""Between dimension lines, and from the view to the first, mm."""
_LEFT, _RIGHT, _ABOVE, _BELOW, _BETWEEN = 20.0, 22.0, 20.0, 13.0, 26.0
"""Room about the views for dimensions and labels, mm."""
_BESIDE = 32.0
"""Room to the right of an edge view: its thickness is told there."""
_RADIUS, _REACHES = 2.6, (7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)
"""Of a label's circle, and how far from its feature a label may stand, mm."""
_MANY = 20
"""With more rows than these only the first of each sort has a label: the rest of a test piece stands in its order."""


@dataclass(frozen=True)
class Drawing:
    """One sheet: its SVG, its scale, and the boxes of its texts on paper, mm."""

    svg: str
    scale: float
    texts: tuple[Box, ...]
    frame: Box


def drawing_svg(part: Part, measured: Measured | None = None, **more: Any) -> str:
    """Drawing of a part as SVG, A4 across; see `drawing_of` for what else can be given."""
    return drawing_of(part, measured, **more).svg


def drawing_pdf(part: Part, measured: Measured | None = None, **more: Any) -> bytes:
    """Drawing of a part as PDF at its true scale, in vectors; see `drawing_of`."""
    title = f"Drawing: {part.name}"
    picture = {"drawn": drawing_svg(part, measured, **more), "alt": f"{title}; its sizes are in the picture"}
    data = {"lang": "en", "title": title, "footer": "", "width": _A4[0], "height": _A4[1], "picture": picture}
    return set_paper("drawing", data, None)


def drawing_of(
    part: Part,
    measured: Measured | None = None,
    *,
    assembly: Assembly | None = None,
    processes: Processes | None = None,
    solid: Any = None,
    date: str = "",
) -> Drawing:
    """Draw one part.

    Parameters
    ----------
    part : Part
        Flat parts are drawn from their outline, others from `solid` or else from their sizes or measured box.
    measured : Measured, optional
        For the mass, and the size where nothing else tells it.
    assembly : Assembly, optional
        For the name, revision and hash of the habitat and for the fits of the part's joints.
    processes : Processes, optional
        For what the way of making holds; else the shipped rules.
    solid : build123d Part, optional
        Then views show every visible and hidden edge of it.
    date : str
        As it stands in the title block; none is made up.

    Raises
    ------
    InputError
        For a part that has nothing to be drawn by, or does not fit the sheet at 1:50.
    """
    views = views_of(part, measured, solid)
    fits = fits_of(part, assembly)
    rows = rows_of(part, fits)
    paper = Paper(*_A4)
    right = FRAME.right - (TABLE_WIDTH if rows else 0.0)
    area = Box(FRAME.left, FRAME.top, right, TITLE.top)
    scale = _scale(part, views, area)
    paper.line([(20, 10), (287, 10), (287, 200), (20, 200)], THICK, closed=True)
    placed = _place(views, area, scale)
    for view, put in zip(views, placed, strict=True):
        _outline(paper, view, put)
    for view, put in zip(views, placed, strict=True):
        _sizes(paper, view, put, fits)
    if rows:
        draw_table(paper, rows, right)
        _labels(paper, rows, views, placed, area)
    notes = notes_of(part, fits, processes or shipped_processes())
    if any(row.where for row in rows):
        notes = (
            "x, y, z of the table (the first of several) from the part's origin, the small circle with a cross.",
            *notes,
        )
    if views[0].outer_only:
        notes = ("Outer size only: the form within is in the solid's file.", *notes)
    draw_notes(paper, notes)
    draw_title(paper, part, measured, assembly, scale, date)
    return Drawing(paper.svg(f"Drawing: {part.name}"), scale, tuple(paper.texts), FRAME)


Put = Callable[[float, float], tuple[float, float]]
"""From a point of a view to the paper."""


def _flat(views: tuple[View, View]) -> bool:
    return views[1].name == "edge"


def _scale(part: Part, views: tuple[View, View], area: Box) -> float:
    one, two = views
    wide, high = area.right - area.left - _LEFT - _RIGHT, area.bottom - area.top - _ABOVE - _BELOW
    if _flat(views):
        size = (one.width + two.width, one.height)
        wide -= _BETWEEN + _BESIDE - _RIGHT
    else:
        size = (max(one.width, two.width), one.height + two.height)
        high -= _BETWEEN
    for scale in _SCALES:
        if size[0] * scale <= wide and size[1] * scale <= high:
            return scale
    found = f"{size[0]:.4g} x {size[1]:.4g} mm"
    raise InputError("is too large for a drawing on A4", field=part.name, found=found, allowed="scale 1:50 at least")


def _place(views: tuple[View, View], area: Box, scale: float) -> tuple[Put, Put]:
    """First angle: what is seen from above stands below the front view; from the left, to its right."""
    one, two = views

    def put(view: View, left: float, bottom: float) -> Put:
        return lambda x, y: (left + (x - view.box[0]) * scale, bottom - (y - view.box[1]) * scale)

    wide, high = area.right - area.left, area.bottom - area.top
    if _flat(views):
        spare = wide - _LEFT - _BESIDE - (one.width + two.width) * scale - _BETWEEN
        left = area.left + _LEFT + spare / 2
        tall = high - _ABOVE - _BELOW - one.height * scale
        bottom = area.bottom - _BELOW - tall / 2
        return put(one, left, bottom), put(two, left + one.width * scale + _BETWEEN, bottom)
    spare = wide - _LEFT - _RIGHT - max(one.width, two.width) * scale
    left = area.left + _LEFT + spare / 2
    tall = high - _ABOVE - _BELOW - _BETWEEN - (one.height + two.height) * scale
    bottom = area.bottom - _BELOW - tall / 2
    return put(one, left, bottom - two.height * scale - _BETWEEN), put(two, left, bottom)


def _outline(paper: Paper, view: View, put: Put) -> None:
    for line in view.full:
        closed = line[0] == line[-1] and len(line) > 2
        paper.line([put(*p) for p in (line[:-1] if closed else line)], THICK, closed=closed, keep=True)
    for line in view.hidden:
        paper.line([put(*p) for p in line], THIN, "hidden", keep=True)
    if view.box[0] <= 0 <= view.box[2] and view.box[1] <= 0 <= view.box[3] and view.name != "edge":
        x, y = put(0.0, 0.0)
        paper.circle(x, y, 1.2)
        paper.line([(x - 2, y), (x + 2, y)])
        paper.line([(x, y - 2), (x, y + 2)])
    if view.round:
        x, y = (view.box[0] + view.box[2]) / 2, (view.box[1] + view.box[3]) / 2
        (a, top), (_, bottom) = put(x, view.box[3]), put(x, view.box[1])
        paper.line([(a, top - 3), (a, bottom + 3)], THIN, "centre")
        if view.round == "end":
            (left, b), (right, _) = put(view.box[0], y), put(view.box[2], y)
            paper.line([(left - 3, b), (right + 3, b)], THIN, "centre")


def _sizes(paper: Paper, view: View, put: Put, fits: tuple[PartFit, ...]) -> None:
    left, low, right, high = view.box
    sign = "⌀" if view.round else ""
    (x0, y0), (x1, y1) = put(left, low), put(right, high)
    if view.name == "edge":
        _across(paper, x0, x1, y0, y0 + _STEP, f"t = {number(view.width)}")
        return
    if view.name == "top":
        if not view.round:
            _upright(paper, y1, y0, x0, x0 - _STEP, number(view.height))
        return
    if view.round == "side" and view.top and abs(view.top - view.width) > 1e-6:
        middle = (x0 + x1) / 2
        half = view.top / view.width * (x1 - x0) / 2 if view.top <= view.width else (x1 - x0) / 2
        _across(paper, middle - half, middle + half, y1, y1 - _STEP, f"⌀{number(view.top)}")
    elif view.round == "side" and view.bore > 0:
        middle, half = (x0 + x1) / 2, view.bore / view.width * (x1 - x0) / 2
        _across(paper, middle - half, middle + half, y1, y1 - _STEP, "⌀" + _fitted_size(view.bore, True, fits))
    _across(paper, x0, x1, y0, y0 + _STEP, sign + _fitted_size(view.width, False, fits))
    if not (view.name == "face" and view.round):
        _upright(paper, y1, y0, x0, x0 - _STEP, number(view.height))


def _fitted_size(mm: float, inside: bool, fits: tuple[PartFit, ...]) -> str:
    held = next((f for f in fits if abs(f.size * 1e3 - mm) < 5e-4 and f.inside == inside), None)
    return number(mm) + (f" {held.name}" if held is not None else "")


def _across(paper: Paper, a: float, b: float, edge: float, at: float, text: str) -> None:
    """A dimension from left to right at height `at` of what ends at `edge`."""
    over = 1.0 if at > edge else -1.0
    for x in (a, b):
        paper.line([(x, edge + over), (x, at + 2 * over)], keep=True)
    long = text_width(text) + 2
    if b - a >= max(long, 8.0):
        paper.line([(a, at), (b, at)], keep=True)
        paper.arrow((a, at), math.pi)
        paper.arrow((b, at), 0.0)
        paper.text(text, (a + b) / 2, at - 0.32 * LETTER, anchor="middle")
    else:
        paper.line([(a - 7, at), (b + 7 + long, at)], keep=True)
        paper.arrow((a, at), 0.0)
        paper.arrow((b, at), math.pi)
        paper.text(text, b + 7, at - 0.32 * LETTER)


def _upright(paper: Paper, top: float, bottom: float, edge: float, at: float, text: str) -> None:
    """A dimension from top to bottom to the left of what ends at `edge`; its text reads from the right."""
    for y in (top, bottom):
        paper.line([(edge - 1, y), (at - 2, y)], keep=True)
    long = text_width(text) + 2
    if bottom - top >= max(long, 8.0):
        paper.line([(at, top), (at, bottom)], keep=True)
        paper.arrow((at, top), -math.pi / 2)
        paper.arrow((at, bottom), math.pi / 2)
        paper.text(text, at - 0.32 * LETTER, (top + bottom) / 2, anchor="middle", upright=True)
    else:
        paper.line([(at, top - 5 - long), (at, bottom + 5)], keep=True)
        paper.arrow((at, top), math.pi / 2)
        paper.arrow((at, bottom), -math.pi / 2)
        paper.text(text, at - 0.32 * LETTER, top - 5, upright=True)


def _labels(paper: Paper, rows: tuple[Row, ...], views: tuple[View, View], placed: tuple[Put, Put], area: Box) -> None:
    """A letter in a circle for every row of the table, at a free spot near the feature it names."""
    leaders: list[tuple[tuple[float, float], tuple[float, float]]] = []
    named: set[str] = set()
    for row in rows:
        spot = _spot(row, views, placed)
        if spot is None or (len(rows) > _MANY and row.kind in named):
            continue
        named.add(row.kind)
        tried = (_ball(spot, reach, turn) for reach in _REACHES for turn in range(24))
        ball = next((b for b in tried if paper.free(b, area) and _clear(paper, leaders, spot, b)), None)
        if ball is None:
            continue  # the table names it all the same
        x, y = (ball.left + ball.right) / 2, (ball.top + ball.bottom) / 2
        away = math.hypot(spot[0] - x, spot[1] - y)
        start = (x + (spot[0] - x) * _RADIUS / away, y + (spot[1] - y) * _RADIUS / away)
        paper.line([start, spot], keep=True)
        leaders.append((start, spot))
        # ISO 128-22: a leader that ends within an outline ends in a dot
        paper.circle(*spot, 0.5, 0.0, "black")
        paper.circle(x, y, _RADIUS)
        paper.text(row.label, x, y + 0.26 * 3.0, 3.0 if len(row.label) == 1 else 2.5, "middle")
        paper.texts[-1] = ball


def _clear(
    paper: Paper, leaders: list[tuple[tuple[float, float], tuple[float, float]]], spot: tuple[float, float], ball: Box
) -> bool:
    """Whether a leader from a spot to a label crosses no other leader and no text."""
    way = (spot, ((ball.left + ball.right) / 2, (ball.top + ball.bottom) / 2))
    return not any(box.crossed(*way) for box in paper.texts) and not any(crossing(*way, *one) for one in leaders)


def _ball(spot: tuple[float, float], reach: float, turn: int) -> Box:
    angle = -math.pi / 4 + turn * math.pi / 12
    x, y = spot[0] + reach * math.cos(angle), spot[1] + reach * math.sin(angle)
    return Box(x - _RADIUS, y - _RADIUS, x + _RADIUS, y + _RADIUS)


def _spot(row: Row, views: tuple[View, View], placed: tuple[Put, Put]) -> tuple[float, float] | None:
    """Where a feature lies on the paper: on the face or the view from above; walls and slopes on the front view."""
    if row.at is None:
        return None
    flat = _flat(views)
    first = 0 if flat or row.kind in ("wall", "overhang", "draft", "bridge", "gap", "edge") else 1
    for number_ in (first,) if flat else (first, 1 - first):
        view = views[number_]
        x, y = row.at[view.axes[0]] * 1e3, row.at[view.axes[1]] * 1e3
        if view.box[0] - 1e-6 <= x <= view.box[2] + 1e-6 and view.box[1] - 1e-6 <= y <= view.box[3] + 1e-6:
            return placed[number_](x, y)
    return None
