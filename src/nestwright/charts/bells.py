"""The plan: fill over the days to come, the band in which it should stay, and each change of housing."""

from __future__ import annotations

import math
from typing import Any

from nestwright.charts.dated import Calendar, Ruler, band_layers, day_text, plot_width, rows, short, upright
from nestwright.charts.lettering import count_words, flags, headed, note, of_rows, wide
from nestwright.charts.theme import QUIET, clean, number
from nestwright.colony.results import Plan
from nestwright.data import load_species
from nestwright.errors import InputError

__all__ = ["plan_chart"]

HEIGHT = 260
LANE = 17
MOST = 130.0
"""Fill, %, up to which the picture reaches; outcomes beyond are cut off at it."""
NARROW, MOST_TOLD = 480, 4
"""Width, px, under which volumes stand under the title and not beside the names; and for how many steps."""
GOOD_TINT = "#e9e2cb"


def plan_chart(plan: Plan, width: int = 720) -> Any:
    """A chart (altair), `width` px wide: fill in %, 10 to 90 % of outcomes, with the card's band and the steps."""
    from nestwright.charts.declared import alt

    fit = plan.forecast.fit
    days = [float(d) for d in plan.fill.day if math.isfinite(d)]
    first, last = float(fit.days), float(fit.days + plan.forecast.horizon)
    calendar = Calendar.over(fit.start, min([first, *days[:1]]), max([last, *days[-1:]]), plot_width(width))
    top = max([100.0, *(100 * float(v) for v in plan.fill.high if math.isfinite(v))])
    ruler = Ruler("fill, %", 0.0, min(top * 1.04, MOST), HEIGHT)
    x = calendar.x(alt)
    good = _good(fit.species)
    layers: list[Any] = []
    if good is not None:
        layers += _band(alt, good, calendar, ruler, x)
    layers += band_layers(alt, calendar, ruler, rows(calendar, plan.fill, 100.0), x=x, dash=True)
    steps = [s for s in plan.steps if calendar.holds(s.day)]
    narrow = width < NARROW
    named = [(calendar.place(s.day), clean(s.name, 22) + ("" if narrow else _size(s.usable))) for s in steps]
    placed, missed = flags(named, calendar.width, lanes=7)
    for step in steps:
        layers.append(upright(alt, calendar.place(step.day), 0, HEIGHT))
    for flag in placed:
        up = -12 - LANE * flag.lane
        layers.append(upright(alt, flag.x, up + 2, 0))
        layers += note(alt, flag.text, flag.text_x, up, align=flag.align)
    lines = _lines(plan, good, missed)
    if narrow and steps:
        told = [f"{clean(s.name, 22)}{_size(s.usable)}, {day_text(calendar, s.day)}" for s in steps[:MOST_TOLD]]
        lines.insert(1, "; ".join(told) + ("." if len(steps) <= MOST_TOLD else "; and more."))
    chart = alt.layer(*layers).properties(width=calendar.width, height=HEIGHT)
    return headed(chart, f"{clean(fit.colony, 50)}: the next bells and chambers", lines, width)


def _size(usable: float) -> str:
    return f", {number(usable, 3)} mL"


def _good(species: str) -> tuple[float, float] | None:
    """The card's band of fill, %; None where no card is known or it has none."""
    try:
        growth = load_species(species).growth
    except InputError:
        return None
    low, high = growth.get("fill_low"), growth.get("fill_high")
    return None if low is None or high is None else (100 * low.value, 100 * high.value)


def _band(alt: Any, good: tuple[float, float], calendar: Calendar, ruler: Ruler, x: Any) -> list[Any]:
    low, high = good
    ends = {"t": calendar.when(calendar.first), "t2": calendar.when(calendar.last)}
    data = of_rows(alt, [ends | {"low": short(low), "high": short(high)}])
    layers = [data.mark_rect(color=GOOD_TINT).encode(x=x, x2="t2", y=ruler.y(alt, "low"), y2="high:Q")]
    for edge in good:
        line = of_rows(alt, [{"edge": short(edge)}])
        layers.append(line.mark_rule(color=QUIET, strokeDash=[2, 3]).encode(y=ruler.y(alt, "edge", ruler.title)))
    words = "the card's band"
    if calendar.width > wide(words) + 20:
        layers += note(alt, words, calendar.width - 6, ruler.place(low) + 11, align="right", tint=QUIET, slant=True)
    return layers


def _lines(plan: Plan, good: tuple[float, float] | None, missed: int) -> list[str]:
    low, middle, high = plan.inside
    lines = ["Band: 8 of 10 outcomes; dashed line: median. Upright lines: housing is changed."]
    if not plan.steps:
        lines.append("No change of housing is needed.")
    if good is not None and all(math.isfinite(v) for v in plan.inside):
        lines.append(
            f"Time inside the card's band of {good[0]:.0f} to {good[1]:.0f} %: {100 * middle:.0f} % "
            f"({100 * low:.0f} to {100 * high:.0f} %)."
        )
    tall = [clean(s.name, 30) for s in plan.steps if s.lid_off]
    if tall:
        lines.append(f"The lid must come off, as it does not pass the opening: {', '.join(tall)}.")
    if missed:
        lines.append(f"Lines without a name: {missed} more step{'s' if missed > 1 else ''}.")
    if plan.forecast.survival < 0.995:
        lines.append(f"Workers and garden live to the end {count_words(plan.forecast.survival)}.")
    return lines
