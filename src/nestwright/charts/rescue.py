"""A colony without its garden: the chance that it pulls through against the donor garden it is given."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.dated import MARK_TINT, MID_TINT, NARROWEST, short, upright
from nestwright.charts.lettering import headed, note, of_rows, wide
from nestwright.charts.rescue_words import PER, chance, count, count_range, parts, volume, volume_range
from nestwright.charts.theme import QUIET, clean
from nestwright.colony.results import Rescue

__all__ = ["rescue_chart"]

HEIGHT = 260
ENOUGH = 90.0
"""Chance, %, from which an amount is called enough; `Rescue.enough` counts so."""


def rescue_chart(rescue: Rescue, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: chance in % with its 80 % interval for each amount of donor garden, mL."""
    from nestwright.charts.declared import alt

    plot = max(NARROWEST, int(width)) - 86 - 24
    cases = sorted((c for c in rescue.cases if math.isfinite(c.garden) and c.garden >= 0), key=lambda c: c.garden)
    data = [
        {
            "garden": short(c.garden),
            "chance": _percent(c.pulls_through),
            "low": _percent(c.interval[0]),
            "high": _percent(c.interval[1]),
        }
        for c in cases
    ]
    along = _along([c.garden for c in cases], plot)
    unit = parts(max((c.garden for c in cases), default=0.0), 3)[1]
    x = alt.X(
        "garden:Q",
        scale=alt.Scale(**along.scale),
        axis=alt.Axis(
            title=f"donor garden, {unit}",
            grid=False,
            labelExpr=f"format(datum.value / {PER[unit]:.0f}, ',~r')",
            **along.ticks,
        ),
    )
    domain = alt.Scale(domain=[0, 100], nice=False)

    def y(field: str) -> Any:
        axis = alt.Axis(title="chance of pulling through, %", values=[0, 25, 50, 75, 100], minExtent=30)
        return alt.Y(f"{field}:Q", scale=domain, axis=axis)

    chart = of_rows(alt, data)
    layers: list[Any] = [
        of_rows(alt, [{"level": ENOUGH}])
        .mark_rule(color=QUIET, strokeDash=[6, 4], strokeWidth=1.4)
        .encode(y=y("level"))
    ]
    if len(data) > 1:
        layers.append(chart.mark_line(color=MID_TINT, strokeWidth=1.6, strokeDash=[2, 3]).encode(x=x, y=y("chance")))
    layers += [
        chart.mark_rule(color=MID_TINT, strokeWidth=2).encode(x=x, y=y("low"), y2="high:Q"),
        chart.mark_circle(color=MID_TINT, size=90, opacity=1).encode(x=x, y=y("chance")),
    ]
    layers += note(alt, "9 chances in 10", 6, HEIGHT * (1 - ENOUGH / 100) - 11, tint=QUIET, slant=True)
    if not data:
        layers += note(alt, "No amounts were tried.", 6, HEIGHT / 2)
    named = rescue.recommended if rescue.recommended is not None else rescue.enough
    # the amount that the answer leads with, and no other
    if named is not None and math.isfinite(named) and data and rescue.verdict != "no queen":
        at = along.place(named)
        if rescue.enough is not None and rescue.enough <= named:
            text = f"{volume(named, 2)} is enough" if named > 0 else "enough without any"
        else:
            text = f"{volume(named, 2)} does as well as any" if named > 0 else "none does as well as any"
        right = at + wide(text) > plot + 10
        layers.insert(0, upright(alt, at, -6, HEIGHT, tint=MARK_TINT, dash=True))
        layers += note(
            alt, text, at + (2 if right else -2), -14, align="right" if right else "left", tint=MARK_TINT, weight=600
        )
    drawn = alt.layer(*layers).properties(width=plot, height=HEIGHT)
    return headed(drawn, "Donor garden: how much is enough", _lines(rescue), width)


class _Axis:
    """Where amounts stand along the picture: in equal steps, or in equal factors when they differ by more than 20."""

    def __init__(self, low: float, high: float, unit: float | None, plot: int, values: list[float]) -> None:
        self.low, self.high, self.unit, self.plot = low, high, unit, plot
        self.scale: dict[str, Any] = {"domain": [low, high], "nice": False, "zero": False}
        self.ticks: dict[str, Any] = {"tickCount": max(2, plot // 70)}
        if unit is not None:
            self.scale |= {"type": "symlog", "constant": unit}
            kept: list[float] = []
            for value in values:
                if not kept or self.place(value) - self.place(kept[-1]) >= 46:
                    kept.append(value)
            self.ticks = {"values": kept}

    def place(self, amount: float) -> float:
        return (self._on(amount) - self._on(self.low)) / (self._on(self.high) - self._on(self.low)) * self.plot

    def _on(self, amount: float) -> float:
        return math.log1p(amount / self.unit) if self.unit else amount


def _along(amounts: list[float], plot: int) -> _Axis:
    positive = [a for a in amounts if a > 0]
    top = max(positive, default=1.0)
    if positive and top / min(positive) > 20:
        low = 0.0 if min(amounts) <= 0 else min(positive) * 0.75
        return _Axis(low, top * 1.2, min(positive), plot, sorted(set(amounts)))
    return _Axis(0.0, top * 1.06, None, plot, amounts)


def _percent(share: float) -> float | None:
    return short(100 * min(max(share, 0.0), 1.0)) if math.isfinite(share) else None


def _lines(rescue: Rescue) -> list[str]:
    queen = "queen" if rescue.queen else "no queen"
    came = rescue.came
    if came is None:
        eggs, larvae, pupae = (count(v, 9) for v in rescue.brood)
        workers, said = count(rescue.workers, 9), ""
    else:
        eggs, larvae, pupae = (count_range(*band) for band in came.brood)
        workers, said = count_range(*came.workers), " by the model"
    lines = [
        f"{clean(rescue.species, 50)}: {queen}, {workers} workers; brood{said}: {eggs} eggs, {larvae} larvae, "
        f"{pupae} pupae; {rescue.days} {'day' if rescue.days == 1 else 'days'}.",
        "Upright bars: 8 of 10, over what is not known of the species.",
    ]
    if rescue.verdict == "none needed" and came is not None:
        lines.append(f"None needed: it has about {volume_range(*came.garden)}.")
    elif rescue.verdict == "no difference":
        lines.append("No difference between the amounts.")
    elif rescue.enough is None and rescue.cases:
        lines.append("None of the amounts tried gives nine chances in ten.")
    best = next((c for c in rescue.cases if c.garden == rescue.recommended), None)
    if rescue.verdict == "least" and best is not None and len(rescue.cases) > 1:
        what = "reaches nine chances in ten" if rescue.enough == best.garden else "does as well as any"
        lines.append(f"Least that {what}: {volume(best.garden)} ({chance(best.pulls_through)}).")
    lines.append("Workers of another colony are not accepted: give garden, not workers.")
    return lines
