"""The rules: from numbers of a record to what is worth an alarm. Each rule is one function without a database.

A rule answers with a Finding whose state is "on" (there is a reason), "off" (there is none) or "between": not enough to
raise an alarm, too much to end one. A rule that cannot tell answers None.
"""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise
from math import ceil, log
from statistics import median
from typing import Any, Literal

from nestwright.workshop.alarm_values import alarm_value, days_text, hours_text, ranged, rounded

__all__ = [
    "Finding",
    "Spell",
    "State",
    "brood_missing",
    "calibration_due",
    "dying",
    "failed_check",
    "fill_over",
    "ill",
    "leaves_short",
    "limit",
    "parcel_under_way",
    "part_due",
    "refill_due",
    "shrinking",
    "silent",
    "usual_interval",
    "visit_due",
    "waste_due",
]

State = Literal["on", "between", "off"]
Range = tuple[float, float, float]


@dataclass(frozen=True)
class Finding:
    """What a rule found of one subject.

    `key` names the alarm: one open alarm a key. `says`: the reason with its number. `do` and `command`: what to do and
    how it is recorded. `severity` grows as it gets worse; an alarm is told again when it has grown by `step`. `value`
    with `low` and `high` is the number behind it, in `unit`. `due`: the day on which it is to be done, also while that
    is still to come; None for what has no such day.
    """

    key: str
    kind: str
    state: State
    subject: str
    says: str
    do: str
    command: str = ""
    severity: float = 0.0
    step: float = 1.0
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    rests_on: tuple[str, ...] = ()
    colony: int | None = None
    build: int | None = None
    logger: int | None = None
    due: date | None = None

    def to_dict(self) -> dict[str, Any]:
        names = ("key", "kind", "subject", "do", "says", "value", "low", "high", "unit", "command")
        return {name: getattr(self, name) for name in names} | {"rests_on": list(self.rests_on)}


def _state(value: float, on: float, off: float) -> State:
    """Of a value that is bad when large: on from `on` up, off below `off`."""
    grain = 1e-9 * max(abs(on), 1.0)  # 1 - 0.8 is a shade under 0.2
    return "on" if value >= on - grain else "off" if value < off - grain else "between"


def usual_interval(days: Sequence[date], last: int = 8) -> float | None:
    """Median of the last gaps between different days, in days; None for fewer than two gaps."""
    different = sorted(set(days))[-(last + 1) :]
    gaps = [(b - a).days for a, b in pairwise(different)]
    return float(median(gaps)) if len(gaps) >= 2 else None


@dataclass(frozen=True)
class Spell:
    """How a channel stands to one of its limits at its last readings, in the channel's unit.

    `value` with `low` and `high` (10 and 90 % by its calibration; all equal where none is known), the `limit` and its
    `side`, `hours` on the far side without a break up to the last reading, `back` hours on the near side up to it,
    `margin` one step of margin.
    """

    value: float
    low: float
    high: float
    limit: float
    side: Literal["above", "below"]
    hours: float
    back: float
    margin: float
    corrected: bool


DRIER = "warm the room slowly: its vents cannot be opened further"
FRESHER = "air the room: its vents cannot be opened further"


