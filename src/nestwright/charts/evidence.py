"""How the weight of each cause went as the record grew: one strip a cause, the likeliest on top."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nestwright.charts.dated import BAND_TINT, MID_TINT, Calendar, day_text, plot_width, short, upright
from nestwright.charts.lettering import fitted, headed, note, of_rows, wide
from nestwright.charts.theme import INK, QUIET, clean
from nestwright.colony.results import Cause, Diagnosis

__all__ = ["evidence_chart"]

STRIP = 52
FAINT = 0.15
"""A cause that never had more weight than this is only named."""
TELLS = 0.05
"""Bits below which a look is not worth naming."""


def evidence_chart(diagnosis: Diagnosis, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: the weight of each cause, 0 to 100 %, over the days of the record."""
    from nestwright.charts.declared import alt

    days = np.asarray(diagnosis.evidence_days, dtype=float)
    calendar = Calendar.over(diagnosis.start, 0.0, float(diagnosis.days), plot_width(width))
    ranked = sorted(diagnosis.causes, key=lambda c: -(c.weight if math.isfinite(c.weight) else -1.0))
    shown = [c for k, c in enumerate(ranked) if k == 0 or _most(diagnosis, c) >= FAINT]
    strips = [
        alt.layer(
            *_strip(alt, diagnosis, cause, days, calendar, first=cause is shown[0], last=cause is shown[-1])
        ).properties(width=calendar.width, height=STRIP)
        for cause in shown
    ]
    if not strips:
        blank = of_rows(alt, [{"t": calendar.when(calendar.first)}]).mark_point(opacity=0)
        strips = [
            alt.layer(blank.encode(x=calendar.x(alt)), *note(alt, "No causes were compared.", 4, 20)).properties(
                width=calendar.width, height=STRIP
            )
        ]
    lines = [_verdict(diagnosis), "Height: probability among the causes compared, as the record grew."]
    if any(c.since is not None and calendar.holds(c.since[1]) for c in shown):
        lines.append("Dashed: since when, if it is the cause; as likely before as after.")
    faint = [clean(c.says, 30) for c in ranked if c not in shown]
    if faint:
        lines.append(f"Never above {100 * FAINT:.0f} %: {', '.join(faint)}.")
    if diagnosis.next_look and (diagnosis.tells or 0.0) >= TELLS:
        lines.append(f"Look next: {clean(diagnosis.next_look, 160)}")
    title = f"{clean(diagnosis.colony, 50)}: what explains the record"
    return headed(alt.vconcat(*strips, spacing=10), title, lines, width)


def _most(diagnosis: Diagnosis, cause: Cause) -> float:
    course = np.asarray(diagnosis.evidence.get(cause.name, ()), dtype=float)
    known = course[np.isfinite(course)]
    return float(max([*known, cause.weight if math.isfinite(cause.weight) else 0.0]))


def _verdict(diagnosis: Diagnosis) -> str:
    if diagnosis.verdict == "cannot tell yet":
        return "Cannot tell yet: no cause stands out."
    return f"Likeliest: {clean(diagnosis.verdict, 60)}."


def percent(weight: float) -> str:
    """A probability as a whole percentage, never rounded to none or all."""
    if not math.isfinite(weight):
        return "not known"
    if 0 < weight < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < weight < 1 else f"{100 * weight:.0f} %"


def _strip(
    alt: Any, diagnosis: Diagnosis, cause: Cause, days: Any, calendar: Calendar, first: bool, last: bool
) -> list[Any]:
    course = np.asarray(diagnosis.evidence.get(cause.name, ()), dtype=float)
    data = [
        {
            "t": calendar.when(float(d)),
            "weight": None if (w := short(float(v))) is None else min(max(w, 0.0), 1.0) * 100,
        }
        for d, v in zip(days, course, strict=False)
        if math.isfinite(d)
    ]
    x = calendar.x(alt, labels=last)
    axis = alt.Axis(title=None, values=[0, 50, 100], labelExpr="datum.value + ' %'", minExtent=60)
    y = alt.Y("weight:Q", scale=alt.Scale(domain=[0, 100], nice=False), axis=axis)
    chart = of_rows(alt, data or [{"t": calendar.when(calendar.last), "weight": None}])
    layers: list[Any] = [chart.mark_area(color=BAND_TINT, opacity=0.8, clip=True).encode(x=x, y=y)]
    layers.append(
        chart.mark_line(color=MID_TINT if first else QUIET, strokeWidth=2.4 if first else 1.4).encode(x=x, y=y)
    )
    if len(data) == 1:
        layers.append(chart.mark_circle(size=60, color=MID_TINT, opacity=1).encode(x=x, y=y))
    if cause.since is not None and calendar.holds(cause.since[1]):
        layers.append(upright(alt, calendar.place(cause.since[1]), 0, STRIP, tint=INK, dash=True))
    layers += _label(alt, cause, calendar, first)
    return layers


def _label(alt: Any, cause: Cause, calendar: Calendar, first: bool) -> list[Any]:
    share = percent(cause.weight)
    since = ""
    if cause.since is not None and math.isfinite(cause.since[1]):
        since = f"since about {day_text(calendar, cause.since[1])}, "
    room = calendar.width - 6
    if wide(since + share) + 110 > room:
        since = ""
    end = since + share
    name = fitted(cause.says, room - wide(end) - 8)
    left = note(alt, name, 0, -11, weight=600 if first else 400)
    return left + note(alt, end, calendar.width, -11, align="right", weight=600 if first else 400)
