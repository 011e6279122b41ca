"""A year's proof and what was measured beside it, as rows of a page in the reader's units."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from nestwright.climate.beside import Beside, How
from nestwright.climate.digits import decimals_within
from nestwright.climate.results import CELSIUS, DAY, LimitResult, Proof, YearProof
from nestwright.climate.worst_hours import clock_of, hours_outside, worst_hours
from nestwright.web.shown import Shown
from nestwright.web.words import ENGLISH, words_of
from nestwright.wording.climate_values import value_in_words
from nestwright.wording.figures import share_text
from nestwright.wording.proof import QUANTITY_DECIMALS, verdict

__all__ = [
    "air_rows",
    "beside_row",
    "edge_text",
    "gap_text",
    "how_text",
    "judged",
    "limit_name",
    "limit_rows",
    "longest_outside",
    "margin_text",
    "outside_text",
    "value_text",
    "wall_rows",
    "week_rows",
]

FACTOR = {
    "temperature": 1.0,
    "relative_humidity": 100.0,
    "co2": 100.0,
    "o2": 100.0,
    "drip": 1000 * DAY,
    "garden_water": 1.0,
}
"""Screen figure per SI, of a difference."""
UNIT = {"relative_humidity": " %", "co2": " %", "o2": " %", "garden_water": ""}


def _unit(show: Shown, quantity: str) -> str:
    """The unit behind a figure."""
    _ = _texts(show)
    a_day = _("g/day")
    return f" {a_day}" if quantity == "drip" else UNIT[quantity]


def _texts(show: Shown) -> Callable[[str], str]:
    return words_of(show.choice.language).gettext


def how_text(show: Shown, how: How) -> str:
    """How the hours of a prediction belong to the measured ones (`climate.beside.moments_in_run`)."""
    _ = _texts(show)
    return {
        "dates": _("The prediction is of the same days and hours."),
        "season": _("The room is that of another year; the same days and hours of that one are taken."),
        "always": _("The room never changes; the prediction is of its steady air."),
        "over": _("The room’s record is short and of other days; it is laid over and over, hour on hour."),
    }[how]


def quantity_text(show: Shown, quantity: str) -> str:
    """A quantity in words."""
    _ = _texts(show)
    return {"temperature": _("temperature"), "relative_humidity": _("humidity"), "co2": "CO2"}[quantity]


def limit_name(show: Shown, name: str) -> str:
    """A limit's name with its quantity in the reader's language: chambers are called as the file calls them."""
    _ = words_of(show.choice.language).gettext
    quantities = {
        "temperature": _("temperature"),
        "humidity": _("humidity"),
        "drip on the garden": _("drip on the garden"),
        "garden's water": _("garden’s water"),
    }
    where, mark, quantity = name.rpartition(": ")
    return f"{where}{mark}{quantities.get(quantity, quantity)}"


def value_text(show: Shown, quantity: str, value: float | None, decimals: int) -> str:
    """A value, SI, in the reader's unit."""
    if quantity == "temperature":
        return show.temperature(None if value is None else value - CELSIUS, decimals)
    return show.decimal(None if value is None else value * FACTOR[quantity], decimals) + _unit(show, quantity)


def gap_text(show: Shown, quantity: str, value: float, decimals: int) -> str:
    """A difference, SI, in the reader's unit, with its sign."""
    if quantity == "temperature":
        return show.difference(value, decimals)
    return show.decimal(value * FACTOR[quantity], decimals, sign=True) + _unit(show, quantity)


def _decimals(limit: LimitResult) -> int:
    told = limit.to_dict()
    return decimals_within(told["value_low"], told["value_high"], QUANTITY_DECIMALS.get(limit.quantity, 2))


def margin_text(show: Shown, limit: LimitResult, margin: float | None = None) -> str:
    """How far a limit is held, or missed, with the digits that it has."""
    return edge_text(show, limit.quantity, limit.margin if margin is None else margin, _decimals(limit))


