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
    plot_width,
    rows,
    short,
    today_layers,
    upright,
)
from nestwright.charts.lettering import fitted, flags, headed, note, once, wide
from nestwright.charts.placing import Sheet
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
    import altair as alt

    fit, end = forecast.fit, forecast.fit.days + forecast.horizon
    calendar = Calendar.over(fit.start, 0.0, float(end), plot_width(width))
    labels, missed = flags(
        ((calendar.place(d), what) for d, what in forecast.events if calendar.holds(d)), calendar.width
    )
    garden, above = _garden(alt, forecast, calendar)
    marks = [layer for flag in labels for layer in _flag(alt, flag, 220)]
    bare = sorted({round(calendar.place(d), 1) for d, _ in forecast.events if calendar.holds(d)})
    marks += [_tick(alt, x) for x in bare]
    upper = alt.layer(*garden, *marks).properties(width=calendar.width, height=220)
    lower = alt.layer(*_workers(alt, forecast, calendar)).properties(width=calendar.width, height=170)
    lines = [f"{clean(fit.species, 50)}: record of {fit.days} days, forecast of {forecast.horizon}."]
    lines.append("Band: 8 of 10 outcomes; line: median, dashed where forecast.")
    if any(p.kind in ("garden", "workers") for p in fit.points):
        lines.append("Round marks: what was counted or measured; open: guessed; bars: their error.")
    if missed:
        lines.append(f"Ticks without words: {missed} more event{'s' if missed > 1 else ''}.")
    if above:
        lines.append(f"Above the picture: {above}.")
    if forecast.survival < 0.995:
        lines.append(f"Chance that workers and garden live at the end: {number(100 * forecast.survival)} %.")
    stacked = alt.vconcat(upper, lower, spacing=30)
    return headed(stacked, f"{clean(fit.colony, 50)}: garden and workers", lines, width)


def _garden(alt: Any, forecast: Forecast, calendar: Calendar) -> tuple[list[Any], str]:
    past, ahead = forecast.fit.history.get("garden"), forecast.bands.get("garden")
    points = [p for p in forecast.fit.points if p.kind == "garden"]
    top = max([*band_values(past, ahead), *_point_values(points)], default=1.0)
    steps = _steps(forecast, calendar)
    shown = [s for s in steps if s[3] <= OVER * max(top, 1e-9)]
    above = ", ".join(f"{clean(n, 30)} ({_volume(v)})" for _, _, n, v in steps if (_, _, n, v) not in shown)
    litres = max([top, *(v for *_, v in shown)]) >= IN_LITRES
    factor, unit = (1 / LITRE, "L") if litres else (1.0, "mL")
    values = [*band_values(past, ahead, factor=factor), *(v * factor for v in _point_values(points))]
    ruler = Ruler.over([*values, *(v * factor for *_, v in shown)], f"garden, {unit}", 220)
    x = calendar.x(alt, labels=False)
    layers = _bands(alt, forecast, "garden", calendar, ruler, factor, x)
    layers += _points(alt, points, calendar, ruler, factor, x)
    layers += _housing(alt, shown, calendar, ruler, factor)
    return layers + today_layers(alt, calendar, forecast.fit.days, 220), above


def _workers(alt: Any, forecast: Forecast, calendar: Calendar) -> list[Any]:
    points = [p for p in forecast.fit.points if p.kind == "workers"]
    values = band_values(forecast.fit.history.get("workers"), forecast.bands.get("workers"))
    ruler = Ruler.over([*values, *_point_values(points)], "workers", 170)
    x = calendar.x(alt)
    layers = _bands(alt, forecast, "workers", calendar, ruler, 1.0, x)
    layers += _points(alt, points, calendar, ruler, 1.0, x)
    layers += today_layers(alt, calendar, forecast.fit.days, 170)
    at = calendar.place(forecast.fit.days)
    ahead = f"forecast from {day_text(calendar, forecast.fit.days)}"
    if at > wide("record") + 8:
        layers += note(alt, "record", at - 6, -11, align="right", tint=QUIET, slant=True)
    if calendar.width - at > wide(ahead) - 20:
        layers += note(alt, ahead, at + 6, -11, tint=QUIET, slant=True)
    return layers


