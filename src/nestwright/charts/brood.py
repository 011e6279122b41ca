"""The brood on its way: eggs, larvae, pupae, and the workers that come of them, one above the other."""

from __future__ import annotations

from typing import Any

from nestwright.charts.dated import (
    Calendar,
    Ruler,
    band_layers,
    band_values,
    day_text,
    plot_width,
    rows,
    upright,
)
from nestwright.charts.lettering import fitted, headed, note, wide
from nestwright.charts.theme import INK, clean
from nestwright.colony.results import Forecast

__all__ = ["brood_chart"]

STAGES = ("eggs", "larvae", "pupae", "workers")
HEIGHT = 96


def brood_chart(forecast: Forecast, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: each stage of the brood over the days to come, each on its own scale."""
    from nestwright.charts.declared import alt

    first = float(forecast.fit.days)
    calendar = Calendar.over(forecast.fit.start, first, first + forecast.horizon, plot_width(width))
    shown = [s for s in STAGES if s in forecast.bands] or list(STAGES)
    panels = [
        alt.layer(*_stage(alt, forecast, stage, calendar, last=stage == shown[-1])).properties(
            width=calendar.width, height=HEIGHT
        )
        for stage in shown
    ]
    lines = [
        "From above: each stage becomes the next.",
        "Band: 8 of 10 outcomes; dashed line: median. Every panel has its own scale.",
    ]
    stacked = alt.vconcat(*panels, spacing=20)
    return headed(stacked, f"{clean(forecast.fit.colony, 50)}: the brood on its way", lines, width)


def _stage(alt: Any, forecast: Forecast, stage: str, calendar: Calendar, last: bool) -> list[Any]:
    band = forecast.bands.get(stage)
    ruler = Ruler.over(band_values(band), stage, HEIGHT, finest=1.0)
    layers = band_layers(alt, calendar, ruler, rows(calendar, band), x=calendar.x(alt, labels=last), dash=True)
    coming = next((d for d in forecast.dates if d.name == "first_workers"), None)
    if stage == "workers" and coming is not None and coming.middle is not None and calendar.holds(coming.middle):
        x = calendar.place(coming.middle)
        told = fitted(coming.what or "first workers born here", calendar.width - 70)
        text = f"{told}, {day_text(calendar, coming.middle)}"
        right = x + wide(text) + 8 > calendar.width + 20
        layers.append(upright(alt, x, 0, HEIGHT, tint=INK, dash=True))
        layers += note(alt, text, x - 5 if right else x + 5, 9, align="right" if right else "left")
    return layers
