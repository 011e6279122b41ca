"""The window: a map of room air, white where the habitat holds, tinted by the limit that goes first where not."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.charts.contours import contour_lines, finer
from nestwright.charts.lettering import headed, of_rows
from nestwright.charts.regions import label_spots
from nestwright.charts.theme import INK, PAPER, WIDTH, clean, configured, tints
from nestwright.climate.results import CELSIUS, WindowMap

__all__ = ["window_chart"]

Array = NDArray[np.float64]

LEVELS = {0: 3.0, 1: 1.4, 2: 0.8}
"""Lines of the worst scaled margin, and their width in px."""
FINE = 4
"""Strips to one step of the map: narrower than the outline that covers their ends."""
ROOM_BIN = (0.5, 2.0)
"""Room hours are gathered in bins of so many K and % RH."""
SIDES = {
    "cold": "too cold",
    "warm": "too warm",
    "dry": "too dry",
    "damp": "too damp",
    "everywhere": "nearest to holding",
}
MARGINS, HEIGHT = 80, 430
"""px beside the plot, and most of its height."""
LINE = 84
"""Letters of a line under the title of a picture as wide as a page."""
UNKNOWN, UNKNOWN_TINT = "no steady state found", "#6f736c"


def window_chart(result: WindowMap, width: int = WIDTH) -> Any:
    """A chart (altair) of a window, `width` px wide, with the room's hours over it when it has them.

    A letter, and the limit's name where it fits, stands in each part that a limit ends first, so that the map can
    be read without its colours. Where the computation found no steady air the map says so.
    """
    from nestwright.charts.declared import alt

    t, h = result.temperature - CELSIUS, result.relative_humidity * 100
    fine_t, fine_h = (np.linspace(v[0], v[-1], (len(v) - 1) * FINE + 1) for v in (t, h))
    kind, worst = _first_to_fail(result)
    x_scale = alt.Scale(domain=[float(t[0]), float(t[-1])], nice=False)
    y_scale = alt.Scale(domain=[float(h[0]), float(h[-1])], nice=False)
    x = alt.X("t:Q", scale=x_scale, axis=alt.Axis(title="room temperature, °C", grid=False))
    y = alt.Y("h:Q", scale=y_scale, axis=alt.Axis(title="room relative humidity, %", grid=False))
    names = [clean(n, 44) for n in result.limits] + [UNKNOWN]
    tint = [*tints(result.limits).values(), UNKNOWN_TINT]
    used = [k for k in range(len(names)) if (kind == k).any()]
    lettered = {k: f"{_letter(n)}  {names[k]}" for n, k in enumerate(used)}
    layers = []
    if used:
        legend = alt.Legend(
            title="first to fail", orient="bottom", columns=2 if width == WIDTH else 1, symbolType="square",
            symbolSize=220, labelLimit=290,
        )  # fmt: skip
        shade = alt.Scale(domain=list(lettered.values()), range=[tint[k] for k in used])
        layers.append(
            of_rows(alt, _strips(kind, fine_t, fine_h, lettered))
            .mark_rect(strokeWidth=0)
            .encode(x=x, x2="t2:Q", y=y, y2="h2:Q", color=alt.Color("limit:N", scale=shade, legend=legend))
        )
    marks = _room_marks(result)
    if marks:
        layers.append(
            of_rows(alt, marks)
            .mark_circle(color=INK, opacity=0.45, clip=True)
            .encode(x=x, y=y, size=alt.Size("hours:Q", scale=alt.Scale(range=[2, 60]), legend=None))
        )
    for level, thick in LEVELS.items():
        points = [
            {"t": round(float(a), 3), "h": round(float(b), 3), "line": k, "at": n}
            for k, line in enumerate(contour_lines(fine_t, fine_h, worst, level))
            for n, (a, b) in enumerate(line)
        ]
        if points:
            layers.append(
                of_rows(alt, points)
                .mark_line(color=INK, strokeWidth=thick, clip=True, strokeJoin="round")
                .encode(x=x, y=y, detail="line:N", order="at:Q")
            )
    plot = (width - MARGINS, min(HEIGHT, width))
    layers += _region_labels(alt, kind, lettered, tint, plot)
    if not used and not marks:
        corner = [{"t": float(t[0]), "h": float(h[0])}]
        layers.insert(0, of_rows(alt, corner).mark_point(opacity=0).encode(x=x, y=y))
    chart = alt.layer(*layers).properties(width=plot[0], height=plot[1])
    title = f"Window of {clean(result.habitat, 36)}, revision {clean(result.revision, 10)}"
    lines = _below(result, used)
    return configured(chart, title, lines) if width == WIDTH else headed(chart, title, lines, width)


def _first_to_fail(result: WindowMap) -> tuple[NDArray[np.int64], Array]:
    """On the finer grid: the limit that fails first (-1 none, their number where nothing is known), worst margin."""
    margins = result.scaled_margin
    if result.converged_share < 1:
        # A point without a steady state has the same margin, a token, for every limit.
        token = (np.ptp(margins, axis=0) == 0) & (margins[0] < 0)
        margins = np.where(token, np.nan, margins)
    fine = np.array([finer(m, FINE) for m in margins])
    worst = fine.min(axis=0)
    unknown = ~np.isfinite(worst)
    first = np.where(np.isnan(fine), np.inf, fine).argmin(axis=0)
    return np.where(unknown, len(result.limits), np.where(worst < 0, first, -1)), worst


def _below(result: WindowMap, used: list[int]) -> list[str]:
    lines = ["No room air on this map holds every limit."] if not (result.worst >= 0).any() else []
    if result.share_inside is not None:
        lines.append(f"{_share(result.share_inside)} of the hours of {clean(result.room, 40)} lie inside (dots).")
    inner = [str(level) for level in LEVELS if level and np.nanmax(result.worst, initial=-np.inf) > level]
    thin = f"; thin: margin {' and '.join(inner)} (in tolerances)" if inner else ""
    lines.append(f"White: every limit held. Bold line: margin 0{thin}.")
    ends = [f"{SIDES[side]}: {clean(name, 44)}" for side, name in result.ends.items() if name and side in SIDES]
    if ends:
        lines += _wrapped("Ends it – ", ends, "; ")
    never = [clean(n, 44) for k, n in enumerate(result.limits) if k not in used]
    if never:
        lines += _wrapped("Never the first to fail here: ", never, "; ")
    if result.converged_share < 1:
        lines.append(f"Steady air was found at {_share(result.converged_share).lower()} of the points.")
    return lines


def _wrapped(opening: str, items: list[str], between: str) -> list[str]:
    """The items in lines that fit the picture's width, none of them broken."""
    lines = [opening]
    for k, item in enumerate(items):
        text = item + (between if k < len(items) - 1 else ".")
        if len(lines[-1]) + len(text.rstrip()) > LINE and lines[-1] != opening:
            lines.append("")
        lines[-1] += text
    return [line.strip() for line in lines]


