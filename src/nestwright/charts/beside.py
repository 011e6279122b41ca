"""Measured beside predicted: daily means of one quantity of a chamber, and what the prediction leaves open."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import numpy as np

from nestwright.charts.dated import BAND_TINT, MARK_TINT, MID_TINT, Calendar, plot_width, short
from nestwright.charts.lettering import headed, of_rows
from nestwright.charts.theme import INK
from nestwright.climate.beside import Beside
from nestwright.climate.results import CELSIUS

__all__ = ["beside_chart"]

HEIGHT = 210
LEAST_SPAN = {"temperature": 1.0, "relative_humidity": 2.0, "co2": 0.1}
"""Least height of the value axis, in its unit: what is finer no sensor tells."""
TITLES = {"temperature": "temperature, °C", "relative_humidity": "relative humidity, %", "co2": "CO2, %"}
WORDS = {"temperature": "temperature", "relative_humidity": "humidity", "co2": "CO2"}


def beside_chart(
    told: Beside, limits: tuple[float | None, float | None] = (None, None), width: int = 640, first: int | None = None
) -> Any:
    """A chart (altair): measured daily means as dots with a line, the predicted ones as a dashed line with the range
    that the uncertain inputs leave open, and the limits.

    `limits` SI; `first`: day since 1970 from which the axis of dates goes, else the first measured one. The range of
    a dot is that of the mean of all days: a sensor's error is the same on each.
    """
    from nestwright.charts.declared import alt

    days = told.day.astype(int)
    begin = int(days[0]) if first is None else min(first, int(days[0]))
    calendar = Calendar.over(date(1970, 1, 1), float(begin), float(days[-1] + 1), plot_width(width))
    reach = (told.measured[1] - told.measured[0], told.measured[2] - told.measured[0])
    shift = (told.predicted[1] - told.predicted[0], told.predicted[2] - told.predicted[0])
    rows = []
    # a day that is left out breaks the line
    for day in range(int(days[0]), int(days[-1]) + 1):
        k = int(np.searchsorted(days, day))
        there = days[k] == day
        seen, guess = (
            (_unit(told, float(told.day_measured[k])), _unit(told, float(told.day_predicted[k])))
            if there
            else (math.nan, math.nan)
        )
        factor = 1.0 if told.quantity == "temperature" else 100.0
        rows.append(
            {
                "t": calendar.when(day + 0.5),
                "seen": short(seen),
                "seen_low": short(seen + reach[0] * factor),
                "seen_high": short(seen + reach[1] * factor),
                "guess": short(guess),
                "low": short(guess + shift[0] * factor),
                "high": short(guess + shift[1] * factor),
            }
        )
    ends = [_unit(told, end) for end in limits if end is not None]
    drawn = [row[name] for row in rows for name in ("seen_low", "seen_high", "seen", "guess", "low", "high")]
    known = [value for value in drawn if isinstance(value, float)]
    low, high = min(known), max(known)
    room = max((high - low) * 0.08, (LEAST_SPAN[told.quantity] - (high - low)) / 2)
    # a limit far away would press the curves flat: it is drawn where it is near
    near = [end for end in ends if low - (high - low + 2 * room) <= end <= high + (high - low + 2 * room)]
    domain = [
        min([low - room, *(end - room / 2 for end in near)]),
        max([high + room, *(end + room / 2 for end in near)]),
    ]
    scale = alt.Scale(domain=domain, nice=False, zero=False)
    axis = alt.Axis(title=TITLES[told.quantity], minExtent=46, titlePadding=6, tickCount=5)

    def y(field: str) -> Any:
        return alt.Y(f"{field}:Q", scale=scale, axis=axis)

    x, layers = calendar.x(alt), []
    chart = of_rows(alt, rows)
    if told.bounded:
        layers.append(
            chart.transform_filter("isValid(datum.low)")
            .mark_area(color=BAND_TINT, opacity=0.75, clip=True)
            .encode(x=x, y=y("low"), y2="high:Q")
        )
    if lone := _lone(rows):
        bars = of_rows(alt, lone)
        if told.bounded:
            layers.append(bars.mark_rule(strokeWidth=8, color=BAND_TINT).encode(x=x, y=y("low"), y2="high:Q"))
        stroke = bars.mark_point(shape="stroke", size=190, strokeWidth=2, color=MID_TINT, opacity=1)
        layers.append(stroke.encode(x=x, y=y("guess")))
    if told.known:
        layers.append(
            chart.mark_line(color=MID_TINT, strokeWidth=1.6, strokeDash=[7, 4], clip=True).encode(x=x, y=y("guess"))
        )
    if math.isfinite(reach[0]):
        layers.append(
            chart.mark_rule(color=INK, strokeWidth=1, opacity=0.45).encode(x=x, y=y("seen_low"), y2="seen_high:Q")
        )
    layers.append(chart.mark_line(color=INK, strokeWidth=1.2, clip=True).encode(x=x, y=y("seen")))
    layers.append(
        chart.transform_filter("isValid(datum.seen)")
        .mark_circle(color=INK, size=34, opacity=1)
        .encode(x=x, y=y("seen"))
    )
    span = [calendar.when(calendar.first), calendar.when(calendar.last)]
    for end in near:
        line = of_rows(alt, [{"t": t, "guess": short(end)} for t in span])
        layers.append(line.mark_line(color=MARK_TINT, strokeWidth=1.2, strokeDash=[2, 3]).encode(x=x, y=y("guess")))
    title = f"{told.chamber}: {WORDS[told.quantity]}, measured by logger {told.logger}"
    return headed(
        alt.layer(*layers).properties(width=calendar.width, height=HEIGHT), title, _lines(told, bool(near)), width
    )


def _lone(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Days with a prediction between two without: no line and no band reaches them."""
    known = [False, *(row["guess"] is not None for row in rows), False]
    return [row for k, row in enumerate(rows, 1) if known[k] and not known[k - 1] and not known[k + 1]]


def _lines(told: Beside, limited: bool) -> list[str]:
    lines = ["Dots: measured, mean of each day, with the range of 8 in 10 by the sensor's error."]
    if told.known:
        band = "; band: what the uncertain inputs leave open" if told.bounded else ""
        lines.append(f"Dashed: predicted over the same hours{band}.")
    else:
        lines.append("Nothing is predicted for it.")
    if limited:
        lines.append("Dotted: a limit.")
    return lines


def _unit(told: Beside, value: float) -> float:
    return value - CELSIUS if told.quantity == "temperature" else value * 100
