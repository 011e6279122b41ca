"""Garden and workers over the record and the days to come, with what holds the garden and what happened to it."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.dated import (
    MARK_TINT,
    MID_TINT,
    Calendar,
    Ruler,
    band_layers,
    band_values,
    day_text,
    level,
    plot_width,
    rows,
    short,
    today_layers,
    upright,
)
from nestwright.charts.lettering import Flag, count_words, fitted, flags, headed, note, of_rows, once, wide
from nestwright.charts.placing import Box, Sheet
from nestwright.charts.theme import INK, PAPER, QUIET, clean, number
from nestwright.colony.results import Forecast, Point

__all__ = ["growth_chart"]

OVER = 4.0
"""Housing larger than so many times the garden's highest value is told, not drawn: it would flatten the garden."""
PAST_TINT = "#c9c6ba"
LANE = 17
LITRE = 1000.0  # mL
IN_LITRES = 20_000.0
"""A garden larger than so many mL is told in litres."""
GUESSES = ("guess", "band", "fill")
"""Ways of having a value that are drawn as open marks; the others count or measure."""


def growth_chart(forecast: Forecast, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: garden volume above, workers below, on one axis of dates.

    Band: 10 to 90 % of outcomes, line: median (solid over the record, dashed after it). Points carry their error;
    steps are what holds the garden, each named; events are marked above.
    """
    from nestwright.charts.declared import alt

    fit, end = forecast.fit, forecast.fit.days + forecast.horizon
    calendar = Calendar.over(fit.start, 0.0, float(end), plot_width(width))
    labels, missed = flags(
        ((calendar.place(d), what) for d, what in forecast.events if calendar.holds(d)), calendar.width
    )
    garden, above, bent = _garden(alt, forecast, calendar)
    staffs = [upright(alt, f.x, 2 - _up(f), 220, dash=True) for f in labels]
    marks = [layer for f in labels for layer in note(alt, f.text, f.text_x, -_up(f), align=f.align)]
    bare = sorted({round(calendar.place(d), 1) for d, _ in forecast.events if calendar.holds(d)})
    marks += [_tick(alt, x) for x in bare]
    upper = alt.layer(*staffs, *garden, *marks).properties(width=calendar.width, height=220)
    workers, bent_too = _workers(alt, forecast, calendar)
    lower = alt.layer(*workers).properties(width=calendar.width, height=170)
    lines = [f"{clean(fit.species, 50)}: record of {fit.days} days, forecast of {forecast.horizon}."]
    lines.append("Band: 8 of 10 outcomes; line: median, dashed ahead.")
    if any(p.kind in ("garden", "workers") for p in fit.points):
        lines.append("Dots: measured or counted; rings: guessed; bars: error.")
    if bent or bent_too:
        lines.append("Scales by factors: equal heights are equal ratios, not equal amounts.")
    if missed:
        lines.append(f"Ticks without words: {missed} more event{'s' if missed > 1 else ''}.")
    if above:
        lines.append(f"Above the picture: {above}.")
    if forecast.survival < 0.995:
        lines.append(f"Workers and garden live to the end {count_words(forecast.survival)}.")
    stacked = alt.vconcat(upper, lower, spacing=10)
    return headed(stacked, f"{clean(fit.colony, 50)}: garden and workers", lines, width)


def _garden(alt: Any, forecast: Forecast, calendar: Calendar) -> tuple[list[Any], str, bool]:
    past, ahead = forecast.fit.history.get("garden"), forecast.bands.get("garden")
    points = [p for p in forecast.fit.points if p.kind == "garden"]
    top = max([*band_values(past, ahead), *_point_values(points)], default=1.0)
    steps = _steps(forecast, calendar)
    shown = [s for s in steps if s[3] <= OVER * max(top, 1e-9)]
    hidden = [s for s in steps if s not in shown]
    above = ", ".join(f"{clean(n, 30)} ({_volume(v)})" for *_, n, v in hidden)
    litres = max([top, *(v for *_, v in shown)]) >= IN_LITRES
    factor, unit = (1 / LITRE, "L") if litres else (1.0, "mL")
    values = [*band_values(past, ahead, factor=factor), *(v * factor for v in _point_values(points))]
    ruler = Ruler.over([*values, *(v * factor for *_, v in shown)], f"garden, {unit}", 220)
    x = calendar.x(alt, labels=False)
    layers = _bands(alt, forecast, "garden", calendar, ruler, factor, x)
    layers += _points(alt, points, calendar, ruler, factor, x)
    layers += today_layers(alt, calendar, forecast.fit.days, 220)
    return layers + _housing(alt, forecast, shown, calendar, ruler, factor), above, ruler.factors


def _workers(alt: Any, forecast: Forecast, calendar: Calendar) -> tuple[list[Any], bool]:
    points = [p for p in forecast.fit.points if p.kind == "workers"]
    values = band_values(forecast.fit.history.get("workers"), forecast.bands.get("workers"))
    ruler = Ruler.over([*values, *_point_values(points)], "workers", 170, finest=1.0)
    x = calendar.x(alt)
    layers = _bands(alt, forecast, "workers", calendar, ruler, 1.0, x)
    layers += _points(alt, points, calendar, ruler, 1.0, x)
    layers += today_layers(alt, calendar, forecast.fit.days, 170)
    at = calendar.place(forecast.fit.days)
    beyond = calendar.width - at + 20
    longer = f"forecast from {day_text(calendar, forecast.fit.days)}"
    ahead = longer if beyond > wide(longer) + 8 else "forecast"
    if at > wide("record") + 8:
        layers += note(alt, "record", at - 6, -11, align="right", tint=QUIET, slant=True)
    if beyond > wide(ahead) + 8:
        layers += note(alt, ahead, at + 6, -11, tint=QUIET, slant=True)
    return layers, ruler.factors


def _bands(
    alt: Any, forecast: Forecast, kind: str, calendar: Calendar, ruler: Ruler, factor: float, x: Any
) -> list[Any]:
    past = rows(calendar, forecast.fit.history.get(kind), factor)
    ahead = rows(calendar, forecast.bands.get(kind), factor)
    layers = band_layers(alt, calendar, ruler, past, x=x, tint=PAST_TINT, line=INK)
    return layers + band_layers(alt, calendar, ruler, ahead, x=x, dash=True)


def _point_values(points: list[Point]) -> list[float]:
    return [v for p in points for v in (p.value, p.high, max(p.low, 0.5 * p.value)) if math.isfinite(v)]


def _points(alt: Any, points: list[Point], calendar: Calendar, ruler: Ruler, factor: float, x: Any) -> list[Any]:
    data = [
        {
            "t": calendar.when(p.day),
            "value": short(p.value * factor),
            "low": short(p.low * factor),
            "high": short(p.high * factor),
            "open": p.how in GUESSES,
        }
        for p in points
        if math.isfinite(p.value) and calendar.holds(p.day)
    ]
    if not data:
        return []
    barred = of_rows(alt, [d for d in data if d["low"] is not None and d["high"] is not None])
    fill = alt.condition("datum.open", alt.value(PAPER), alt.value(INK))
    return [
        barred.mark_rule(color=INK, strokeWidth=1.3, clip=True).encode(x=x, y=ruler.y(alt, "low"), y2="high:Q"),
        of_rows(alt, data)
        .mark_circle(size=42, stroke=INK, strokeWidth=1.3, opacity=1)
        .encode(x=x, y=ruler.y(alt, "value"), color=fill),
    ]


def _volume(value: float) -> str:
    return f"{number(value / LITRE)} L" if value >= LITRE * 10 else f"{number(value, 3)} mL"


def _steps(forecast: Forecast, calendar: Calendar) -> list[tuple[float, float, str, float]]:
    """(from day, to day, name, mL) of each housing within the picture."""
    known = sorted((h for h in forecast.housing if math.isfinite(h[0]) and math.isfinite(h[2])), key=lambda h: h[0])
    ends = [*(h[0] for h in known[1:]), calendar.last][: len(known)]
    return [
        (max(day, calendar.first), min(end, calendar.last), name, volume)
        for (day, name, volume), end in zip(known, ends, strict=True)
        if end > calendar.first and day <= calendar.last and end > day
    ]


def _housing(
    alt: Any,
    forecast: Forecast,
    steps: list[tuple[float, float, str, float]],
    calendar: Calendar,
    ruler: Ruler,
    factor: float,
) -> list[Any]:
    layers: list[Any] = []
    sheet = Sheet((-20, -2, calendar.width + 20, ruler.height))
    placed = [(calendar.place(a), calendar.place(b), ruler.place(v * factor), name, v) for a, b, name, v in steps]
    levels = [(a, y - 2, b, y + 2) for a, b, y, _, _ in placed]
    data = _data_boxes(forecast, calendar, ruler, factor)
    for k, (a, b, y, name, volume) in enumerate(placed):
        layers.append(level(alt, a, b, y, tint=MARK_TINT, thick=2.4))
        if k and abs(placed[k - 1][1] - a) < 0.1:
            layers.append(upright(alt, a, placed[k - 1][2], y, tint=MARK_TINT, dash=True))
        rest = [o for o in levels if o != levels[k]]
        layers += _named(alt, sheet, (a, b, y), name, _volume(volume), rest, data)
    return layers


def _named(
    alt: Any, sheet: Sheet, step: tuple[float, float, float], name: str, size: str, rest: list[Box], data: list[Box]
) -> list[Any]:  # fmt: skip
    """The name of a step, near its line: clear of the data, in one line or two, where that can be had."""
    a, b, y = step
    room = min(0.66 * sheet.limits[2], 260.0)
    one = [f"{fitted(name, room - wide(size) - 12)}, {size}"]
    two = [fitted(name, 0.5 * room), size]
    if size in name:
        one, two = [fitted(name, room)], [fitted(name, 0.5 * room)]
    clear = [*rest, *data]
    for lines, avoid, reach in ((one, clear, 13), (two, clear, 25), (one, clear, 49), (one, rest, 49), (one, [], 49)):
        long, tall = max(wide(t) for t in lines), 14.0 * len(lines)
        near = 3 + tall / 2
        middles = [a + 2 + long / 2, a - 5 - long / 2, b - 2 - long / 2, min(a, sheet.limits[2] - 2 - long) + long / 2]
        spots = [(middles[0], y - near), (middles[0], y + near), (middles[1], y)]
        spots += [(x, y + s * (near + far)) for far in range(0, reach, 4) for s in (-1, 1) for x in middles]
        spot = sheet.place((long, tall), spots, avoid=avoid)
        if spot is not None:
            left, top = spot[0] - long / 2, spot[1] - 7.0 * (len(lines) - 1)
            return [m for k, t in enumerate(lines) for m in note(alt, t, left, top + 14 * k, tint=MARK_TINT)]
    return []


def _data_boxes(forecast: Forecast, calendar: Calendar, ruler: Ruler, factor: float) -> list[Box]:
    """Where band and points of the garden lie, px."""
    boxes: list[Box] = []
    for band in (forecast.fit.history.get("garden"), forecast.bands.get("garden")):
        row = [] if band is None else list(zip(band.day, band.low, band.high, strict=True))
        for day, low, high in row[:: max(1, len(row) // 60)]:
            if math.isfinite(day + low + high):
                x = calendar.place(float(day))
                boxes.append((x - 2, ruler.place(high * factor), x + 2, ruler.place(low * factor)))
    for p in forecast.fit.points:
        if p.kind == "garden" and math.isfinite(p.value) and math.isfinite(p.low + p.high):
            x = calendar.place(p.day)
            boxes.append((x - 4, ruler.place(p.high * factor) - 2, x + 4, ruler.place(p.low * factor) + 2))
    return boxes


def _up(flag: Flag) -> float:
    """How far above the picture a label stands, px."""
    return 12.0 + LANE * flag.lane


def _tick(alt: Any, x: float) -> Any:
    one = once(alt)
    return one.mark_point(shape="triangle-down", filled=True, size=55, color=MID_TINT, opacity=1, x=x, y=-3)
