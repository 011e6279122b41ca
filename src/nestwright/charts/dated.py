"""Pictures over calendar dates: the axis of dates, the axis of values, and a band of outcomes between them."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

from nestwright.charts.lettering import of_rows, once
from nestwright.charts.theme import INK, QUIET
from nestwright.colony.results import Band

__all__ = [
    "BAND_TINT",
    "MARK_TINT",
    "MID_TINT",
    "NARROWEST",
    "Calendar",
    "Ruler",
    "band_layers",
    "band_values",
    "day_text",
    "level",
    "plot_width",
    "rows",
    "short",
    "today_layers",
    "upright",
]

BAND_TINT, MID_TINT, MARK_TINT = "#9fb9cf", "#1f5a8c", "#8a5a12"
NARROWEST = 280
"""Least width of a picture, px; a smaller wish is drawn this wide."""
MOST_ROWS = 400
"""Days of a band that are drawn; more lie within a pixel of one another."""
LOG_FROM = 20.0
"""Ratio of highest to lowest from which a scale of equal factors reads better than one of equal steps."""
DEPTH = 1e-5
"""Share of the highest value below which a scale of equal factors does not go, but to zero."""
LEFT, RIGHT = 82, 24
"""Room, px, for the value axis with its title, and for half a date at the right end; padding counted in."""
STEPS = (
    *(("d", 1), ("d", 2), ("d", 4), ("w", 1), ("w", 2), ("m", 1), ("m", 2), ("m", 3), ("m", 6)),
    *(("m", 12 * k) for k in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)),
)


def plot_width(width: int) -> int:
    """Width of the plot in a picture `width` px wide."""
    return max(NARROWEST, int(width)) - LEFT - RIGHT


@dataclass(frozen=True)
class Calendar:
    """Days since `start` from `first` to `last`, drawn over `width` px."""

    start: date
    first: float
    last: float
    width: int

    @classmethod
    def over(cls, start: date, first: float, last: float, width: int) -> Calendar:
        """At least one day long."""
        first = first if math.isfinite(first) else 0.0
        last = last if math.isfinite(last) else first
        return cls(start, first, max(last, first + 1.0), width)

    def at(self, day: float) -> datetime:
        begin = datetime(self.start.year, self.start.month, self.start.day, tzinfo=UTC)
        try:
            return begin + timedelta(days=float(day))
        except OverflowError:
            return datetime(9999 if day > 0 else 1, 1, 1, tzinfo=UTC)

    def when(self, day: float) -> str:
        """The day as it stands in the picture's data."""
        return self.at(day).strftime("%Y-%m-%dT%H:%MZ").rjust(17, "0")

    def place(self, day: float) -> float:
        """px from the left of the plot."""
        return (day - self.first) / (self.last - self.first) * self.width

    def holds(self, day: float | None) -> bool:
        return day is not None and math.isfinite(day) and self.first <= day <= self.last

    def x(self, alt: Any, field: str = "t", *, labels: bool = True) -> Any:
        """The encoding of dates; without labels where another picture below carries them."""
        days = self._ticks()
        stamps = [_ms(d) for d in days]
        turns = [s for k, (s, d) in enumerate(zip(stamps, days, strict=True)) if k == 0 or d.year != days[k - 1].year]
        whole = all(d.day == 1 for d in days) and len(days) > 1
        short = "'%b'" if whole else "'%-d %b'"
        expr = (
            f"indexof({turns}, +datum.value) >= 0 ? [utcFormat(datum.value, {short}), utcFormat(datum.value, '%Y')]"
            f" : utcFormat(datum.value, {short})"
        )
        axis = alt.Axis(
            title=None, grid=False, labels=labels, ticks=labels, values=stamps, labelExpr=expr, labelFlush=False,
            labelOverlap=False,
        )  # fmt: skip
        ends = [_ms(self.at(self.first)), _ms(self.at(self.last))]
        return alt.X(f"{field}:T", axis=axis, scale=alt.Scale(type="utc", domain=ends, nice=False))

    def _ticks(self) -> list[datetime]:
        most = max(1, int(self.width // 56))
        low, high = self.at(self.first), self.at(self.last)
        for kind, step in STEPS:
            found = list(_stepped(low, high, kind, step, most + 1))
            if len(found) <= most and (found or (kind, step) == STEPS[-1]):
                return found or [low]
        return [low]


def _ms(at: datetime) -> int:
    return round(at.timestamp() * 1000)


def _stepped(low: datetime, high: datetime, kind: str, step: int, most: int) -> Iterable[datetime]:
    at = low.replace(hour=0, minute=0)
    if kind == "m":
        months = at.year * 12 + at.month - 1
        months = -(-months // step) * step
        for k in range(most + 1):
            year, month = divmod(months + k * step, 12)
            if not 1 <= year <= 9999:
                return
            at = datetime(year, month + 1, 1, tzinfo=UTC)
            if low <= at <= high:
                yield at
        return
    if kind == "w":
        at += timedelta(days=(7 - at.weekday()) % 7)
    hop = timedelta(days=step * (7 if kind == "w" else 1))
    for _ in range(most + 1):
        if at > high:
            return
        if at >= low:
            yield at
        if datetime.max.replace(tzinfo=UTC) - at < hop:
            return
        at += hop


def day_text(calendar: Calendar, day: float, *, year: bool = False) -> str:
    """A date as "3 Mar", or with its year."""
    at = calendar.at(day)
    return f"{at.day} {at:%b}" + (f" {at.year}" if year else "")


@dataclass(frozen=True)
class Ruler:
    """A scale of values over `height` px from `low` to `high`, in equal steps or, beyond 1:20, in equal factors."""

    title: str
    low: float
    high: float
    height: int
    factors: bool = False
    unit: float = 1.0
    """Where a scale of factors passes over to zero."""

    @classmethod
    def over(cls, values: Iterable[float], title: str, height: int, *, finest: float = 0.0) -> Ruler:
        """A scale that holds the values; less than `finest` (1 for counts) is not told from zero."""
        known = np.array([v for v in values if math.isfinite(v)], dtype=float)
        top = float(known.max(initial=0.0))
        top = top if top > 0 else 1.0
        positive = known[known > 0]
        least = float(positive.min()) if len(positive) else top
        floor = max(finest, top * DEPTH)
        if top / max(least, floor) > LOG_FROM:
            unit = max(floor, min(1.0, 10.0 ** math.floor(math.log10(max(least, floor)))))
            low = 0.0 if (known < floor).any() else least * 0.6
            return cls(title, low, top * 1.25, height, True, unit)
        return cls(title, 0.0, top * 1.1, height)

    def place(self, value: float) -> float:
        """px from the top of the plot."""
        share = (self._along(value) - self._along(self.low)) / (self._along(self.high) - self._along(self.low))
        return self.height * (1 - share)

    def y(self, alt: Any, field: str, title: str | None = None) -> Any:
        span = [self.low, self.high]
        look: dict[str, Any] = {"title": title or self.title, "minExtent": 46, "titlePadding": 6, "labelExpr": _COUNTS}
        if self.factors:
            scale = alt.Scale(type="symlog", constant=self.unit, domain=span, nice=False, zero=False)
            return alt.Y(f"{field}:Q", scale=scale, axis=alt.Axis(**look, values=self._ticks()))
        scale = alt.Scale(domain=span, nice=False)
        return alt.Y(
            f"{field}:Q",
            scale=scale,
            axis=alt.Axis(**look, tickCount=max(2, self.height // (32 if self.height < 120 else 44))),
        )

    def _along(self, value: float) -> float:
        return math.log1p(max(value, 0.0) / self.unit) if self.factors else value

    def _ticks(self) -> list[float]:
        decades = range(math.ceil(math.log10(self.unit) - 1e-9), math.floor(math.log10(self.high)) + 1)
        for heads in ((1, 2, 5), (1, 3), (1,)):
            marks = [0.0, *(float(f"{h}e{d}") for d in decades for h in heads)]
            marks = [m for m in marks if self.low <= m <= self.high]
            gaps = [self.place(a) - self.place(b) for a, b in pairwise(marks)]
            if min(gaps, default=99.0) >= 17:
                return marks
        kept: list[float] = []
        for mark in marks:
            if not kept or self.place(kept[-1]) - self.place(mark) >= 17:
                kept.append(mark)
        return kept


_COUNTS = (
    "abs(datum.value) >= 1e9 ? format(datum.value, '~e') : abs(datum.value) >= 1e6 ? format(datum.value / 1e6, '~r') +"
    " ' M' : abs(datum.value) >= 1e3 ? format(datum.value, ',') : format(datum.value, '~r')"
)
"""Numbers of an axis: thousands with commas, millions as M."""


def rows(calendar: Calendar, band: Band | None, factor: float = 1.0) -> list[dict[str, Any]]:
    """A band as rows of the picture's data; None where a value is not known, which breaks the line."""
    if band is None or len(band.day) == 0:
        return []
    step = max(1, math.ceil(len(band.day) / MOST_ROWS))
    kept = sorted({*range(0, len(band.day), step), len(band.day) - 1})
    return [
        {
            "t": calendar.when(float(band.day[k])),
            "low": short(band.low[k] * factor),
            "mid": short(band.middle[k] * factor),
            "high": short(band.high[k] * factor),
        }
        for k in kept
        if math.isfinite(band.day[k])
    ]


def short(value: float) -> float | None:
    return float(f"{value:.4g}") if math.isfinite(value) else None


def band_values(*bands: Band | None, factor: float = 1.0) -> list[float]:
    """Every value that a ruler must hold: the medians and upper ends, and lower ends that are not zero."""
    found: list[float] = []
    for band in bands:
        if band is not None:
            found += [float(v) * factor for v in np.concatenate([band.middle, band.high]) if math.isfinite(v)]
    return found


def band_layers(
    alt: Any, calendar: Calendar, ruler: Ruler, data: list[dict[str, Any]], *, x: Any, dash: bool = False,
    tint: str = BAND_TINT, line: str = MID_TINT, strength: float = 0.75,
) -> list[Any]:  # fmt: skip
    """Band and median line of rows; a lone day is drawn as a bar with a tick."""
    y, middle = ruler.y(alt, "low"), ruler.y(alt, "mid")
    chart = of_rows(alt, data)
    if len(data) == 1:
        return [
            chart.mark_rule(strokeWidth=8, color=tint).encode(x=x, y=y, y2="high:Q"),
            chart.mark_point(shape="stroke", size=190, strokeWidth=2, color=line, opacity=1).encode(x=x, y=middle),
        ]
    stroke: dict[str, Any] = {"strokeDash": [6, 4]} if dash else {}
    return [
        chart.mark_area(color=tint, opacity=strength, clip=True).encode(x=x, y=y, y2="high:Q"),
        chart.mark_line(color=line, strokeWidth=2, clip=True, **stroke).encode(x=x, y=middle),
    ]


def upright(alt: Any, x: float, top: float, bottom: float, *, tint: str = QUIET, dash: bool = False) -> Any:
    """A vertical line at x px, from `top` to `bottom` px."""
    stroke: dict[str, Any] = {"strokeDash": [4, 3]} if dash else {}
    ends = {"x": alt.XValue(round(x, 1)), "y": alt.YValue(round(top, 1)), "y2": alt.Y2Value(round(bottom, 1))}
    return once(alt).mark_rule(color=tint, strokeWidth=1.2, **stroke).encode(**ends)


def level(alt: Any, low: float, high: float, y: float, *, tint: str = QUIET, thick: float = 1.2) -> Any:
    """A horizontal line from `low` to `high` px at y px."""
    ends = {"x": alt.XValue(round(low, 1)), "x2": alt.X2Value(round(high, 1)), "y": alt.YValue(round(y, 1))}
    return once(alt).mark_rule(color=tint, strokeWidth=thick).encode(**ends)


def today_layers(alt: Any, calendar: Calendar, day: float, height: int) -> list[Any]:
    """The line between record and forecast."""
    if not calendar.holds(day) or day <= calendar.first:
        return []
    return [upright(alt, calendar.place(day), 0, height, tint=INK)]
