"""The risk of a parcel by day of dispatch: chances that garden and colony are lost, with what is not known of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import WIDTH, ZONES, configured
from nestwright.parcel.risk import Risk

__all__ = ["days_chart"]

LEFT, HEIGHT = 90, 260


def days_chart(name: str, days: Sequence[Risk]) -> Any:
    """A chart (altair): a mark for the chance of each day, its bar the range of 8 in 10."""
    from nestwright.charts.declared import alt

    rows = [
        {"day": f"{one.sent:%a %d %b}", "lost": what, "mean": 100 * c.mean, "low": 100 * c.low, "high": 100 * c.high}
        for one in days
        for what, c in (("garden", one.garden), ("colony", one.colony))
    ]
    order = [f"{one.sent:%a %d %b}" for one in days]
    kinds = ["garden", "colony"]
    colour = alt.Color("lost:N", scale=alt.Scale(domain=kinds, range=list(ZONES[:2])), sort=kinds,
                       legend=alt.Legend(title=None, orient="top"))  # fmt: skip
    shape = alt.Shape("lost:N", scale=alt.Scale(domain=kinds, range=["circle", "square"]), sort=kinds,
                      legend=alt.Legend(title=None, orient="top"))  # fmt: skip
    x = alt.X("day:N", sort=order, title=None, axis=alt.Axis(labelAngle=-45 if len(days) > 5 else 0))
    beside = alt.XOffset("lost:N", sort=kinds)
    y = alt.Y("low:Q", title="lost, %", scale=alt.Scale(domain=[0, 100]))
    base = of_rows(alt, rows).encode(x=x, xOffset=beside, color=colour)
    bars = base.mark_rule(strokeWidth=3, opacity=0.45).encode(y=y, y2="high:Q")
    marks = base.mark_point(size=80, filled=True, opacity=1).encode(
        y=alt.Y("mean:Q", title="lost, %"), shape=shape, color=colour
    )
    chart = alt.layer(bars, marks).properties(width=WIDTH - LEFT, height=HEIGHT)
    best = min(days, key=lambda one: one.garden.mean)
    lines = [f"Least chance of losing the garden: {best.sent:%a %d %b}.", "Bars: 8 in 10 of what is not known."]
    return configured(chart, name, lines)
