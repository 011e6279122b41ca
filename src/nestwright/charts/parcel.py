"""A parcel's journey: outside and garden with the card's band, air, and heat of the packs, over the legs."""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import QUIET, TINTS, WIDTH, ZONES, clean, configured, number
from nestwright.parcel.results import Passage

__all__ = ["parcel_chart"]

MOST_POINTS = 240
LEFT = 90
"""px that axes and titles take."""
NAMES, TITLE = 12.0, 19.0
"""px of the letters of the legs' names and of the title."""
WIDE, NARROW = 0.95, 0.58
"""Width of a capital, m or w, and of another letter, in shares of its size; wider than most fonts have them."""
SHORTEST = 3
"""Letters below which a name is left out."""


def parcel_chart(passage: Passage, width: int = WIDTH) -> Any:
    """A chart (altair), `width` px wide: temperatures, oxygen and carbon dioxide, and W of the packs where there are
    some."""
    from nestwright.charts.declared import alt

    c = passage.course
    hours = c.time / 3600
    keep = np.unique(np.linspace(0, hours.size - 1, min(MOST_POINTS, hours.size)).astype(int))
    end = float(hours[-1])
    starts = [
        {"h": begin, "leg": fitting(name, (stop - begin) / end * (width - LEFT), NAMES)}
        for name, begin, stop in passage.legs
    ]
    x = alt.X("h:Q", scale=alt.Scale(domain=[0, end], nice=False), axis=alt.Axis(title=None))
    last = alt.X("h:Q", scale=alt.Scale(domain=[0, end], nice=False), axis=alt.Axis(title="hours from dispatch"))

    def rows(lines: dict[str, Any]) -> list[dict[str, Any]]:
        return [
            {"h": float(f"{hours[k]:.5g}"), "line": name, "v": float(f"{values[k]:.5g}")}
            for name, values in lines.items()
            for k in keep
        ]

    def panel(lines: dict[str, Any], title: str, height: int, colours: list[str], at: Any, names: bool) -> Any:
        dashes = [[1, 0], [6, 3], [2, 2], [8, 2, 2, 2]]
        domain = list(lines)
        # one legend of both, so that its strokes are dashed as the lines are
        legend = alt.Legend(title=None, orient="top", symbolSize=500, symbolStrokeWidth=2) if len(domain) > 1 else None
        drawn = (
            of_rows(alt, rows(lines))
            .mark_line(strokeWidth=2)
            .encode(
                x=at,
                y=alt.Y("v:Q", title=title, scale=alt.Scale(zero=False, nice=True)),
                color=alt.Color(
                    "line:N",
                    scale=alt.Scale(domain=domain, range=colours),
                    sort=domain,
                    legend=legend,
                ),
                strokeDash=alt.StrokeDash(
                    "line:N", scale=alt.Scale(domain=domain, range=dashes[: len(domain)]), sort=domain, legend=legend
                ),
            )
        )
        rule = of_rows(alt, starts[1:]).mark_rule(color=QUIET, strokeDash=[2, 3]).encode(x="h:Q")
        layers = [rule, drawn]
        if names:
            layers = [*_band(alt, passage), rule, drawn, _names(alt, starts)]
        drawn = alt.layer(*layers).resolve_scale(color="independent", strokeDash="independent")
        return drawn.properties(width=width - LEFT, height=height)

    packs = bool(np.abs(c.power).max() > 0)
    panels = [
        panel(
            {"garden": c.cup - 273.15, "box": c.box - 273.15, "outside": c.outside - 273.15},
            "temperature, °C",
            210,
            [ZONES[0], ZONES[1], ZONES[2]],
            x,
            True,
        ),
        panel(
            {"O2 at the garden": c.o2 * 100, "O2 in the box": c.box_o2 * 100, "CO2 at the garden": c.co2 * 100},
            "gas, %",
            130,
            [ZONES[0], ZONES[3], ZONES[1]],
            x if packs else last,
            False,
        ),
    ]
    if packs:
        heats = bool(c.power.max() > 0)
        title = "packs give, W" if heats else "packs take, W"
        panels.append(panel({title: np.abs(c.power)}, title, 90, [ZONES[1]], last, False))
    chart = alt.vconcat(*panels, spacing=12).resolve_scale(color="independent", strokeDash="independent")
    return configured(chart, fitting(passage.name, WIDTH, TITLE), _lines(passage))


def fitting(text: str, room: float, size: float) -> str:
    """A name on one line of at most `room` px in letters of `size` px, cut with dots; "" where next to nothing fits."""
    line, left, most = clean(text, 200), room, 0
    for letter in line:
        left -= size * (WIDE if letter.isupper() or letter in "mw@%" else NARROW)
        if left < 0:
            break
        most += 1
    if most == len(line):
        return line
    return clean(line, most) if most >= SHORTEST else ""


def _lines(passage: Passage) -> list[str]:
    first = passage.first_limit
    name = {"temperature": "temperature", "relative_humidity": "humidity", "co2": "CO2", "o2": "O2"}[first.quantity]
    word = "too low" if first.end == "low" else "too high"
    if first.first is None:
        told = f"Every limit of the garden holds; nearest: {name}."
    else:
        told = f"First limit to go: {name} {word}, after {number(first.first)} h."
    loss = passage.loss
    parts = [number(100 * v) for v in (loss.share, loss.share_low, loss.share_high)]
    return [told, f"Share of the garden lost: {parts[0]} % ({parts[1]} to {parts[2]} %). Tinted: the garden's band."]


def _band(alt: Any, passage: Passage) -> list[Any]:
    ends = {x.end: x.limit - 273.15 for x in passage.limits if x.quantity == "temperature"}
    if set(ends) != {"low", "high"}:
        return []
    mark = of_rows(alt, [ends]).mark_rect(color=TINTS["temperature"], opacity=0.6)
    return [mark.encode(y=alt.Y("low:Q"), y2=alt.Y2("high:Q"))]


def _names(alt: Any, starts: list[dict[str, Any]]) -> Any:
    chart = of_rows(alt, starts)
    return chart.mark_text(align="left", baseline="bottom", dx=2, dy=-4, fontSize=NAMES, color=QUIET).encode(
        x="h:Q", y=alt.YValue(0), text="leg:N"
    )
