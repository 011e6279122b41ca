"""A forecast in words and rows: today, growth, the days to come, dates, what was learnt, what surprises."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING

from nestwright.wording.figures import figure
from nestwright.wording.last_reading import as_told
from nestwright.wording.ranges import LITRES_FROM, coming_days, in_litres, ranged, span_of_days, three, volume_text
from nestwright.wording.values import on_screen

if TYPE_CHECKING:
    from nestwright.colony.model import Observation
    from nestwright.colony.results import Band, Estimate, Fit, Forecast, Point
    from nestwright.errands.forecast import Told

__all__ = [
    "BEYOND",
    "FLOWS",
    "SPACE",
    "chance_text",
    "date_rows",
    "growth_lines",
    "housing_text",
    "later_days",
    "learnt",
    "leaves_line",
    "past_line",
    "surprises",
    "table_rows",
    "today_rows",
    "value_text",
]

LOOKS = (7, 14, 30, 60, 90, 180, 365, 730)
"""Days ahead that the table shows, and the last."""
NARROWED, MOVED = 0.25, 0.5
"""A value is learnt when its spread shrank by this share, or its middle moved by this share of half its range."""
FAR = 2.5
"""Standard deviations from which an observation is a surprise; one in eighty is by chance."""
VERY_FAR = 4.0
"""Standard deviations that are called far beyond the error; one in fifteen thousand is by chance."""
UNLIKELY = 0.0124
"""Chance that a normal value lies further off than `FAR`: the same measure for what is seen or not seen."""
SPACE = (("garden", "garden mL", 1.0), ("fill", "fill %", 100.0), ("workers", "workers", 1.0))


FLOWS = (
    ("leaf_fresh", "leaf need g/day", 1.0),
    ("leaf_area", "leaf need cm2/day", 1.0),
    ("waste", "waste g/day", 1.0),
)


LEAST = {"garden": 0.1, "fill": 0.1, "workers": 0.1}
"""mL and % below which nobody can tell; counts are whole."""
LEAST_OF_FLOWS = 0.01
"""g or cm2 a day below which a colony takes no leaf and leaves no waste that can be weighed."""
COUNTS = ("workers",)
"""Bands of what comes in whole numbers."""
BEYOND = "-"
"""A date beyond the days looked at: the words for it, three times in a row, leave no room on a narrow screen."""
GONE = 0.05
"""mL of garden below which there is none: less than a crumb, and shown as nought."""
KINDS = {
    "garden": ("mL of garden", ""),
    "workers": ("workers", ""),
    "waste": ("g of waste", "waste_dry_share"),
    "leaves_taken": ("g of leaves taken", "leaf_dry_share"),
}
"""Unit of an observation, and the dry share by which it was turned from what the file tells."""


def _at(band: Band, index: int, factor: float = 1.0) -> str:
    low, middle, high = (factor * float(end[index]) for end in (band.low, band.middle, band.high))
    least = LEAST.get(band.name, LEAST_OF_FLOWS)
    # a large garden is told in litres: what is little is not
    return ranged(low, middle, high, whole=band.name in COUNTS, least=least * (factor if band.unit == "mL" else 1.0))


def _garden(band: Band, index: int) -> tuple[str, str]:
    """A garden with its range, and its unit: litres where the middle is large."""
    if float(band.middle[index]) >= LITRES_FROM:
        return _at(band, index, 0.001), "L"
    return _at(band, index), "mL"


def _column(word: str, band: Band, factor: float, looks: Sequence[int]) -> list[str]:
    """A column's name and its cells on the days looked at; the unit stands in the cells where it changes."""
    if band.name != "garden":
        return [word, *(_at(band, i, factor) for i in looks)]
    cells = [_garden(band, i) for i in looks]
    units = {unit for _, unit in cells}
    if len(units) > 1:
        return ["garden", *(f"{text} {unit}" for text, unit in cells)]
    return [f"garden {units.pop()}", *(text for text, _ in cells)]


