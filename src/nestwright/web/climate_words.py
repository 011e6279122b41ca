"""A year's proof and what was measured beside it, as rows of a page in the reader's units."""

from __future__ import annotations

from typing import Any

from nestwright.cli.output import decimals_within, figure, share_text
from nestwright.cli.proof_text import QUANTITY_DECIMALS, verdict
from nestwright.climate.beside import Beside
from nestwright.climate.results import CELSIUS, DAY, LimitResult, Proof, YearProof
from nestwright.climate.worst_hours import clock_of, hours_outside, worst_hours
from nestwright.web.shown import Shown

__all__ = [
    "HOW",
    "air_rows",
    "beside_row",
    "judged",
    "limit_rows",
    "longest_outside",
    "margin_text",
    "outside_text",
    "wall_rows",
    "week_rows",
]

WORDS = {"temperature": "temperature", "relative_humidity": "humidity", "co2": "CO2", "o2": "O2"}
FACTOR = {
    "temperature": 1.0,
    "relative_humidity": 100.0,
    "co2": 100.0,
    "o2": 100.0,
    "drip": 1000 * DAY,
    "garden_water": 1.0,
}
"""Screen figure per SI, of a difference."""
UNIT = {"relative_humidity": " %", "co2": " %", "o2": " %", "drip": " g/day", "garden_water": ""}
HOW = {
    "dates": "the prediction is of the same days and hours",
    "season": "the room is that of another year: the prediction is of the same days and hours of that one",
    "always": "the room never changes: the prediction is of its steady air",
    "over": "the room's record is short and of other days: it is laid over and over, hour on hour",
}
"""How the hours of a prediction belong to the measured ones (`climate.beside.moments_in_run`)."""


def _value(show: Shown, quantity: str, value: float | None, decimals: int) -> str:
    """A value, SI, in the reader's unit."""
    if quantity == "temperature":
        return show.temperature(None if value is None else value - CELSIUS, decimals)
    return figure(None if value is None else value * FACTOR[quantity], decimals, none="–") + UNIT[quantity]


def _gap(show: Shown, quantity: str, value: float, decimals: int) -> str:
    """A difference, SI, in the reader's unit, with its sign."""
    if quantity == "temperature":
        return show.difference(value, decimals)
    return figure(value * FACTOR[quantity], decimals, sign=True) + UNIT[quantity]


def _decimals(limit: LimitResult) -> int:
    told = limit.to_dict()
    return decimals_within(told["value_low"], told["value_high"], QUANTITY_DECIMALS.get(limit.quantity, 2))


def margin_text(show: Shown, limit: LimitResult, margin: float | None = None) -> str:
    """How far a limit is held, or missed, with the digits that it has."""
    decimals = _decimals(limit)
    margin = limit.margin if margin is None else margin
    if round(margin * FACTOR[limit.quantity], decimals) == 0:
        return "at its edge" if margin >= 0 else "just outside"
    return _gap(show, limit.quantity, margin, decimals)


def outside_text(hours: float | None) -> str:
    """So many hours outside, never rounded to none."""
    if hours is None:
        return "–"
    return "none" if hours <= 0 else "under 1 h" if hours < 1 else f"{hours:,.0f} h"


def longest_outside(result: YearProof) -> tuple[str, str]:
    """Hours outside of the limit that is outside for longest, and its name, "" where all are held all the time."""
    counted = [(hours, one.name) for one in result.mean.limits if (hours := hours_outside(result, one))]
    hours, name = max(counted, default=(0.0, ""))
    return outside_text(hours), name


def limit_rows(show: Shown, result: YearProof) -> list[dict[str, Any]]:
    """One row a limit, the least margin first."""
    when = worst_hours(result)
    rows = []
    for limit in sorted(result.mean.limits, key=lambda one: one.scaled_margin):
        decimals, quantity = _decimals(limit), limit.quantity
        low, high = (_value(show, quantity, end, decimals) for end in (limit.low_value, limit.high_value))
        hours = hours_outside(result, limit)
        rows.append(
            {
                "name": limit.name,
                "band": _band(show, limit),
                "value": _value(show, quantity, limit.value, decimals),
                "interval": f"{low} to {high}",
                "margin": margin_text(show, limit),
                "held": limit.held,
                "sure": limit.sure,
                "verdict": verdict(limit),
                "outside": outside_text(hours),
                "share": "" if not hours else share_text((1 - (limit.hours_held_share or 0.0)) * 100),
                "when": _clock(result, when.get(limit.name)),
            }
        )
    return rows


def _clock(result: YearProof, second: float | None) -> str:
    if second is None:
        return ""
    at = clock_of(result, second)
    return f"hour {second / 3600:.0f}" if at is None else f"{at.day} {at:%b}, {at:%H:%M}"