def limit(key: str, subject: str, what: str, unit: str, spell: Spell, *, fixed: bool = False, **of: Any) -> Finding:
    """A reading outside a limit for longer than `limit_time`. `fixed`: no vent of the chamber can be opened further."""
    beyond = spell.value - spell.limit if spell.side == "above" else spell.limit - spell.value
    state: State = "between"
    if spell.hours >= alarm_value("limit_time"):
        state = "on"
    elif spell.back >= alarm_value("limit_back"):
        state = "off"
    error = "" if spell.corrected else "; never calibrated: the range is that of a sensor as sold"
    told, edge = ranged(spell.low, spell.value, spell.high, unit), f"{rounded(spell.limit)} {unit}"
    just = "just " if told.split(" (")[0] == edge else ""
    says = f"{what} {told}, {just}{spell.side} the limit {edge} for {hours_text(spell.hours)}{error}"
    do = {
        ("temperature", "above"): "cool the room or shade it, turn down the heat",
        ("temperature", "below"): "look to the heater and the room",
        ("relative humidity", "below"): "look for dry water, an open lid or too much vent",
        ("relative humidity", "above"): f"look for drops; {DRIER if fixed else 'open a vent'}",
        ("CO2", "above"): FRESHER if fixed else "open a vent",
    }.get((what, spell.side), "look at it")
    return Finding(
        key, "limit", state, subject, says, do, of.pop("command", ""), beyond / spell.margin, alarm_value("limit_step"),
        spell.value, spell.low, spell.high, unit, ("limit_time",), **of,
    )  # fmt: skip


def silent(key: str, subject: str, hours: float, usual: float | None, by_hand: bool, **of: Any) -> Finding | None:
    """A logger without a reading for longer than `silent_factor` of its usual interval; `hours`, `usual` in hours.

    Of one whose files are brought in by hand it is only asked when the last file was.
    """
    if by_hand:
        allowed = 24 * alarm_value("bring_in")
        says = f"no readings for {hours_text(hours)}; its files are brought in by hand"
        do, name = f"import the readings of {subject}", "bring_in"
    elif usual is None:
        return None
    else:
        allowed = max(alarm_value("silent_factor") * usual, alarm_value("silent_least") / 60)
        says = f"no reading for {hours_text(hours)}, usually one every {hours_text(usual)}"
        do, name = "look to its power and network", "silent_factor"
    times = hours / allowed
    # a silence ends with the next reading
    return Finding(
        key, "bring_in" if by_hand else "silent", _state(times, 1, 1), subject, says, do, of.pop("command", ""),
        log(max(times, 1e-3)), log(alarm_value("silent_step")), hours, unit="h", rests_on=(name,), **of,
    )  # fmt: skip


def dying(key: str, subject: str, survival: float, days: int, **of: Any) -> Finding:
    """The chance that workers or garden are gone within the days looked ahead."""
    lost = 1 - survival
    share = "over 99" if lost > 0.99 else f"{100 * lost:.0f}"
    return Finding(
        key, "dying", _state(lost, alarm_value("dying_chance"), alarm_value("dying_back")), subject,
        f"chance {share} % to lose its workers or its garden within {days} days as things are",
        "find the cause, then see whether donor garden would save it", f"nestwright diagnose {shlex.quote(subject)}",
        lost, alarm_value("dying_step"), 100 * lost, unit="%", rests_on=("dying_chance",), **of,
    )  # fmt: skip


def shrinking(key: str, subject: str, now: Range, then: Range, days: int, **of: Any) -> Finding | None:
    """A garden that is expected to lose a share of itself; volumes mL."""
    if now[1] <= 0:
        return None
    lost = 1 - then[1] / now[1]
    return Finding(
        key, "shrinking", _state(lost, alarm_value("shrink_share"), alarm_value("shrink_back")), subject,
        f"its garden shrinks: {ranged(*now, 'mL')} today, {ranged(*then, 'mL')} in {days} days as things are",
        "find the cause", f"nestwright diagnose {shlex.quote(subject)}", lost, alarm_value("shrink_share"),
        then[1], then[0], then[2], "mL", ("shrink_share",), **of,
    )  # fmt: skip


def ill(key: str, subject: str, words: Sequence[str], day: date, today: date, **of: Any) -> Finding:
    """Bad words for the look of a garden at the last visit that told of it."""
    state: State = "on" if words else "off"
    ago = (today - day).days
    when = "today" if ago <= 0 else f"{days_text(ago)} ago"
    return Finding(
        key, "ill", state, subject, f"look of its garden when last seen: {', '.join(words)}, {when} ({day})",
        "look again and see what is wrong", f"nestwright diagnose {shlex.quote(subject)}", len(words), 1.0,
        float(len(words)), unit="words", **of,
    )  # fmt: skip


