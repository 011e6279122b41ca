"""A run over time: for each quantity the daily range and median of the zones that it matters for, with its limits."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import INK, QUIET, WIDTH, ZONES, clean, configured
from nestwright.climate.results import CELSIUS, DAY, YearProof

Array = NDArray[np.float64]

__all__ = ["year_chart"]

MOST_ZONES = 3
"""Zones in one panel; more cannot be told apart."""
MOST_SPANS = 370
"""Spans of time along a picture: a day each over a year."""
LEAST_FILLING = 0.02
"""A rise within one step by more than this share of the store's highest value is a filling; dew rises slower."""
LINES = (*ZONES, "#6e3d12", "#d0b068")
WEEK_TINT = "#ead9b8"


@dataclass(frozen=True)
class _Panel:
    quantity: str
    title: str
    unit: Callable[[Array], Array]
    height: int


PANELS = (
    _Panel("temperature", "temperature, °C", lambda v: v - CELSIUS, 150),
    _Panel("relative_humidity", "relative humidity, %", lambda v: v * 100, 150),
    _Panel("co2", "CO2, %", lambda v: v * 100, 110),
    _Panel("water", "water left, g", lambda v: v * 1000, 90),
)


def year_chart(result: YearProof) -> Any:
    """A chart (altair): temperature, humidity, CO2 and water store over the run, with the worst weeks marked.

    Each zone is drawn by its lowest and highest value and its median in each span of a day (an hour or more in a
    short run). A panel shows the zones that have a limit there, those nearest to it first, and the room.
    """
    from nestwright.charts.declared import alt

    air = dict.fromkeys(z for panel in PANELS if panel.quantity != "water" for z in _zones(result, panel.quantity))
    tints = {zone: LINES[k % len(LINES)] for k, zone in enumerate(air)}
    panels = [made for panel in PANELS if (made := _panel(alt, result, panel, tints)) is not None]
    chart = alt.vconcat(*panels, spacing=14).resolve_scale(color="independent", strokeDash="independent")
    proof = result.mean
    held = "every limit held" if proof.holds else "not every limit held"
    first = proof.first_limit
    lines = [f"In {clean(proof.room, 50)}: {held}."]
    if first is not None:
        share = first.hours_held_share
        text = "" if share is None else f", held {_share(share)} of the hours"
        lines.append(f"First to go: {clean(first.name, 50)}{text}.")
    lines.append("Line: median of a day; band: its lowest to highest; grey: the room; dashed: limits.")
    if any(_fillings(result.time, store) for store in result.series.get("water", {}).values()):
        lines.append("Small triangles: water filled in.")
    if result.worst_weeks:
        lines.append("Ochre: the weeks with the most hours outside a limit.")
    return configured(chart, f"{clean(proof.habitat, 40)}, revision {clean(proof.revision, 10)}, over time", lines)


def _share(share: float) -> str:
    return "all" if share == 1 else "none" if share == 0 else f"{min(max(share * 100, 0.1), 99.9):.1f} %"


def _zones(result: YearProof, quantity: str) -> list[str]:
    """The zones of a panel: those with a limit on its quantity, the nearest to it first, or the first few."""
    if quantity == "water":
        return list(result.series.get("water", {}))[:MOST_ZONES]
    limits = sorted((m for m in result.mean.limits if m.quantity == quantity), key=lambda m: m.scaled_margin)
    known = [n for n, s in result.series.items() if n not in ("room", "water") and quantity in s]
    named = list(dict.fromkeys(m.zone for m in limits if m.zone in known))
    return (named or known)[:MOST_ZONES]


def _spans(time: Array, values: Array, span: float) -> list[tuple[float, float, float, float]]:
    """(middle s, low, median, high) of each span of time that has a value."""
    of = np.minimum((time / span).astype(int), max(0, int(np.ceil(time[-1] / span)) - 1))
    edges = np.flatnonzero(np.diff(of)) + 1
    found = []
    for part, number in zip(np.split(values, edges), of[np.concatenate([[0], edges]).astype(int)], strict=True):
        kept = part[np.isfinite(part)]
        if len(kept):
            found.append(((number + 0.5) * span, float(kept.min()), float(np.median(kept)), float(kept.max())))
    return found