def edge_text(show: Shown, quantity: str, margin: float, decimals: int) -> str:
    """A margin, SI, never written as 0: its sign is the verdict."""
    if round(margin * FACTOR[quantity], decimals) == 0:
        _ = _texts(show)
        return _("at its edge") if margin >= 0 else _("just outside")
    return gap_text(show, quantity, margin, decimals)


def outside_text(show: Shown, hours: float | None) -> str:
    """So many hours outside, never rounded to none."""
    _ = _texts(show)
    if hours is None:
        return "–"
    return _("none") if hours <= 0 else _("under 1 h") if hours < 1 else f"{hours:.0f} h"


def longest_outside(show: Shown, result: YearProof) -> tuple[str, str]:
    """Hours outside of the limit that is outside for longest, and its name, "" where all are held all the time."""
    counted = [(hours, one.name) for one in result.mean.limits if (hours := hours_outside(result, one))]
    hours, name = max(counted, default=(0.0, ""))
    return outside_text(show, hours), limit_name(show, name)


def limit_rows(show: Shown, result: YearProof) -> list[dict[str, Any]]:
    """One row a limit, the least margin first."""
    _ = _texts(show)
    # each as `verdict` of the command has it
    verdicts = {
        "holds": _("holds"),
        "fails": _("fails"),
        "holds, not sure": _("holds, but could fail"),
        "fails, not sure": _("fails, but could hold"),
    }
    when = worst_hours(result)
    rows = []
    for limit in sorted(result.mean.limits, key=lambda one: one.scaled_margin):
        decimals, quantity = _decimals(limit), limit.quantity
        low, high = (value_text(show, quantity, end, decimals) for end in (limit.low_value, limit.high_value))
        hours = hours_outside(result, limit)
        rows.append(
            {
                "name": limit_name(show, limit.name),
                "band": _band(show, limit),
                "value": value_text(show, quantity, limit.value, decimals),
                "interval": _("{} to {}").format(low, high),
                "margin": margin_text(show, limit),
                "held": limit.held,
                "sure": limit.sure,
                "verdict": verdicts[verdict(limit)],
                "outside": outside_text(show, hours),
                "share": "" if not hours else show.figures(share_text((1 - (limit.hours_held_share or 0.0)) * 100)),
                "when": _clock(show, result, when.get(limit.name)),
            }
        )
    return rows


def _clock(show: Shown, result: YearProof, second: float | None) -> str:
    _ = _texts(show)
    if second is None:
        return ""
    at = clock_of(result, second)
    return _("hour {}").format(f"{second / 3600:.0f}") if at is None else f"{_day(show, at)}, {at:%H:%M}"


def _day(show: Shown, at: date) -> str:
    """A day without its year, which in a typical year is none."""
    if show.choice.language == ENGLISH:
        return f"{at.day} {at:%b}"
    from babel.dates import format_skeleton

    return str(format_skeleton("MMMd", at, locale=show.choice.language))


def _band(show: Shown, limit: LimitResult) -> str:
    _ = _texts(show)

    def end(value: float) -> str:
        if limit.quantity == "temperature":
            return show.temperature(value - CELSIUS, 1).replace(f"{show.comma}0 ", " ")
        return show.figures(f"{value * FACTOR[limit.quantity]:.3g}{_unit(show, limit.quantity)}")

    if limit.low is not None and limit.high is not None:
        return _("{} to {}").format(end(limit.low), end(limit.high))
    if limit.low is not None:
        return _("at least {}").format(end(limit.low))
    return _("at most {}").format(end(limit.high)) if limit.high is not None else _("none")


def week_rows(show: Shown, result: YearProof) -> list[list[str]]:
    """The weeks with the most hours outside a limit."""
    _ = _texts(show)
    limits = {one.name: one for one in result.mean.limits}
    rows = []
    for week in result.worst_weeks:
        at = clock_of(result, week.start)
        day = _("day {}").format(f"{week.start / DAY:.0f}") if at is None else _day(show, at)
        margin = margin_text(show, limits[week.limit], week.worst_margin)
        rows.append([day, limit_name(show, week.limit), outside_text(show, week.hours_outside), margin])
    return rows


