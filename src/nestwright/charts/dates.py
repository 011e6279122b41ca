"""When things come: for each date the span in which it falls in eight of ten cases, and its middle."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.dated import BAND_TINT, MARK_TINT, MID_TINT, Calendar, day_text, plot_width, upright
from nestwright.charts.lettering import SIZE, count_words, fitted, headed, note, once
from nestwright.charts.theme import LINE, PAPER, QUIET, clean
from nestwright.colony.results import DateSpan, Forecast

__all__ = ["dates_chart"]

ROW, BAR = 66, 50
"""Height of a date's row, and where in it the bar lies, px."""
SURE = 0.9995
"""A probability above this is not told."""
NAMES = {
    "bell_full": "bell full",
    "next_chamber": "next chamber needed",
    "first_workers": "first own workers",
    "leaves_short": "more leaves needed than are given",
    "bell": "start making the next bell",
    "chamber": "start making the next chamber",
}


def dates_chart(forecast: Forecast, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: a bar from the 10 % to the 90 % date of each thing, its median marked.

    Round medians are of what comes, diamonds of what must be begun. A bar that runs past the last day forecast ends
    in an arrow.
    """
    import altair as alt

    now, end = float(forecast.fit.days), float(forecast.fit.days + forecast.horizon)
    spans = [(d, False) for d in forecast.dates] + [(d, True) for d in forecast.make_by]
    days = [v for d, _ in spans for v in (d.early, d.middle, d.late) if v is not None and math.isfinite(v)]
    calendar = Calendar.over(forecast.fit.start, min([now, *days]), max([end, *days]), plot_width(width) + 44)
    height = ROW * max(1, len(spans)) + 4
    layers: list[Any] = [
        alt.Chart(alt.Data(values=[{"t": calendar.when(now)}])).mark_rule(color=QUIET, strokeDash=[4, 3]).encode(
            x=calendar.x(alt)
        )
    ]  # fmt: skip
    for k, (span, making) in enumerate(spans):
        layers += _row(alt, span, making, k * ROW, calendar, forecast)
    if not spans:
        layers += note(alt, "No dates were asked for.", 4, 24)
    lines = ["Bar: 8 of 10 cases fall in it; mark: as likely before as after."]
    if forecast.make_by:
        lines.append("Diamonds: the latest day to begin making.")
    if calendar.first < now:
        lines.append(f"Dashed: {day_text(calendar, now, year=True)}, the end of the record.")
    if any(_open(d) for d, _ in spans):
        lines.append(f"Arrow: may come after the {forecast.horizon} days forecast, or not at all.")
    chart = alt.layer(*layers).properties(width=calendar.width, height=height)
    return headed(chart, f"{clean(forecast.fit.colony, 50)}: when things come", lines, width)


def _open(span: DateSpan) -> bool:
    return span.early is not None and span.late is None


def _row(alt: Any, span: DateSpan, making: bool, top: float, calendar: Calendar, forecast: Forecast) -> list[Any]:
    room = calendar.width
    name = fitted(span.what or NAMES.get(span.name, span.name), room, SIZE * 1.06)
    layers: list[Any] = [upright(alt, 0, top, top, tint=LINE)]
    layers += note(alt, name, 0, top + 13, weight=600)
    layers += note(alt, fitted(_words(span, making, calendar, forecast), room), 0, top + 31, tint=QUIET)
    y = top + BAR
    one = once(alt)
    layers.append(one.mark_rule(x=0, x2=calendar.width, y=y, color=LINE))
    if span.early is None or not math.isfinite(span.early):
        return layers
    last = span.late if span.late is not None else calendar.last
    low, high = calendar.place(span.early), calendar.place(last)
    high = max(high, low + 3)
    x = calendar.x(alt)
    data = {"name": name, "t": calendar.when(span.early), "t2": calendar.when(last), "open": span.late is None}
    layers.append(
        alt.Chart(alt.Data(values=[data])).mark_rule(color=BAND_TINT, strokeWidth=12, y=y).encode(x=x, x2="t2")
    )
    if high - low <= 4:
        layers.append(upright(alt, low, y - 6, y + 6, tint=BAND_TINT))
    if span.late is None:
        layers.append(
            one.mark_point(
                shape="triangle-right", filled=True, size=150, color=MID_TINT, opacity=1, x=round(high, 1), y=y
            )
        )
    if span.middle is not None and math.isfinite(span.middle):
        mark = {"t": calendar.when(span.middle), "median": name}
        layers.append(
            alt.Chart(alt.Data(values=[mark]))
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
        text += f", middle {on(span.middle)}" if span.middle is not None else ""
    else:
        text = f"{on(span.early)} to {on(span.late)}"
        text += f", middle {on(span.middle)}" if span.middle is not None else ""
    if making and span.middle is not None and span.middle < forecast.fit.days:
        return f"{text}; overdue"
    return text if span.probability >= SURE else f"{text}; {within} {count_words(span.probability)}"