def fill_over(
    key: str, subject: str, fill: Range, full: float, seen: tuple[date, Range] | None = None, **of: Any
) -> Finding:
    """A bell or chamber that is above the card's band of fill by now; shares 0 to 1.

    `seen`: day and fill of the last look. Where that was above the band and the model is not, the look counts: the
    sooner of the two days is that on which to act.
    """
    edge = f"above the band's {100 * full:.0f} %"
    looked = seen is not None and fill[1] < full - 1e-9 <= seen[1][1]
    low, middle, high = (100 * x for x in (seen[1] if seen is not None and looked else fill))
    says = f"fill {ranged(low, middle, high, '%')}, {edge}: growth is held back"
    if seen is not None and looked:
        says = (
            f"your last look, {seen[0]}, told a fill of {ranged(low, middle, high, '%')}, {edge}; the model says "
            f"{_percent(fill)} for today, because it weighs that look with its error against all the others; "
            "the sooner of the two counts"
        )
    return Finding(
        key, "full", "on" if looked else _state(fill[1], full, full - alarm_value("fill_back")), subject, says,
        "set the next bell, or open the chamber", f'nestwright colony bell {shlex.quote(subject)} --usable "... mL"',
        middle / 100, alarm_value("fill_step"), middle, low, high, "%", ("fill_high of its card",), **of,
    )  # fmt: skip


@dataclass(frozen=True)
class Due:
    """Days until something is full: early, middle, late (None past the days looked at), and its chance."""

    early: date | None
    middle: date | None
    late: date | None
    chance: float


def part_due(
    key: str, subject: str, part: str, fill: Range | None, full: Due, making: float | None, today: date, **of: Any
) -> Finding | None:
    """The day on which the next bell or chamber must be begun: its making time before the early day of its being full.

    Where no making time is told, `full_within` before the middle day: both together, the longest time and the earliest
    day, would call for a bell that half of all gardens do not need for a month.
    """
    if full.early is None:
        return None
    if making is not None:
        begin = full.early - timedelta(days=round(making))
    elif full.middle is not None:
        begin = full.middle - timedelta(days=round(alarm_value("full_within")))
    else:
        return None
    late = (today - begin).days
    state = _state(late, 0, -alarm_value("part_back"))
    middle = "not certainly within the days looked at" if full.middle is None else _past(f"{full.middle}", full, today)
    if full.early == full.late:
        when = _past(f"{full.early}", full, today)
    else:
        early = f"{_short(full.early, full.middle)}, past," if full.early < today else _short(full.early, full.middle)
        when = f"{middle} ({early} to {_short(full.late, full.middle)})"
    reason = "" if fill is None else f"fill {_percent(fill)}; "
    if making is None:
        reason += f"this one is full on {when}; how long the next {part} takes you is not told"
    else:
        reason += f"the next {part} takes {days_text(making)} and this one is full on {when}"
    return Finding(
        key, "part", state, subject, reason, f"begin the next {part}", f"nestwright plan {shlex.quote(subject)}",
        float(late), alarm_value("part_step"), float((full.early - today).days), unit="days",
        rests_on=() if making is not None else ("full_within",), due=begin, **of,
    )  # fmt: skip


def _past(told: str, full: Due, today: date) -> str:
    """A day that is told, and that it is past where it is."""
    return f"{told}, past" if full.middle is not None and full.middle < today else told


def _short(day: date | None, beside: date | None) -> str:
    """A day without its year where that stands beside it already."""
    if day is None:
        return "later"
    return day.strftime("%m-%d") if beside is not None and day.year == beside.year else day.isoformat()


def _percent(share: Range) -> str:
    low, middle, high = (100 * x for x in share)
    return ranged(low, middle, high, "%")