def _panel(alt: Any, result: YearProof, panel: _Panel, tints: dict[str, str]) -> Any | None:
    zones = _zones(result, panel.quantity)
    source = result.series.get("water", {}) if panel.quantity == "water" else None
    series = {z: source[z] if source is not None else result.series[z][panel.quantity] for z in zones}
    room = result.series.get("room", {}).get(panel.quantity)
    if not series and room is None:
        return None
    when, kind, axis = _clock(alt, result, last=panel is PANELS[-1])
    length = float(result.time[-1])
    span = max(DAY if length > 20 * DAY else 3600.0, DAY * np.ceil(length / DAY / MOST_SPANS))
    rows, names = [], [clean(z, 30) for z in zones]
    drawn = [*names, *(["room"] if room is not None else [])]
    # What comes later lies on top: the zone nearest to its limit over the others, the room under all.
    under = [*([("room", room)] if room is not None else []), *reversed(list(zip(names, series.values(), strict=True)))]
    for name, values in under:
        for t, low, middle, high in _spans(result.time, panel.unit(np.asarray(values)), span):
            rows.append({"t": when(t), "low": _short(low), "mid": _short(middle), "high": _short(high), "zone": name})
    shades = [LINES[k] if source is not None else tints[z] for k, z in enumerate(zones)]
    bands, edges = _limits(result, panel, dict(zip(zones, shades, strict=True)))
    x = alt.X("t", type=kind, axis=axis, scale=alt.Scale(type="utc") if kind == "temporal" else alt.Scale(nice=False))
    y = alt.Scale(domain=_domain(rows, edges, panel.quantity), nice=True)
    colour = alt.Color(
        "zone:N",
        scale=alt.Scale(domain=drawn, range=[*shades, "#a9a89f"][: len(drawn)]),
        legend=alt.Legend(
            title=None,
            orient="top",
            columns=4,
            symbolType="stroke",
            symbolStrokeWidth=3,
            symbolOpacity=1,
            offset=2,
            **({"values": names} if panel.quantity == "water" else {}),
        ),
    )
    layers = []
    weeks = [
        {"t": when(s), "t2": when(min(s + 7 * DAY, length))} for s in sorted({w.start for w in result.worst_weeks})
    ]
    if weeks:
        layers.append(of_rows(alt, weeks).mark_rect(color=WEEK_TINT, opacity=0.75).encode(x=x, x2="t2"))
    data = of_rows(alt, rows)
    y_low = alt.Y("low:Q", scale=y, axis=alt.Axis(title=panel.title, tickCount=5, titleAnchor="middle"))
    if panel.quantity != "water":
        layers.append(data.mark_area(opacity=0.3, clip=True).encode(x=x, y=y_low, y2="high:Q", color=colour))
    layers.append(
        data.mark_line(strokeWidth=1.3, clip=True).encode(
            x=x, y=alt.Y("mid:Q", scale=y, axis=alt.Axis(title=panel.title, tickCount=5)), color=colour
        )
    )
    if bands:
        tint = alt.Color("tint:N", scale=None, legend=None)
        layers.append(
            of_rows(alt, bands)
            .mark_rule(strokeDash=[6, 4], strokeWidth=1.4)
            .encode(y=alt.Y("limit:Q", scale=y), color=tint)
        )
    fills = [
        {"t": when(at), "g": _short(float(panel.unit(np.asarray(level)))), "zone": name}
        for name, values in (zip(names, series.values(), strict=True) if source is not None else ())
        for at, level in _fillings(result.time, np.asarray(values))
    ]
    if fills:
        layers.append(
            of_rows(alt, fills)
            .mark_point(shape="triangle-down", filled=True, size=26, opacity=1, yOffset=-5)
            .encode(x=x, y=alt.Y("g:Q", scale=y), color=colour)
        )
    return alt.layer(*layers).properties(width=WIDTH - 90, height=panel.height)


def _short(value: float) -> float:
    return float(f"{value:.4g}")


def _clock(alt: Any, result: YearProof, last: bool) -> tuple[Callable[[float], Any], str, Any]:
    """From seconds of the run to what stands on the time axis: dates where the run has them, days where not."""
    try:
        start = datetime.fromisoformat(result.start).replace(tzinfo=None) if result.start else None
    except ValueError:
        start = None
    look: dict[str, Any] = {"labels": last, "ticks": last, "grid": True, "title": None, "gridColor": "#e9e6dc"}
    if start is None:
        look["title"] = "days" if last else None
        return (lambda s: round(s / DAY, 3)), "quantitative", alt.Axis(**look, titleColor=QUIET)
    long = result.time[-1] > 80 * DAY
    axis = alt.Axis(**look, format="%b" if long else "%d %b", tickCount="month" if long else 8, labelFlush=False)
    return (lambda s: (start + timedelta(seconds=s)).isoformat(timespec="minutes") + "Z"), "temporal", axis


def _fillings(time: Array, store: Array) -> list[tuple[float, float]]:
    """(time s, store kg) after each sudden rise of a water body: it was filled."""
    top = float(np.nanmax(store, initial=0.0))
    at = np.flatnonzero(np.diff(store) > LEAST_FILLING * top) + 1
    return [(float(time[k]), float(store[k])) for k in at]


def _limits(result: YearProof, panel: _Panel, zones: dict[str, str]) -> tuple[list[dict[str, Any]], list[float]]:
    """The limits as lines, in the colour of their zone, or dark where several zones share one."""
    found: dict[float, set[str]] = {}
    for limit in result.mean.limits:
        if limit.quantity == panel.quantity and limit.zone in zones:
            for edge in (limit.low, limit.high):
                if edge is not None:
                    found.setdefault(float(np.round(panel.unit(np.asarray(edge)), 4)), set()).add(limit.zone)
    lines = [
        {"limit": edge, "tint": zones[next(iter(of))] if len(of) == 1 and len(zones) > 1 else INK}
        for edge, of in sorted(found.items())
    ]
    return lines, sorted(found)


def _domain(rows: list[dict[str, Any]], edges: list[float], quantity: str) -> list[float]:
    values = [r["low"] for r in rows] + [r["high"] for r in rows] + edges
    low, high = min(values, default=0.0), max(values, default=1.0)
    if quantity in ("water", "co2"):
        low = 0.0
    if quantity == "relative_humidity":
        high = max(high, 100.0)
    return [low, high if high > low else low + 1.0]
