"""The limits of a proof, one row each: how far the value stands from the limit, and how surely."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import INK, LINE, QUIET, WIDTH, clean, configured, number
from nestwright.climate.digits import decimals_within
from nestwright.climate.results import UNITS, LimitResult, Proof, in_unit

__all__ = ["proof_chart", "value_text"]

REACH = 6.0
"""Margins, in tolerances, beyond which a mark stands at the edge with an arrow."""
ROW = 46
SIGNS = {"degC": "°C", "ratio": "× leaf water"}


def proof_chart(proof: Proof) -> Any:
    """A chart (altair) with a row for each limit, the smallest margin on top.

    The zero line is the limit; right of it the limit is held. The bar spans the margin at both ends of the value's
    interval, the dot is the value itself; the value and the band stand above the bar.
    """
    from nestwright.charts.declared import alt

    rows = [_row(limit) for limit in sorted(proof.limits, key=lambda m: m.scaled_margin)]
    for k, row in enumerate(rows):
        row["at"] = k
    height = ROW * max(1, len(rows))
    x = alt.X(
        "m:Q",
        scale=alt.Scale(domain=[-REACH, REACH], nice=False),
        axis=alt.Axis(title="margin, in tolerances of each quantity (0 = at the limit)", tickCount=7, gridColor=LINE),
    )
    y_scale = alt.Scale(domain=[0, max(1, len(rows))], reverse=True, nice=False)
    bar, text = (alt.Y(f"y{k}:Q", scale=y_scale, axis=None) for k in ("bar", "text"))
    for row in rows:
        row["ybar"], row["ytext"] = row["at"] + 0.72, row["at"] + 0.3
    base = of_rows(alt, rows or [{"m": 0, "ybar": 0.5, "ytext": 0.5}])
    zero = of_rows(alt, [{"m": 0}]).mark_rule(color=INK, strokeWidth=2).encode(x=x)
    layers = [zero]
    if rows:
        shade = alt.Color(
            "state:N",
            scale=alt.Scale(domain=list(STATES), range=list(STATES.values())),
            legend=alt.Legend(
                title=None, orient="bottom", columns=4, symbolType="circle", symbolSize=120, symbolOpacity=1, offset=8
            ),
        )
        layers += [
            base.mark_rule(strokeWidth=6, opacity=0.45, strokeCap="round").encode(
                x=alt.X("low:Q"), x2="high:Q", y=bar, color=shade
            ),
            base.transform_filter("datum.end == 0").mark_circle(size=120, opacity=1).encode(x=x, y=bar, color=shade),
            base.transform_filter("datum.end > 0")
            .mark_point(shape="triangle-right", size=130, filled=True, opacity=1)
            .encode(x=x, y=bar, color=shade),
            base.transform_filter("datum.end < 0")
            .mark_point(shape="triangle-left", size=130, filled=True, opacity=1)
            .encode(x=x, y=bar, color=shade),
            base.mark_text(align="left", fontWeight=600).encode(x=alt.XValue(6), y=text, text="name:N"),
            base.mark_text(align="right", color=QUIET).encode(x=alt.XValue(WIDTH - 26), y=text, text="value:N"),
        ]
    chart = alt.layer(*layers).properties(width=WIDTH - 20, height=height)
    verdict = "Every limit is held." if proof.holds else "Not every limit is held."
    return configured(
        chart,
        f"Limits of {clean(proof.habitat, 36)}, revision {clean(proof.revision, 10)}",
        [
            f"In {clean(proof.room, 60)}. {verdict}",
            "Bar: the margin over the uncertain inputs. Arrow: beyond the scale.",
        ],
    )


STATES = {"held": "#1f5a8c", "held, not surely": "#6c9ac4", "not held, not surely": "#d3a24a", "not held": "#8a5a10"}


def _row(limit: LimitResult) -> dict[str, Any]:
    state = ("held" if limit.held else "not held") + ("" if limit.sure else ", not surely")
    ends = [_scaled(limit, v) for v in (limit.low_value, limit.high_value)] + [limit.scaled_margin]
    ends = [e for e in ends if math.isfinite(e)] or [0.0]
    shown = limit.scaled_margin if math.isfinite(limit.scaled_margin) else 0.0
    return {
        "name": clean(limit.name, 40),
        "value": value_text(limit),
        "m": max(-REACH, min(REACH, shown)) * (0.985 if abs(shown) > REACH else 1),
        "low": max(-REACH, min(REACH, min(ends))),
        "high": max(-REACH, min(REACH, max(ends))),
        "end": 0 if abs(shown) <= REACH else int(math.copysign(1, shown)),
        "state": state,
    }


def _scaled(limit: LimitResult, value: float) -> float:
    """Scaled margin that the limit would have at another value."""
    from nestwright.data import limit_tolerances

    inside = [math.inf]
    if limit.low is not None:
        inside.append(value - limit.low)
    if limit.high is not None:
        inside.append(limit.high - value)
    return min(inside) / limit_tolerances()[limit.quantity]


def value_text(limit: LimitResult) -> str:
    """The value with the digits that its interval leaves it, and the band: "24.1 °C (20 to 28)"."""
    unit = SIGNS.get(UNITS[limit.quantity], UNITS[limit.quantity])
    low, value, high = (in_unit(limit.quantity, v) for v in (limit.low_value, limit.value, limit.high_value))
    # A tenth of a degree or of a per cent of humidity is what a good sensor can show.
    decimals = decimals_within(low, high, 1 if limit.quantity in ("temperature", "relative_humidity") else 2)
    text = f"{round(value, decimals) + 0.0:.{decimals}f}"
    edges = [None if e is None else _edge(in_unit(limit.quantity, e)) for e in (limit.low, limit.high)]
    if edges[0] is not None and edges[1] is not None:
        band = f"{edges[0]} to {edges[1]}"
    else:
        band = f"at least {edges[0]}" if edges[0] is not None else f"at most {edges[1]}"
    return f"{text} {unit} ({band})"


def _edge(value: float) -> str:
    return number(value, 2 if abs(value) < 1 else 3).rstrip("0").rstrip(".") if value % 1 else f"{value:.0f}"
