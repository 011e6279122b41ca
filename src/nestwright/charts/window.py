"""The window: a map of room air, white where the habitat holds, tinted by the limit that goes first where not."""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.charts.contours import contour_lines, finer
from nestwright.charts.theme import INK, WIDTH, clean, configured, tints
from nestwright.climate.results import CELSIUS, WindowMap

__all__ = ["window_chart"]

LEVELS = {0: 3.0, 1: 1.4, 2: 0.8}
"""Lines of the worst scaled margin, and their width in px."""
FINE = 4
"""Strips to one step of the map: narrower than the outline that covers their ends."""
ROOM_BIN = (0.5, 2.0)
"""Room hours are gathered in bins of so many K and % RH."""
UNKNOWN = "no steady state found"
SIDES = {"cold": "too cold", "warm": "too warm", "dry": "too dry", "damp": "too damp"}


def window_chart(result: WindowMap) -> Any:
    """A chart (altair) of a window, with the room's hours over it when it has them."""
    import altair as alt

    t, h = result.temperature - CELSIUS, result.relative_humidity * 100
    x_scale = alt.Scale(domain=[float(t[0]), float(t[-1])], nice=False)
    y_scale = alt.Scale(domain=[float(h[0]), float(h[-1])], nice=False)
    x = alt.X("t:Q", scale=x_scale, axis=alt.Axis(title="room temperature, °C", grid=False))
    y = alt.Y("h:Q", scale=y_scale, axis=alt.Axis(title="room relative humidity, %", grid=False))
    tint = tints(result.limits) | {UNKNOWN: "#f4f2ec"}
    # As in the strips: between the points of the map each limit is linear, and the worst of them counts.
    worst = np.min([finer(m, FINE) for m in result.scaled_margin], axis=0)
    strips = _strips(result)
    used = [name for name in (*result.limits, UNKNOWN) if any(s["limit"] == clean(name) for s in strips)]
    layers = []
    if strips:
        legend = alt.Legend(title="first to fail", orient="bottom", columns=2, symbolType="square", symbolSize=220)
        colour = alt.Color(
            "limit:N",
            scale=alt.Scale(domain=[clean(n) for n in used], range=[tint[n] for n in used]),
            legend=legend,
        )
        layers.append(
            alt.Chart(alt.Data(values=strips))
            .mark_rect(strokeWidth=0)
            .encode(x=x, x2="t2:Q", y=y, y2="h2:Q", color=colour)
        )
    marks = _room_marks(result)
    if marks:
        layers.append(
            alt.Chart(alt.Data(values=marks))
            .mark_circle(color=INK, opacity=0.45, clip=True)
            .encode(x=x, y=y, size=alt.Size("hours:Q", scale=alt.Scale(range=[2, 60]), legend=None))
        )
    for level, width in LEVELS.items():
        lines = contour_lines(_finer(t), _finer(h), worst, level)
        points = [
            {"t": round(float(a), 3), "h": round(float(b), 3), "line": k, "at": n}
            for k, line in enumerate(lines)
            for n, (a, b) in enumerate(line)
        ]
        if points:
            layers.append(
                alt.Chart(alt.Data(values=points))
                .mark_line(color=INK, strokeWidth=width, clip=True, strokeJoin="round")
                .encode(x=x, y=y, detail="line:N", order="at:Q")
            )
    layers += _side_labels(alt, result)
    if not layers or not (strips or marks):
        corner = [{"t": float(t[0]), "h": float(h[0])}]
        layers.insert(0, alt.Chart(alt.Data(values=corner)).mark_point(opacity=0).encode(x=x, y=y))
    chart = alt.layer(*layers).properties(width=WIDTH - 80, height=430)
    return configured(
        chart, f"Window of {clean(result.habitat, 36)}, revision {clean(result.revision, 10)}", _below(result, used)
    )


def _finer(axis: Any) -> Any:
    return np.linspace(axis[0], axis[-1], (len(axis) - 1) * FINE + 1)


