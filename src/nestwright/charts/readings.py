"""The readings of one channel over dates: a line, least to most of each hour, its uncertainty, limits, and its gaps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.charts.dated import BAND_TINT, MARK_TINT, MID_TINT, Calendar, plot_width, short
from nestwright.charts.lettering import headed, note, of_rows
from nestwright.charts.theme import LINE, QUIET

__all__ = ["Drawn", "readings_chart"]

Array = NDArray[np.float64]
HEIGHT = 240
DOTS_PER_PIXEL = 2
"""Readings drawn per pixel; where there are more, least and most of each half pixel stand for them."""


@dataclass(frozen=True)
class Drawn:
    """What is drawn: `day` since `start` on the workshop's clock (n,), rising; `low`, `mean`, `high` (n,) in `unit`;
    `error` standard uncertainty (n,), nan for none; `gaps` (from, to) in days; `limits` low and high or None."""

    title: str
    unit: str
    start: date
    first: float
    last: float
    day: Array
    low: Array
    mean: Array
    high: Array
    error: Array
    gaps: tuple[tuple[float, float], ...] = ()
    limits: tuple[float | None, float | None] = (None, None)
    lines: tuple[str, ...] = ()


def readings_chart(drawn: Drawn, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: a line broken at shaded gaps, least to most of each hour as a band,
    dashed limits."""
    from nestwright.charts.declared import alt

    calendar = Calendar.over(drawn.start, drawn.first, drawn.last, plot_width(width))
    data = _rows(drawn, calendar)
    known = [v for one in (drawn.low, drawn.high) for v in one if math.isfinite(v)]
    known += [v for v in drawn.limits if v is not None]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    room = max((high - low) * 0.08, abs(high) * 1e-3, 1e-9)
    scale = alt.Scale(domain=[low - room, high + room], nice=False, zero=False)
    axis = alt.Axis(title=drawn.unit, minExtent=46, titlePadding=6, tickCount=6)
    y, x = alt.Y("mid:Q", scale=scale, axis=axis), calendar.x(alt)
    layers: list[Any] = []
    shaded = [{"t": calendar.when(a), "until": calendar.when(b)} for a, b in drawn.gaps]
    if shaded:
        layers.append(of_rows(alt, shaded).mark_rect(color=LINE, opacity=0.5, clip=True).encode(x=x, x2="until:T"))
    chart = of_rows(alt, data)
    if np.any(drawn.high > drawn.low):
        band = alt.Y("low:Q", scale=scale, axis=axis)
        layers.append(chart.mark_area(color=BAND_TINT, opacity=0.75, clip=True).encode(x=x, y=band, y2="high:Q"))
    layers.append(chart.mark_line(color=MID_TINT, strokeWidth=1.4, clip=True).encode(x=x, y=y))
    if len(drawn.day) == 1:
        layers.append(chart.mark_circle(size=60, color=MID_TINT, opacity=1).encode(x=x, y=y))
    span = [calendar.when(calendar.first), calendar.when(calendar.last)]
    for limit in drawn.limits:
        if limit is not None:
            ends = of_rows(alt, [{"t": t, "mid": short(limit)} for t in span])
            layers.append(ends.mark_line(color=MARK_TINT, strokeWidth=1.2, strokeDash=[6, 4]).encode(x=x, y=y))
    if not len(drawn.day):
        layers += note(alt, "no readings", calendar.width / 2, HEIGHT / 2, align="center", tint=QUIET)
    lines = [*drawn.lines]
    error = drawn.error[np.isfinite(drawn.error)]
    if len(error):
        lines.append(
            f"Standard uncertainty: {_two(float(np.median(error)))} {drawn.unit}, shared by all but its scatter."
        )
    if drawn.gaps:
        lines.append("Shaded: no readings.")
    return headed(
        alt.layer(*layers).properties(width=calendar.width, height=HEIGHT), drawn.title, lines, width
    )  # fmt: skip


def _two(value: float) -> str:
    digits = max(0, 1 - math.floor(math.log10(value))) if value > 0 else 0
    return f"{value:.{digits}f}"


def _rows(drawn: Drawn, calendar: Calendar) -> list[dict[str, Any]]:
    """Rows of the picture's data, thinned to what a pixel can show; None between, where a gap breaks the line."""
    most = DOTS_PER_PIXEL * calendar.width
    kept = np.arange(len(drawn.day))
    if len(kept) > 2 * most:
        share = (drawn.day - calendar.first) / (calendar.last - calendar.first)
        bins = np.minimum((share * most).astype(int), most - 1)
        edges = np.append(np.unique(bins, return_index=True)[1], len(bins))
        ends = [(int(a), int(b)) for a, b in pairwise(edges)]
        kept = np.unique([k for a, b in ends for k in (a + drawn.mean[a:b].argmin(), a + drawn.mean[a:b].argmax())])
    breaks = np.array([a for a, _ in drawn.gaps])
    rows: list[dict[str, Any]] = []
    after = np.searchsorted(breaks, drawn.day[kept], side="left") if len(breaks) else np.zeros(len(kept), int)
    for i, k in enumerate(kept.tolist()):
        if i and after[i] != after[i - 1]:
            rows.append({"t": calendar.when(float(drawn.day[k]) - 1e-6), "low": None, "mid": None, "high": None})
        rows.append(
            {
                "t": calendar.when(float(drawn.day[k])),
                "low": short(float(drawn.low[k])),
                "mid": short(float(drawn.mean[k])),
                "high": short(float(drawn.high[k])),
            }
        )
    return rows