def _share(share: float) -> str:
    """A share in words that never round up to all nor down to none."""
    return "All" if share == 1 else "None" if share == 0 else f"{min(max(share * 100, 0.1), 99.9):.1f} %"


def _letter(n: int) -> str:
    return chr(65 + n) if n < 26 else f"{chr(64 + n // 26)}{chr(65 + n % 26)}"


def _strips(kind: NDArray[np.int64], t: Array, h: Array, lettered: dict[int, str]) -> list[dict[str, Any]]:
    """The failing part as strips along temperature, one limit each; equal ones above each other are joined."""
    half_t, half_h = (t[1] - t[0]) / 2, (h[1] - h[0]) / 2
    found: list[dict[str, Any]] = []
    below: dict[tuple[str, int, int], dict[str, Any]] = {}
    for j, damp in enumerate(h):
        here: dict[tuple[str, int, int], dict[str, Any]] = {}
        row = kind[:, j]
        ends = np.flatnonzero(np.diff(row)) + 1
        for a, b in zip([0, *ends], [*ends, len(row)], strict=True):
            if row[a] < 0:
                continue
            key = (lettered[int(row[a])], int(a), int(b))
            # The strip reaches a little under the next one, so that no seam shows between them.
            top = round(float(min(damp + 2.2 * half_h, h[-1])), 3)
            strip = here[key] = below.get(key) or {
                "limit": key[0],
                "t": round(float(max(t[a] - half_t, t[0])), 3),
                "t2": round(float(min(t[b - 1] + half_t, t[-1])), 3),
                "h": round(float(max(damp - half_h, h[0])), 3),
            }
            if key not in below:
                found.append(strip)
            strip["h2"] = top
        below = here
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


def _region_labels(
    alt: Any, kind: NDArray[np.int64], lettered: dict[int, str], tint: list[str], plot: tuple[int, int]
) -> list[Any]:
    """Each failing part by its letter and name, or by its letter where only that fits; an edge keeps dots off."""
    layers = []
    for k, name in lettered.items():
        letter = name.split()[0]
        ink = PAPER if tint[k] == UNKNOWN_TINT else INK
        for x, y, angle, text in label_spots(kind == k, plot, (name, letter)):
            base = of_rows(alt, [{"text": text}]).encode(x=alt.XValue(x), y=alt.YValue(y), text="text:N")
            look = {"angle": angle, "fontWeight": 600 if text == letter else 400}
            layers.append(base.mark_text(**look, stroke=tint[k], strokeWidth=4, color=tint[k]))
            layers.append(base.mark_text(**look, color=ink))
    return layers