def leaves_short(key: str, subject: str, need: Range, given: float, **of: Any) -> Finding:
    """More leaves needed today than were given a day of late; fresh g a day. Where what was given lies within the range
    of the need, the ants tell which it is: by what they leave lying."""
    times = need[1] / given if given > 0 else float("inf")
    days = f"{alarm_value('leaves_days'):.0f} days"
    return Finding(
        key, "leaves", _state(times, 1, alarm_value("leaves_back")), subject,
        f"it takes {ranged(*need, 'g')} of leaves a day and was given {rounded(given, 2)} g a day over {days}",
        "give more leaves" if given < need[0] else "give more leaves while none are left lying",
        f'nestwright visit {shlex.quote(subject)} --leaves "{rounded(need[1], 2)} g PLANT"',
        min(times, 1e6), alarm_value("leaves_step"), need[1], need[0], need[2], "g/day", ("leaves_days",), **of,
    )  # fmt: skip


def visit_due(
    key: str, subject: str, last: date | None, since: date, usual: float | None, soon: bool, today: date, **of: Any
) -> Finding:
    """A colony that was not visited for longer than usual. `soon`: it received donor garden since or just before."""
    ago = (today - (last or since)).days
    interval = alarm_value("visit_usual") if usual is None else usual
    allowed = max(1.0, interval if usual is None else alarm_value("visit_factor") * interval)
    if soon:
        allowed = min(allowed, alarm_value("visit_after"))
    seen = f"last visit {days_text(ago)} ago ({last})" if last else f"no visit since it came, {days_text(ago)} ago"
    if ago == 0 and last:
        seen = "visited today"
    why = f"usually every {days_text(interval)}" if usual is not None else f"due after {days_text(allowed)}"
    if soon:
        why = f"it was given donor garden: look after {days_text(allowed)}"
    return Finding(
        key, "visit", _state(ago, allowed, allowed), subject, f"{seen}; {why}", "visit it",
        f'nestwright visit {shlex.quote(subject)} --fill "... %" --workers "about ..."', float(ago), interval,
        float(ago), unit="days", rests_on=("visit_after",) if soon else () if usual is not None else ("visit_usual",),
        due=(last or since) + timedelta(days=ceil(allowed)), **of,
    )  # fmt: skip


def brood_missing(key: str, subject: str, looks: Sequence[tuple[date, bool]], today: date, **of: Any) -> Finding | None:
    """No brood at the last looks for it, and none for `brood_days`. `looks`: (day, any seen), the first first."""
    if not looks:
        return None
    in_row = 0
    for _, seen in reversed(looks):
        if seen:
            break
        in_row += 1
    seen_on = next((day for day, seen in reversed(looks) if seen), None)
    ago = (today - (seen_on or looks[0][0])).days
    enough = in_row >= alarm_value("brood_looks")
    state: State = "off" if in_row == 0 else "on" if enough and ago >= alarm_value("brood_days") else "between"
    last = f"last seen {days_text(ago)} ago ({seen_on})" if seen_on else f"never seen in {days_text(ago)}"
    return Finding(
        key, "brood", state, subject, f"no brood at the last {in_row} looks, {last}",
        "look for queen and eggs", f"nestwright diagnose {shlex.quote(subject)}", float(ago),
        alarm_value("brood_days"), float(ago), unit="days", rests_on=("brood_days",), **of,
    )  # fmt: skip


def waste_due(
    key: str, subject: str, taken: Sequence[date], a_day: Range | None, today: date, **of: Any
) -> Finding | None:
    """Waste that was not taken away for longer than usual; `a_day` g of wet waste a day."""
    usual = usual_interval(taken)
    if usual is None:
        return None
    ago = (today - max(taken)).days
    allowed = max(1.0, alarm_value("waste_factor") * usual)
    amount = "" if a_day is None else f"; about {ranged(a_day[0] * ago, a_day[1] * ago, a_day[2] * ago, 'g')} by now"
    return Finding(
        key, "waste", _state(ago, allowed, allowed), subject,
        f"waste last taken {days_text(ago)} ago, usually every {days_text(usual)}{amount}", "take the waste away",
        f'nestwright visit {shlex.quote(subject)} --waste "... g"', float(ago), max(usual, 1.0), float(ago),
        unit="days", rests_on=("waste_factor",), **of,
    )  # fmt: skip