def air_rows(show: Shown, proof: Proof) -> list[list[str]]:
    """The mean air of each chamber."""
    _ = _texts(show)
    uses = {
        "garden": _("garden"), "forage": _("forage"), "dump": _("dump"), "nursery": _("nursery"), "sump": _("sump"),
        "outer": _("outer"),
    }  # fmt: skip
    return [
        [
            zone.name,
            uses.get(zone.role, zone.role),
            show.temperature(zone.temperature - CELSIUS),
            f"{show.decimal(zone.relative_humidity * 100, 1)} %",
            f"{show.decimal(zone.co2 * 100, 2)} %",
            f"{show.decimal(zone.o2 * 100, 2)} %",
        ]
        for zone in proof.zones
    ]


def wall_rows(show: Shown, proof: Proof) -> tuple[list[list[str]], int]:
    """Each wall's dew margin and the water that stands on it, those that are wet first, and how many these are; means
    over the run."""
    _ = _texts(show)
    rows = []
    sides = {"side": _("side"), "top": _("top"), "base": _("base")}
    for zone in proof.zones:
        for wall, margin in zone.dew_margin.items():
            film = zone.film.get(wall, 0.0) * 1000
            wet = film >= 0.01 or margin < 0  # as the command has it
            state = _("{} of water").format(show.mass(film)) if film >= 0.01 else _("wet") if wet else _("dry")
            face, _to, other = wall.partition(" to ")
            name = wall if show.choice.language == ENGLISH else sides.get(face, face) + (f" → {other}" if other else "")
            rows.append((not wet, margin, [zone.name, name, show.dew(margin), state]))
    wet_walls = sum(not dry for dry, _margin, _row in rows)
    return [row for _dry, _margin, row in sorted(rows, key=lambda one: one[:2])], wet_walls


def judged(show: Shown, proof: Proof) -> tuple[list[list[str]], list[list[str]]]:
    """Judgement values with the limits that they move, and bands that are a judgement with their reason."""
    moved: dict[str, list[str]] = {}
    for limit in proof.limits:
        for name in limit.rests_on:
            moved.setdefault(name, []).append(limit_name(show, limit.name))
    bands = [[limit_name(show, one.name), one.source] for one in proof.limits if one.mark == "judgement"]
    return [[value_in_words(name), "; ".join(limits)] for name, limits in moved.items()], bands


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
        "what": quantity_text(show, told.quantity),
        "logger": told.logger,
        "calibrated": told.calibrated,
        "hours": told.hours,
        "measured": _range(show, told.quantity, told.measured, seen),
        "measured_spread": _ends(show, told.quantity, told.measured_spread, seen),
        "predicted": _range(show, told.quantity, told.predicted, guessed) if told.known else ("–", ""),
        "predicted_spread": _ends(show, told.quantity, told.predicted_spread, guessed) if told.known else "–",
        "difference": gap_text(show, told.quantity, told.measured[0] - told.predicted[0], min(seen, guessed))
        if told.known
        else "–",
        "agrees": told.agrees,
        "higher": told.measured[0] > told.predicted[0],
        "bounded": told.bounded,
    }


def _range(show: Shown, quantity: str, ends: tuple[float, float, float], decimals: int) -> tuple[str, str]:
    """A mean, and its range in words, "" where it has none."""
    mean = value_text(show, quantity, ends[0], decimals)
    low, high = (value_text(show, quantity, end, decimals) for end in ends[1:])
    _ = _texts(show)
    return mean, "" if "–" in (low[:1], high[:1]) else _("{} to {}").format(low, high)


def _ends(show: Shown, quantity: str, ends: tuple[float, float], decimals: int) -> str:
    _ = _texts(show)
    return _("{} to {}").format(*(value_text(show, quantity, end, decimals) for end in ends))