def _bands(
    alt: Any, forecast: Forecast, kind: str, calendar: Calendar, ruler: Ruler, factor: float, x: Any
) -> list[Any]:
    past = rows(calendar, forecast.fit.history.get(kind), factor)
    ahead = rows(calendar, forecast.bands.get(kind), factor)
    layers = band_layers(alt, calendar, ruler, past, x=x, tint=PAST_TINT, line=INK)
    return layers + band_layers(alt, calendar, ruler, ahead, x=x, dash=True)


def _point_values(points: list[Point]) -> list[float]:
    return [v for p in points for v in (p.value, p.high) if math.isfinite(v)]


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
    barred = alt.Chart(alt.Data(values=[d for d in data if d["low"] is not None and d["high"] is not None]))
    fill = alt.condition("datum.open", alt.value(PAPER), alt.value(INK))
    return [
        barred.mark_rule(color=INK, strokeWidth=1.3, clip=True).encode(x=x, y=ruler.y(alt, "low"), y2="high:Q"),
        alt.Chart(alt.Data(values=data))
        .mark_circle(size=42, stroke=INK, strokeWidth=1.3, opacity=1)
        .encode(x=x, y=ruler.y(alt, "value"), color=fill),
    ]


def _volume(value: float) -> str:
    return f"{number(value / LITRE)} L" if value >= LITRE * 10 else f"{number(value, 3)} mL"


def _steps(forecast: Forecast, calendar: Calendar) -> list[tuple[float, float, str, float]]:
    """(from day, to day, name, mL) of each housing within the picture."""
    known = sorted((h for h in forecast.housing if math.isfinite(h[0]) and math.isfinite(h[2])), key=lambda h: h[0])
    ends = [*(h[0] for h in known[1:]), calendar.last]
    return [
        (max(day, calendar.first), min(end, calendar.last), name, volume)
        for (day, name, volume), end in zip(known, ends, strict=True)
        if end > calendar.first and day <= calendar.last and end > day
    ]


def _housing(
    alt: Any, steps: list[tuple[float, float, str, float]], calendar: Calendar, ruler: Ruler, factor: float
) -> list[Any]:
    layers: list[Any] = []
    sheet = Sheet((-20, -2, calendar.width + 20, ruler.height))
    placed = [(calendar.place(a), calendar.place(b), ruler.place(v * factor), name, v) for a, b, name, v in steps]
    levels = [(a, y - 2, b, y + 2) for a, b, y, _, _ in placed]
    one = once(alt)
    for k, (a, b, y, name, volume) in enumerate(placed):
        layers.append(one.mark_rule(x=round(a, 1), x2=round(b, 1), y=round(y, 1), color=MARK_TINT, strokeWidth=2.2))
        if k and abs(placed[k - 1][1] - a) < 0.1:
            layers.append(upright(alt, a, placed[k - 1][2], y, tint=MARK_TINT, dash=True))
        size = f", {_volume(volume)}"
        text = fitted(name, min(0.5 * calendar.width, 230) - wide(size)) + size
        long = wide(text)
        rest = [o for o in levels if o != levels[k]]
        starts = [a + 2 + long / 2, b - 2 - long / 2, min(a + 2, calendar.width + 18 - long) + long / 2]
        spots = [
            (sx, y + dy) for dy in (-10, 11, -24, 25, -38, 39, -52, 53) for sx in starts if sx - long / 2 >= a - 60
        ]
        spot = sheet.place((long, 14), spots, avoid=rest) or sheet.place((long, 14), spots)
        if spot is not None:
            layers += note(alt, text, spot[0] - long / 2, spot[1], tint=MARK_TINT)
    return layers


def _flag(alt: Any, flag: Any, height: int) -> list[Any]:
    top = -12 - LANE * flag.lane
    staff = upright(alt, flag.x, top + 2, height, tint=QUIET, dash=True)
    return [staff, *note(alt, flag.text, flag.text_x, top, align=flag.align)]


def _tick(alt: Any, x: float) -> Any:
    one = once(alt)
    return one.mark_point(shape="triangle-down", filled=True, size=55, color=MID_TINT, opacity=1, x=x, y=-3)
