"""Two wishes against each other: the choices of a sizing, and those that no other choice beats in both."""

from __future__ import annotations

from typing import Any

from nestwright.charts.lettering import of_rows
from nestwright.charts.theme import INK, QUIET, WIDTH, clean, configured

__all__ = ["tradeoff_chart"]


def tradeoff_chart(points: list[dict[str, Any]], x: str, y: str, title: str = "What each choice costs") -> Any:
    """A chart (altair) of `points` with the keys `x` (less is better) and `y` (more is better).

    The line joins the points that no other beats in both. A key "name" labels its point. Points without both
    numbers are left out.
    """
    from nestwright.charts.declared import alt

    kept = [
        {"x": float(p[x]), "y": float(p[y]), "name": clean(p.get("name", ""), 24)}
        for p in points
        if isinstance(p.get(x), int | float) and isinstance(p.get(y), int | float)
    ]
    best = _unbeaten(kept)
    x_axis = alt.X("x:Q", scale=alt.Scale(zero=False, padding=24), axis=alt.Axis(title=clean(x, 60), grid=False))
    y_axis = alt.Y("y:Q", scale=alt.Scale(zero=False, padding=24), axis=alt.Axis(title=clean(y, 60)))
    data, front = of_rows(alt, kept), of_rows(alt, best)
    layers = [
        front.mark_line(color=QUIET, interpolate="step-after", strokeDash=[5, 4]).encode(x=x_axis, y=y_axis),
        data.mark_point(size=70, color=QUIET, filled=False).encode(x=x_axis, y=y_axis),
        front.mark_circle(size=90, color="#1f5a8c", opacity=1).encode(x=x_axis, y=y_axis),
        front.mark_text(align="left", dx=9, dy=12, color=INK).encode(x=x_axis, y=y_axis, text="name:N"),
    ]
    chart = alt.layer(*layers).properties(width=WIDTH - 90, height=380)
    return configured(chart, title, [f"{len(kept)} choices; filled: no other is better in both."])


def _unbeaten(points: list[dict[str, Any]]) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = []
    for point in sorted(points, key=lambda p: (p["x"], -p["y"])):
        if not found or point["y"] > found[-1]["y"]:
            found.append(point)
    return found
