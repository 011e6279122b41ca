"""When things come: for each date the span in which it falls in eight of ten cases, and its middle."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.dated import BAND_TINT, MARK_TINT, MID_TINT, Calendar, day_text, level, plot_width, upright
from nestwright.charts.lettering import SIZE, count_words, headed, note, of_rows, once, wrapped
from nestwright.charts.theme import LINE, PAPER, QUIET, clean
from nestwright.colony.results import DateSpan, Forecast

__all__ = ["dates_chart"]

LINE_HEIGHT = 17.5
SURE = 0.9995
"""A probability above this is not told."""
NAMES = {
    "bell_full": "bell full",
    "next_chamber": "next chamber needed",
    "first_workers": "first workers born here",
    "leaves_short": "more leaves needed than are given",
    "bell": "start making the next bell",
    "chamber": "start making the next chamber",
}


def dates_chart(forecast: Forecast, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: a bar from the 10 % to the 90 % date of each thing, its median marked.

    Round medians are of what comes, diamonds of what must be begun. A bar that runs past the last day forecast ends
    in an arrow.
    """
    from nestwright.charts.declared import alt

    now, end = float(forecast.fit.days), float(forecast.fit.days + forecast.horizon)
    spans = [(d, False) for d in forecast.dates] + [(d, True) for d in forecast.make_by]
    days = [v for d, _ in spans for v in (d.early, d.middle, d.late) if v is not None and math.isfinite(v)]
    calendar = Calendar.over(forecast.fit.start, min([now, *days]), max([end, *days]), plot_width(width) + 44)
    layers: list[Any] = []
    top = 0.0
    for span, making in spans:
        made, tall = _row(alt, span, making, top, calendar, forecast)
        layers += made
        top += tall
    if not spans:
        layers += note(alt, "No dates were asked for.", 4, 24)
        top = 44.0
    unseen = of_rows(alt, [{"t": calendar.when(now)}]).mark_point(opacity=0, y=0)
    layers.append(unseen.encode(x=calendar.x(alt)))
    lines = ["Bar: 8 of 10 cases fall in it; mark: as likely before as after."]
    if forecast.make_by:
        lines.append("Diamonds: the latest day to begin making.")
    if spans:
        lines.append(f"Short dashed lines: {day_text(calendar, now, year=True)}, the end of the record.")
    if any(_open(d) for d, _ in spans):
        lines.append(f"Arrow: may come after the {forecast.horizon} days forecast, or not at all.")
    bare = alt.ViewConfig(stroke=None)
    chart = alt.layer(*layers, view=bare).properties(width=calendar.width, height=top + 6)
    return headed(chart, f"{clean(forecast.fit.colony, 50)}: when things come", lines, width)


def _open(span: DateSpan) -> bool:
    return span.early is not None and span.late is None


def _row(
    alt: Any, span: DateSpan, making: bool, top: float, calendar: Calendar, forecast: Forecast
) -> tuple[list[Any], float]:
    """A date's name, its words and its bar from `top` px down, and the height that they take."""
    name = clean(span.what or NAMES.get(span.name, span.name), 160)
    y = top + 13
    layers: list[Any] = []
    for line in wrapped(name, calendar.width, SIZE * 1.08):
        layers += note(alt, line, 0, y, weight=600)
        y += LINE_HEIGHT
    for line in wrapped(_words(span, making, calendar, forecast), calendar.width):
        layers += note(alt, line, 0, y, tint=QUIET)
        y += LINE_HEIGHT
    y += 3
    layers.append(level(alt, 0, calendar.width, y, tint=LINE))
    now = calendar.place(forecast.fit.days)
    layers.append(upright(alt, now, y - 9, y + 9, dash=True))
    return layers + _bar(alt, span, making, y, calendar, name), y + 16 - top


def _bar(alt: Any, span: DateSpan, making: bool, y: float, calendar: Calendar, name: str) -> list[Any]:
    if span.early is None or not math.isfinite(span.early):
        return []
    layers: list[Any] = []
    last = span.late if span.late is not None else calendar.last
    low, high = calendar.place(span.early), calendar.place(last)
    high = max(high, low + 3)
    x = calendar.x(alt)
    data = {"name": name, "t": calendar.when(span.early), "t2": calendar.when(last), "open": span.late is None}
    layers.append(of_rows(alt, [data]).mark_rule(color=BAND_TINT, strokeWidth=12, y=y).encode(x=x, x2="t2"))
    if high - low <= 4:
        layers.append(upright(alt, low, y - 6, y + 6, tint=BAND_TINT))
    if span.late is None:
        layers.append(
            once(alt).mark_point(
                shape="triangle-right", filled=True, size=150, color=MID_TINT, opacity=1, x=round(high, 1), y=y
            )
        )
    if span.middle is not None and math.isfinite(span.middle):
        mark = {"t": calendar.when(span.middle), "median": name}
        layers.append(
            of_rows(alt, [mark])
            .mark_point(
                shape="diamond" if making else "circle", filled=True, size=130, color=MARK_TINT if making else MID_TINT,
                stroke=PAPER, strokeWidth=1.2, opacity=1, y=y,
            )
            .encode(x=x)
        )  # fmt: skip
    return layers


def _words(span: DateSpan, making: bool, calendar: Calendar, forecast: Forecast) -> str:
    within = f"within {forecast.horizon} days"
    if span.early is None:
        least = f" in {count_words(1 - span.probability)[3:]}" if 0 < span.probability < 1 else ""
        return f"not {within}{least}"
    years = calendar.at(span.early).year != calendar.at(span.late if span.late is not None else span.early).year

    def on(day: float) -> str:
        return day_text(calendar, day, year=years)

    if span.late is None:
        text = f"{on(span.early)} or later"
    else:
        text = f"{on(span.early)} to {on(span.late)}"
    if span.late is not None and on(span.early) == on(span.late):
        text = on(span.late)
    elif span.middle is not None:
        text = f"{on(span.middle)} ({text})"
    if making and span.middle is not None and span.middle < forecast.fit.days:
        return f"{text}; overdue"
    return text if span.probability >= SURE else f"{text}; {within} {count_words(span.probability)}"