def later_days(result: Forecast, now: date | None) -> int:
    """Days from the record's last day to today; 0 where there is no today, or it is not later."""
    return 0 if now is None else max(0, (now - result.fit.start).days - result.fit.days)


def past_line(result: Forecast, now: date | None) -> str:
    """What it means that today lies beyond the last day of the forecast; "" where it does not."""
    if later_days(result, now) <= result.horizon:
        return ""
    last = result.fit.start + timedelta(days=result.fit.days)
    return (
        f"All of this forecast is past: it ends {span_of_days(result.horizon)} after the record's last day, {last}, "
        f"and today is {now}. Record a visit first."
    )


def today_rows(result: Forecast, later: int = 0) -> list[list[str]]:
    """What there is on the record's last day or so many days later, by name, and what the garden is housed in."""
    rows = []
    for name, word, factor in SPACE:
        if name in result.bands:
            row, _, unit = word.partition(" ")
            text = _at(result.bands[name], later, factor)
            if name == "garden":
                text, unit = _garden(result.bands[name], later)
            rows.append([row, f"{text} {unit}".rstrip()])
    if "leaf_fresh" in result.bands:
        rows.append(["leaf need", f"{_at(result.bands['leaf_fresh'], later)} g/day"])
    housed = [h for h in result.housing if h[0] <= result.fit.days + later]
    if housed:
        rows.append(["housed in", housing_text(*housed[-1][1:])])
    return rows


def housing_text(name: str, usable: float) -> str:
    """What the garden stands in, with its volume once: a bell without a name of its own is called by its volume."""
    own = re.fullmatch(r"(bell|chamber) [\d.e+]+ m?L", name)
    return f"{own[1]} {volume_text(usable)}" if own else f"{name}, {volume_text(usable)}"


def growth_lines(told: Told) -> list[str]:
    """How fast the garden grows, and when it has doubled and tripled, in words."""
    pace, first, horizon = told.pace, told.forecast.fit.days, told.forecast.horizon
    if float(told.forecast.bands["garden"].high[0]) < GONE:
        return [
            "No garden is left: there is nothing that could grow. `nestwright rescue` says how much donor garden the "
            "colony needs."
        ]
    low, middle, high = (100 * x for x in pace.per_day)
    lines = [
        f"{figure(middle, 1, sign=True)} % a day over {coming_days(pace.days)} "
        f"({figure(low, 1, sign=True)} to {figure(high, 1, sign=True)} %)"
    ]
    for word, one in (("Doubled", pace.doubled), ("Tripled", pace.tripled)):
        days = [_days(d, first, horizon) for d in (one.early, one.middle, one.late)]
        if one.early is None:
            lines.append(
                f"{word}: not within {span_of_days(horizon)} (chance that it does: {chance_text(one.probability)})"
            )
        elif one.middle is None:
            chance = chance_text(one.probability)
            lines.append(
                f"{word} in {days[0]} at the earliest; within {span_of_days(horizon)} with a chance of {chance}"
            )
        else:
            lines.append(f"{word} in {days[1]} ({days[0]} to {days[2]})")
    return lines


def _days(day: float | None, first: int, horizon: int) -> str:
    return f"more than {span_of_days(horizon)}" if day is None else span_of_days(day - first)


def table_rows(
    result: Forecast, kinds: Sequence[tuple[str, str, float]], later: int = 0
) -> tuple[list[str], list[list[str]]]:
    """Column names, and a row for each day looked at. `kinds`: band, name of its column, factor; `later`: days from the
    record's last day to today, from which the days then count."""
    looks = [later + d for d in LOOKS if later + d < result.horizon] + [result.horizon]
    last = result.fit.start + timedelta(days=result.fit.days)
    days = ["day", *(f"{last + timedelta(days=ahead)} ({_count(ahead - later)})" for ahead in looks)]
    columns = [_column(word, result.bands[k], f, looks) for k, word, f in kinds if k in result.bands]
    head, *rows = (list(row) for row in zip(days, *columns, strict=True))
    return head, rows