def _band(show: Shown, limit: LimitResult) -> str:
    def end(value: float) -> str:
        if limit.quantity == "temperature":
            return show.temperature(value - CELSIUS, 1).replace(".0 ", " ")
        return f"{value * FACTOR[limit.quantity]:.3g}{UNIT[limit.quantity]}"

    if limit.low is not None and limit.high is not None:
        return f"{end(limit.low)} to {end(limit.high)}"
    if limit.low is not None:
        return f"at least {end(limit.low)}"
    return f"at most {end(limit.high)}" if limit.high is not None else "none"


def week_rows(show: Shown, result: YearProof) -> list[list[str]]:
    """The weeks with the most hours outside a limit."""
    limits = {one.name: one for one in result.mean.limits}
    rows = []
    for week in result.worst_weeks:
        at = clock_of(result, week.start)
        day = f"day {week.start / DAY:.0f}" if at is None else f"{at.day} {at:%b}"
        margin = margin_text(show, limits[week.limit], week.worst_margin)
        rows.append([day, week.limit, outside_text(week.hours_outside), margin])
    return rows


def air_rows(show: Shown, proof: Proof) -> list[list[str]]:
    """The mean air of each chamber."""
    return [
        [
            zone.name,
            zone.role,
            show.temperature(zone.temperature - CELSIUS),
            f"{figure(zone.relative_humidity * 100, 1)} %",
            f"{figure(zone.co2 * 100, 2)} %",
            f"{figure(zone.o2 * 100, 2)} %",
        ]
        for zone in proof.zones
    ]


def wall_rows(show: Shown, proof: Proof) -> list[list[str]]:
    """Each wall's dew margin and the water that stands on it, those that are wet first; means over the run."""
    rows = []
    for zone in proof.zones:
        for wall, margin in zone.dew_margin.items():
            film = zone.film.get(wall, 0.0) * 1000
            wet = f"{show.mass(film)} of water" if film >= 0.01 else "wet" if margin < 0 else "dry"
            rows.append((margin, [zone.name, wall, show.difference(margin), wet]))
    return [row for _, row in sorted(rows, key=lambda one: (one[1][3] == "dry", one[0]))]


def judged(proof: Proof) -> tuple[list[list[str]], list[list[str]]]:
    """Judgement values with the limits that they move, and bands that are a judgement with their reason."""
    moved: dict[str, list[str]] = {}
    for limit in proof.limits:
        for name in limit.rests_on:
            moved.setdefault(name, []).append(limit.name)
    bands = [[one.name, one.source] for one in proof.limits if one.mark == "judgement"]
    return [[name, "; ".join(limits)] for name, limits in moved.items()], bands


def beside_row(show: Shown, told: Beside) -> dict[str, Any]:
    """One quantity of a chamber, measured beside predicted, in the reader's units."""
    most = QUANTITY_DECIMALS[told.quantity]
    factor = FACTOR[told.quantity]

    def places(ends: tuple[float, ...]) -> int:
        # the spread of the hours is told as finely as the mean that it lies about
        return decimals_within(ends[-2] * factor, ends[-1] * factor, most)

    seen, guessed = places(told.measured), places(told.predicted) if told.bounded else most
    return {
        "chamber": told.chamber,
        "what": WORDS[told.quantity],
        "logger": told.logger,
        "calibrated": told.calibrated,
        "hours": told.hours,
        "measured": _range(show, told.quantity, told.measured, seen),
        "measured_spread": _ends(show, told.quantity, told.measured_spread, seen),
        "predicted": _range(show, told.quantity, told.predicted, guessed) if told.known else ("–", ""),
        "predicted_spread": _ends(show, told.quantity, told.predicted_spread, guessed) if told.known else "–",
        "difference": _gap(show, told.quantity, told.measured[0] - told.predicted[0], min(seen, guessed))
        if told.known
        else "–",
        "agrees": told.agrees,
        "higher": told.measured[0] > told.predicted[0],
        "bounded": told.bounded,
    }


def _range(show: Shown, quantity: str, ends: tuple[float, float, float], decimals: int) -> tuple[str, str]:
    """A mean, and its range in words, "" where it has none."""
    mean = _value(show, quantity, ends[0], decimals)
    low, high = (_value(show, quantity, end, decimals) for end in ends[1:])
    return mean, "" if "–" in (low[:1], high[:1]) else f"{low} to {high}"


def _ends(show: Shown, quantity: str, ends: tuple[float, float], decimals: int) -> str:
    low, high = (_value(show, quantity, end, decimals) for end in ends)
    return f"{low} to {high}"