def _below(result: WindowMap, used: list[str]) -> list[str]:
    holds = float((result.worst >= 0).mean())
    lines = ["No room air on this map holds every limit."] if holds == 0 else []
    if result.share_inside is not None:
        lines.append(f"{_share(result.share_inside)} of the hours of {clean(result.room, 40)} lie inside (dots).")
    inner = [str(level) for level in LEVELS if level and np.nanmax(result.worst, initial=-np.inf) > level]
    thin = f"; thin: margin {' and '.join(inner)} (in tolerances)" if inner else ""
    lines.append(f"White: every limit held. Bold line: margin 0{thin}.")
    never = [name for name in result.limits if name not in used]
    text = "Never the first to fail here: " + ", ".join(clean(n, 30) for n in never) if never else ""
    while text:
        cut = len(text) if len(text) <= 88 else text.rfind(", ", 0, 88) + 1 or 88
        lines.append(text[:cut])
        text = text[cut:].strip()
    return lines


def _share(share: float) -> str:
    """A share in words that never round up to all nor down to none."""
    return "All" if share == 1 else "None" if share == 0 else f"{min(max(share * 100, 0.1), 99.9):.1f} %"


def _strips(result: WindowMap) -> list[dict[str, Any]]:
    """The failing part as strips along temperature, one limit each; neighbours share an edge."""
    margins = np.array([finer(m, FINE) for m in result.scaled_margin])
    first, worst = margins.argmin(axis=0), margins.min(axis=0)
    t = np.linspace(result.temperature[0], result.temperature[-1], first.shape[0]) - CELSIUS
    h = np.linspace(result.relative_humidity[0], result.relative_humidity[-1], first.shape[1]) * 100
    half_t, half_h = (t[1] - t[0]) / 2, (h[1] - h[0]) / 2
    found = []
    for j, damp in enumerate(h):
        kind = np.where(worst[:, j] < 0, first[:, j], -1)
        kind[~np.isfinite(worst[:, j])] = len(result.limits)
        ends = np.flatnonzero(np.diff(kind)) + 1
        for a, b in zip([0, *ends], [*ends, len(kind)], strict=True):
            if kind[a] >= 0:
                # The strip reaches a little under the next one, so that no seam shows between them.
                found.append(
                    {
                        "limit": clean((*result.limits, UNKNOWN)[kind[a]]),
                        "t": round(float(max(t[a] - half_t, t[0])), 3),
                        "t2": round(float(min(t[b - 1] + half_t, t[-1])), 3),
                        "h": round(float(max(damp - half_h, h[0])), 3),
                        "h2": round(float(min(damp + 1.6 * half_h, h[-1])), 3),
                    }
                )
    return found


def _room_marks(result: WindowMap) -> list[dict[str, float]]:
    if not len(result.room_temperature):
        return []
    t = np.rint((result.room_temperature - CELSIUS) / ROOM_BIN[0]).astype(int)
    h = np.rint(result.room_relative_humidity * 100 / ROOM_BIN[1]).astype(int)
    places, counts = np.unique(np.stack([t, h]), axis=1, return_counts=True)
    low, high = (float(result.temperature[k]) - CELSIUS for k in (0, -1))
    dry, damp = (float(result.relative_humidity[k]) * 100 for k in (0, -1))
    marks = [
        {"t": float(a * ROOM_BIN[0]), "h": float(b * ROOM_BIN[1]), "hours": int(n)}
        for (a, b), n in zip(places.T, counts, strict=True)
    ]
    return [m for m in marks if low <= m["t"] <= high and dry <= m["h"] <= damp]


def _side_labels(alt: Any, result: WindowMap) -> list[Any]:
    """What ends the window, written along the side at which it does."""
    width, height = WIDTH - 80, 430
    places = {
        "cold": (14, height / 2, 270),
        "warm": (width - 14, height / 2, 90),
        "dry": (width / 2, height - 14, 0),
        "damp": (width / 2, 14, 0),
    }
    labels = []
    for side, (px, py, angle) in places.items():
        limit = result.ends.get(side)
        if limit:
            text = [{"text": f"{SIDES[side]}: {clean(limit, 44)}"}]
            labels.append(
                alt.Chart(alt.Data(values=text))
                .mark_text(angle=angle, fontStyle="italic", color=INK)
                .encode(x=alt.value(px), y=alt.value(py), text="text:N")
            )
    return labels
