"""What the garden will ask for and give back: fresh leaves and waste, g a day."""

from __future__ import annotations

from typing import Any

from nestwright.charts.dated import (
    MARK_TINT,
    Calendar,
    Ruler,
    band_layers,
    band_values,
    day_text,
    plot_width,
    rows,
    upright,
)
from nestwright.charts.lettering import headed, note, of_rows, wide
from nestwright.charts.theme import INK, clean
from nestwright.colony.results import Band, Forecast

__all__ = ["demand_chart"]

HEIGHT = 160
PANELS = (("leaf_fresh", "leaf need, fresh"), ("waste", "waste, wet"))


def demand_chart(forecast: Forecast, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: leaf demand and waste over the days to come, with the leaves given."""
    from nestwright.charts.declared import alt

    first = float(forecast.fit.days)
    calendar = Calendar.over(forecast.fit.start, first, first + forecast.horizon, plot_width(width))
    given = forecast.bands.get("leaf_given")
    shown = list(PANELS)
    asked = forecast.bands.get("leaf_fresh")
    if given is not None and asked is not None and given.unit != asked.unit:
        # Leaves told in another measure cannot stand on the same scale.
        shown.insert(1, ("leaf_given", "given"))
    panels = []
    for name, words in shown:
        on_top = given if name == "leaf_fresh" and len(shown) == len(PANELS) else None
        last = name == shown[-1][0]
        layers = _panel(alt, forecast, name, words, on_top, calendar, last)
        panels.append(alt.layer(*layers).properties(width=calendar.width, height=HEIGHT))
    lines = ["Band: 8 of 10 outcomes; dashed line: median. Leaf need: what the colony would take."]
    if given is not None and len(shown) == len(PANELS):
        lines.append("Thick line: what is given now, each day on average.")
    return headed(
        alt.vconcat(*panels, spacing=22), f"{clean(forecast.fit.colony, 50)}: leaf need and waste a day", lines, width
    )


def _panel(
    alt: Any, forecast: Forecast, name: str, words: str, given: Band | None, calendar: Calendar, last: bool
) -> list[Any]:
    band = forecast.bands.get(name)
    unit = clean(band.unit, 14) if band is not None and band.unit else "g/day"
    ruler = Ruler.over(band_values(band, given), f"{words}, {unit}", HEIGHT)
    x = calendar.x(alt, labels=last)
    layers = band_layers(alt, calendar, ruler, rows(calendar, band), x=x, dash=True)
    levels = rows(calendar, given)
    if levels:
        data = of_rows(alt, [{"t": r["t"], "given": r["mid"]} for r in levels])
        layers.append(
            data.mark_line(color=MARK_TINT, strokeWidth=3, interpolate="step-after", clip=True).encode(
                x=x, y=ruler.y(alt, "given", ruler.title)
            )
        )
        level = next((r["mid"] for r in levels if r["mid"] is not None), None)
        if level is not None:
            y = ruler.place(level)
            layers += note(alt, "given", 6, y - 11 if y > 24 else y + 12, tint=MARK_TINT, weight=600)
    short = next((d for d in forecast.dates if d.name == "leaves_short"), None)
    if name == "leaf_fresh" and short is not None and short.middle is not None and calendar.holds(short.middle):
        at = calendar.place(short.middle)
        text = f"no longer enough, {day_text(calendar, short.middle)}"
        right = at + wide(text) + 8 > calendar.width + 20
        layers.append(upright(alt, at, 0, HEIGHT, tint=INK, dash=True))
        layers += note(alt, text, at - 5 if right else at + 5, -10, align="right" if right else "left")
    return layers
