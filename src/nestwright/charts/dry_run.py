"""A dry run over time: what the loggers read, what the design would have read, what the fitted build reads."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import WIDTH, ZONES, clean, configured
from nestwright.climate.dry_run_results import DryRun, Trace
from nestwright.climate.results import CELSIUS

Array = NDArray[np.float64]

__all__ = ["dry_run_chart"]

LINES = (*ZONES, "#6e3d12", "#d0b068")
MOST_ZONES = len(LINES)
MOST_POINTS = 220
"""Readings drawn of one channel; more lie over each other."""
CO2_TICKS = [500, 1000, 2000, 5000, 10_000, 20_000, 50_000, 100_000]


@dataclass(frozen=True)
class _Panel:
    quantity: str
    title: str
    unit: Callable[[Array], Array]
    height: int
    scale: str = "linear"


PANELS = (
    _Panel("temperature", "temperature, °C", lambda v: v - CELSIUS, 140),
    _Panel("relative_humidity", "relative humidity, %", lambda v: v * 100, 170),
    _Panel("co2", "CO2, ppm", lambda v: v * 1e6, 170, "log"),
)


def dry_run_chart(result: DryRun) -> Any:
    """A chart (altair): for each quantity the loggers' readings as dots, the fitted build as a line, the design dashed.

    Chambers are told apart by colour, in the order of the readings; both lines have the sensors' lasting errors in
    them, as fitted.
    """
    from nestwright.charts.declared import alt

    zones = list(dict.fromkeys(t.zone for t in result.traces))[:MOST_ZONES]
    drawn = [p for p in PANELS if any(t.quantity == p.quantity and t.zone in zones for t in result.traces)]
    panels = [_panel(alt, result, p, zones, p is drawn[-1]) for p in drawn]
    chart = alt.vconcat(*panels, spacing=14)
    word = result.verdict if result.sure else f"cannot tell; likeliest: {result.leaning}"
    lines = [f"{clean(word, 80)[:1].upper()}{clean(word, 80)[1:]}."]
    if result.cause:
        lines.append(f"Part: {clean(result.cause, 70)}.")
    lines.append("Dots: loggers. Line: the fitted build. Dashed: the design.")
    if result.releases:
        lines.append("Upright lines: CO2 let in.")
    return configured(chart, f"Dry run of {clean(result.habitat, 40)}, revision {clean(result.revision, 10)}", lines)


def _panel(alt: Any, result: DryRun, panel: _Panel, zones: list[str], last: bool) -> Any:
    traces = [t for t in result.traces if t.quantity == panel.quantity and t.zone in zones]
    names = [clean(z, 30) for z in zones]
    rows = [row for t in traces for row in _rows(t, panel)]
    y = alt.Scale(type=panel.scale, zero=False, nice=panel.scale == "linear")
    ticks = {"values": CO2_TICKS, "format": ",d"} if panel.quantity == "co2" else {"tickCount": 5}
    axis = alt.Axis(title=panel.title, **ticks)
    look = alt.Axis(title="hours" if last else None, labels=last, ticks=last, grid=True, gridColor="#e9e6dc")
    x = alt.X("h:Q", axis=look, scale=alt.Scale(domain=[0, _short(result.hours)], nice=False))
    colour = alt.Color(
        "zone:N",
        scale=alt.Scale(domain=names, range=list(LINES[: len(names)])),
        legend=alt.Legend(title=None, orient="top", columns=4, symbolType="stroke", symbolStrokeWidth=3, offset=2),
    )
    data = of_rows(alt, rows)
    layers = [
        data.mark_line(strokeWidth=1.2, strokeDash=[5, 4], clip=True).encode(
            x=x, y=alt.Y("designed:Q", scale=y, axis=axis), color=colour
        ),
        data.mark_line(strokeWidth=1.8, clip=True).encode(x=x, y=alt.Y("fitted:Q", scale=y, axis=axis), color=colour),
        data.mark_circle(size=9, opacity=0.55, clip=True).encode(
            x=x, y=alt.Y("measured:Q", scale=y, axis=axis), color=colour
        ),
    ]
    if panel.quantity == "co2" and result.releases:
        marks = [{"h": _short(time / 3600)} for _, time, _ in result.releases]
        layers.insert(0, of_rows(alt, marks).mark_rule(color="#a9a89f").encode(x=x))
    return alt.layer(*layers).properties(width=WIDTH - 90, height=panel.height)


def _rows(trace: Trace, panel: _Panel) -> list[dict[str, Any]]:
    """Points of one channel, thinned evenly."""
    n = len(trace.time)
    chosen = np.unique(np.linspace(0, n - 1, min(n, MOST_POINTS)).astype(int))
    values = {
        key: panel.unit(np.asarray(getattr(trace, key)))[chosen].tolist() for key in ("measured", "designed", "fitted")
    }
    zone = clean(trace.zone, 30)
    return [
        {"h": _short(t / 3600), "zone": zone, **{key: _short(column[k]) for key, column in values.items()}}
        for k, t in enumerate(trace.time[chosen].tolist())
    ]


def _short(value: float) -> float:
    return float(f"{value:.5g}")