def _count(ahead: int) -> str:
    return "past" if ahead < 0 else f"+{ahead}"


def date_rows(result: Forecast, now: date | None = None) -> list[list[str]]:
    """A row for each thing that comes, then for each part to begin: its chance within the horizon and its dates.

    `now`: today, where it is known; what the forecast puts before it is said to be past.
    """
    start = result.fit.start
    last = start + timedelta(days=result.fit.days)
    today = last if now is None else max(now, last)

    def cell(day: float | None, begin: bool) -> str:
        if day is None:
            return BEYOND
        told = start + timedelta(days=int(day))
        if told == today if begin else told <= last:
            return "now"
        return f"{told}, past" if told < today else f"{told}"

    rows = []
    for spans, begin in ((result.dates, False), (result.make_by, True)):
        for one in spans:
            row = [cell(day, begin) for day in (one.early, one.middle, one.late)]
            rows.append([in_litres(one.what), chance_text(one.probability), *row])
    return rows


def chance_text(share: float) -> str:
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def leaves_line(result: Forecast) -> str:
    """What the columns of leaves mean, and what is reckoned with."""
    need = "Leaf need: fresh leaves that the colony would take on that day."
    given = result.bands.get("leaf_given")
    if given is None:
        return f"{need} All else above reckons with so many being given, from now on."
    amount = f"{three(float(given.middle[0]))} g/day" if given.middle[0] > 0 else "none"
    return (
        f"{need} Given from now on: {amount}, and all else above reckons with that: where it is less than the need, "
        "the garden takes in less, and shrinks if it is less than it uses up."
    )


def learnt(fit: Fit) -> list[Estimate]:
    """The values that the record moved or narrowed."""
    return [e for e in fit.estimates if e.learnt >= NARROWED or _moved(e) >= MOVED]


def _moved(one: Estimate) -> float:
    low, middle, high = (max(x, 1e-12) for x in one.prior)
    half = math.log(high / low) / 2
    return abs(math.log(max(one.middle, 1e-12) / middle)) / half if half > 0 else 0.0


def value_text(name: str, unit: str, low: float, middle: float, high: float) -> str:
    """A value of the model with its range, in the unit of the screen."""
    shown, factor = on_screen(name, unit)
    return f"{ranged(factor * low, factor * middle, factor * high)} {shown}".rstrip()


def surprises(fit: Fit, observations: Sequence[Observation] = ()) -> list[str]:
    """One line for each observation that lies far from what all the others and the model expected of it.

    `observations` of the record, for how a count was told.
    """
    lines = []
    for p in fit.points:
        day = (fit.start + timedelta(days=int(p.day))).isoformat()
        place = f"{day}, line {p.line}" if p.line else day
        if p.surprise is None:
            chance = p.expected if p.value > 0.5 else 1 - p.expected
            if chance < UNLIKELY:
                verb = "seen" if p.value > 0.5 else "looked for and not seen"
                lines.append(f"{place}: {p.kind} {verb}, the chance of which was {chance_text(chance)}")
        elif abs(p.surprise) > FAR:
            far = "far beyond" if abs(p.surprise) > VERY_FAR else "beyond"
            lines.append(f"{place}: {_told(p, observations)}, {far} its error")
    return lines


def _told(p: Point, observations: Sequence[Observation]) -> str:
    from nestwright.data import colony_values

    unit, dry = KINDS.get(p.kind, (p.kind, ""))
    share = colony_values()[dry].value if dry else 1.0
    ends = (p.expected_low / share, p.expected / share, p.expected_high / share)
    expected = ranged(*ends, whole=p.kind in COUNTS)
    value = as_told(p, observations) if p.kind in COUNTS else three(p.value / share)
    return f"{value} {unit}; expected {expected}"
