"""What a result hangs on: a bar for each unknown, its share of the variance with its interval."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import INK, QUIET, WIDTH, clean, configured
from nestwright.sensitivity import Explained, Share

__all__ = ["MOST", "explained_chart"]

MOST = 10
"""Bars; what follows is smaller."""
WHOLE, PART = "#b7d0ea", "#6c9ac4"


def explained_chart(result: Explained, words: Mapping[str, str]) -> Any:
    """A chart (altair). `words`: what an unknown is called; its name where it has none."""
    from nestwright.charts.declared import alt

    rows = [_row(one, words) for one in result.shares[:MOST]]
    if result.chance is not None:
        rows.append({"name": "chance", "whole": 100 * result.chance, "low": None, "high": None, "part": None})
    order = [row["name"] for row in rows]
    data = of_rows(alt, rows)
    y = alt.Y("name:N", sort=order, axis=alt.Axis(title=None, labelLimit=250, ticks=False, domain=False))
    most = max([10.0, *(row["high"] or row["whole"] for row in rows)])
    scale = alt.Scale(domain=[0, min(5 * -(-most // 5), 100)], clamp=True)
    x = alt.X("whole:Q", scale=scale, axis=alt.Axis(title="share of the variance, %", tickCount=5))
    designed = any(one.total is not None for one in result.shares)
    layers = [data.mark_bar(color=WHOLE, height=18).encode(y=y, x=x)]
    if designed:
        layers.append(data.mark_bar(color=PART, height=8).encode(y=y, x=alt.X("part:Q", scale=scale)))
    ruled = data.transform_filter("isValid(datum.low)")
    layers.append(ruled.mark_rule(color=INK, strokeWidth=1.5).encode(y=y, x=alt.X("low:Q", scale=scale), x2="high:Q"))
    layers.append(ruled.mark_tick(color=QUIET, height=10, thickness=1.5).encode(y=y, x=alt.X("high:Q", scale=scale)))
    told = "Pale: with all that it does beside others; dark: alone." if designed else "What goes once one is known."
    lines = [f"{told} Line: 95 % of repetitions.", f"{result.runs} runs."]
    chart = alt.layer(*layers).properties(width=WIDTH - 280, height=30 * len(rows))
    return configured(chart, f"{clean(result.subject, 24)}: {clean(result.result, 36)}", lines)


def _row(one: Share, words: Mapping[str, str]) -> dict[str, Any]:
    error = one.first_error if one.total_error is None else one.total_error
    return {
        "name": clean(words.get(one.name, one.name), 40),
        "whole": max(0.0, 100 * one.weight),
        "part": max(0.0, 100 * one.first),
        "low": max(0.0, 100 * (one.weight - error)),
        "high": min(100.0, 100 * (one.weight + error)),
    }