def refill_due(
    key: str, subject: str, last: date | None, every: tuple[float, float], today: date, **of: Any
) -> Finding:
    """A build whose water is due by the short end of its interval, in days; at once when its last refill is unknown."""
    low, high = every
    serial = of.pop("serial")
    span = days_text(low) if low == high else f"{rounded(low)} to {days_text(high)}"
    command = f"nestwright alarms refill {shlex.quote(serial)} --done"
    if last is None:
        says, ago = f"its last refill is not recorded; its water lasts {span}", low
    else:
        ago = float((today - last).days)
        says = f"last filled {days_text(ago)} ago ({last}); its water lasts {span}"
    return Finding(
        key, "refill", _state(ago, low, low), subject, says, "fill its water", command, ago / low,
        alarm_value("refill_step"), ago, unit="days",
        due=today if last is None else last + timedelta(days=ceil(low)), **of,
    )  # fmt: skip


def calibration_due(
    key: str, subject: str, last: date | None, day: date | None, why: str, today: date, **of: Any
) -> Finding | None:
    """A sensor whose calibration is due: on `day` where its drift tells, else `calibration_days` after the last."""
    channel = of.pop("channel")
    if last is None:
        return Finding(
            key, "calibration", "on", subject, "was never calibrated: what it is off by is not known",
            "calibrate it over saturated salts", f"nestwright sensor calibrate {shlex.quote(channel)}", 0.0,
            float("inf"), **of,
        )  # fmt: skip
    rests_on = () if why else ("calibration_days",)
    if day is None:
        if why:  # its drift was looked at and reaches nothing
            return None
        day = last + timedelta(days=round(alarm_value("calibration_days")))
    late = (today - day).days
    says = f"calibrated {days_text((today - last).days)} ago ({last}), due on {day}" + (f": {why}" if why else "")
    return Finding(
        key, "calibration", _state(late, 0, 0), subject, says, "calibrate it over saturated salts",
        f"nestwright sensor calibrate {shlex.quote(channel)}", float(late), alarm_value("calibration_step"),
        float(late), unit="days", rests_on=rests_on, **of,
    )  # fmt: skip


def failed_check(key: str, subject: str, what: Sequence[str], inhabitant: str, **of: Any) -> Finding:
    """A build that failed a check and has a colony in it."""
    serial = of.pop("serial")
    return Finding(
        key, "failed", "on" if what and inhabitant else "off", subject,
        f"failed: {', '.join(what)}; {inhabitant} lives in it", "mend it before anything gets out",
        f'nestwright build check {shlex.quote(serial)} "{what[0] if what else ""}" --passed', float(len(what)), 1.0,
        float(len(what)), unit="checks", **of,
    )  # fmt: skip


def parcel_under_way(
    key: str, subject: str, sent: date, carrier: str, colony: str, today: date, **of: Any
) -> Finding | None:
    """A parcel to us that was sent and has not arrived; `colony` that it belongs to, "" where that is not told."""
    ago = (today - sent).days
    if ago < 0:
        return None
    late = ago > alarm_value("parcel_days")
    by = f" by {carrier}" if carrier else ""
    says = f"sent {days_text(ago)} ago ({sent}){by}" + (", longer than a live parcel should take" if late else "")
    do = "ask the carrier where it is" if late else "be there to receive it"
    command = f"nestwright colony parcel {shlex.quote(colony)} --in --arrived today" if colony else ""
    return Finding(
        key, "parcel", "on", subject, says, do, command, max(0.0, ago - alarm_value("parcel_days")),
        alarm_value("parcel_step"), float(ago), unit="days", rests_on=("parcel_days",), **of,
    )  # fmt: skip
