"""Today: what to do now and why, alarms, every colony and build at a glance."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from markupsafe import Markup
from starlette.responses import Response

from nestwright.web.named import step
from nestwright.web.render import page, shown_for, workshop_at
from nestwright.web.shown import Shown
from nestwright.web.watch import Sight, newest_step
from nestwright.wording.ranges import ranged
from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.alarms import Alarm, open_keys
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading
from nestwright.workshop.last_readings import LastReading
from nestwright.workshop.look import AtGlance
from nestwright.workshop.todo import Task, Today, today_of

router = APIRouter()

SECTIONS = ("state", "tasks", "leaves", "colonies", "readings")
"""Pieces of the page that are sent anew by themselves, each only when it changed."""
TITLES = {
    "now": "Now",
    "limits": "Limits",
    "parts": "Parts to begin",
    "care": "Leaves, water, waste",
    "look": "Visits due",
    "later": "When there is time",
}
OF_COLONY = {
    "dying": ("Find the cause", "/diagnosis"),
    "shrinking": ("Find the cause", "/diagnosis"),
    "full": ("Set the next bell", ""),
    "part": ("See the plan", "/plan"),
    "parcel": ("See the colony", ""),
}
"""Kind of a task to its one step: the words of the link and where under the colony's page it leads; else a visit."""
OF_LOGGER = {"calibration": "Calibrate it", "bring_in": "Bring in its readings"}

JUDGED = {
    "limit_time": "how long a garden bears air outside its band",
    "silent_factor": "how many missed readings are a silence",
    "bring_in": "how often files are brought in",
    "dying_chance": "which chance of loss calls for help",
    "shrink_share": "which loss of garden is worth an alarm",
    "fill_high of its card": "how full a bell may be",
    "full_within": "how long before a bell is full the next is begun",
    "leaves_days": "over how many days leaves are averaged",
    "visit_after": "how soon to look after donor garden was given",
    "visit_usual": "how often a colony is looked at",
    "brood_days": "how long without brood is too long",
    "waste_factor": "how late a clearing of waste may be",
    "calibration_days": "how long a calibration is good for",
    "parcel_days": "how long a live parcel takes",
}
"""Values of judgement that a task rests on, in plain words."""


@dataclass(frozen=True)
class Step:
    """The one tap of a task: what it says, where it leads; `fills`: it records that water was filled, at once."""

    words: str
    address: str
    fills: bool = False


@dataclass(frozen=True)
class Line:
    """A task with its step and the open alarms behind it."""

    task: Task
    says: tuple[str, ...]
    step: Step | None
    alarms: tuple[Alarm, ...]

    @property
    def key(self) -> str:
        return hashlib.sha256(self.task.finding.key.encode()).hexdigest()[:8]

    @property
    def judged(self) -> tuple[str, ...]:
        return tuple(JUDGED.get(one, one.replace("_", " ")) for one in self.task.finding.rests_on)

    @property
    def since(self) -> int | None:
        return min((one.raised for one in self.alarms), default=None)

    @property
    def until(self) -> int | None:
        return min((one.snoozed for one in self.alarms if one.snoozed), default=None)


@router.get("/")
def today(request: Request) -> Response:
    """The first page: what the last look saw, and the alarms as they stand now."""
    pieces, values = _pieces(request)
    return page(request, "today.html", pieces=pieces, seen=_digests(pieces), **values)


@router.get("/today/part")
def part(request: Request, seen: str = "") -> Response:
    """Those pieces of the first page that are no longer as they were; `seen`: their sums as they were, with points."""
    pieces, values = _pieces(request)
    digests = _digests(pieces)
    old = dict(zip(SECTIONS, seen.split("."), strict=False))
    changed = {name: html for (name, html), sum_ in zip(pieces.items(), digests.split("."), strict=True)
               if old.get(name) != sum_}  # fmt: skip
    return page(request, "today_part.html", pieces=changed, seen=digests, **values)


def _digests(pieces: dict[str, Markup]) -> str:
    return ".".join(hashlib.sha256(html.encode()).hexdigest()[:10] for html in pieces.values())


def _pieces(request: Request) -> tuple[dict[str, Markup], dict[str, Any]]:
    """Each piece as it looks now, and what the page needs beside them."""
    watch, show = request.app.state.watch, shown_for(request)
    with reading(workshop_at(request).engine) as connection:
        newest = newest_step(connection)
    sight: Sight | None = watch.seen(newest)
    # a new transaction: one that began before the look would not show the alarms that it raised
    with reading(workshop_at(request).engine) as connection:
        alarms = open_keys(connection)
    at = now()
    made = None if sight is None else today_of(sight.look, alarms)
    lines, put_off, others = ([], [], list(alarms.values())) if made is None else _lines(made, sight, alarms)
    fitting = watch.fitting if watch.fitting is not None and watch.fitting.going else None
    values: dict[str, Any] = {
        "made": made,
        "sight": sight,
        "at": at,
        "count": sum(not line.task.acknowledged for line in lines if line.alarms)
        + sum(one.state(at) == "open" for one in others),
        "open_alarms": [one for one in alarms.values() if one.state(at) == "open"],
        # what was just recorded is being looked at
        "busy": fitting is not None or sight is None or sight.step < newest,
    }
    told = values | {
        "lines": lines, "put_off": put_off, "others": others, "titles": TITLES, "fitting": fitting,
        "fault": watch.fault, "undelivered": watch.undelivered,
        "leaves": [] if made is None else _leaves(made, show),
        "colonies": [] if sight is None else [_colony(one, show) for one in sight.look.glances],
        "readings": [] if sight is None else [reading_row(one, show, at) for one in sight.readings],
    }  # fmt: skip
    pieces = {name: Markup(bytes(page(request, f"today_{name}.html", **told).body).decode()) for name in SECTIONS}
    return pieces, values


def _lines(made: Today, sight: Sight | None, alarms: dict[str, Alarm]) -> tuple[list[Line], list[Line], list[Alarm]]:
    """Tasks, tasks that are put off, and open alarms that stand at no task."""
    assert sight is not None
    names = {one.id: one.name for one in sight.look.glances}

    def line(task: Task) -> Line:
        findings = (task.finding, *task.also)
        behind = tuple(alarms[one.key] for one in findings if one.key in alarms)
        return Line(task, tuple(one.says for one in findings), _step(task.finding, names, sight), behind)

    tasks, put_off = [line(one) for one in made.tasks], [line(one) for one in made.put_off]
    shown = {alarm.id for one in (*tasks, *put_off) for alarm in one.alarms}
    # what is told better by another task is no alarm of its own on this page
    judged = {one.key for one in sight.look.findings}
    others = [one for one in alarms.values() if one.id not in shown and one.key not in judged]
    return tasks, put_off, others


def _step(one: Finding, names: dict[int, str], sight: Sight) -> Step | None:
    if one.logger is not None and one.logger in sight.loggers:
        return Step(OF_LOGGER.get(one.kind, "See the readings"), f"/sensors/{step(sight.loggers[one.logger])}")
    if one.build is not None and one.kind in ("refill", "failed"):
        serial = one.subject.removeprefix("build ")
        if one.kind == "refill":
            return Step("Filled today", f"/builds/{step(serial)}/filled", fills=True)
        return Step("See its checks", f"/builds/{step(serial)}#checks")
    name = names.get(one.colony or 0)
    if name is None:
        return None
    if one.kind in OF_COLONY:
        words, where = OF_COLONY[one.kind]
        return Step(words, f"/colonies/{step(name)}{where}")
    return Step("Visit", f"/visit/{step(name)}")


def _leaves(made: Today, show: Shown) -> list[tuple[str, str]]:
    """Colony and its leaves of today with their range; the sum last, where there are several."""
    rows = [(one.colony, f"{ranged(*one.grams)} g") for one in made.leaves]
    total = made.leaves_sum
    return [*rows, ("", f"{ranged(*total)} g")] if total is not None and len(rows) > 1 else rows


def _colony(one: AtGlance, show: Shown) -> dict[str, Any]:
    """A colony in a line: fill and garden of today as forecast, else as last told."""
    row: dict[str, Any] = {"name": one.name, "last": one.last, "days": None, "fill": "", "garden": "", "told": None}
    row["over"] = False
    if one.last is not None:
        row["days"] = (show.today - one.last).days
    fill = one.ahead and one.ahead.at("fill", show.today)
    garden = one.ahead and one.ahead.at("garden", show.today)
    if fill:
        low, middle, high = (100 * x for x in fill)
        row["fill"], row["over"] = f"{ranged(low, middle, high)} %", high > 100
    if garden:
        row["garden"] = f"{ranged(*garden)} mL"
    if not fill and not garden and one.told is not None:
        error = "" if one.told.garden_error_pct is None else f" ± {show.percent(one.told.garden_error_pct)}"
        row["told"] = one.told.day
        if one.told.fill_pct is not None:
            row["fill"], row["over"] = f"{show.percent(one.told.fill_pct)}{error}", one.told.fill_pct > 100
        else:
            row["garden"] = f"{show.volume(one.told.garden_ml)}{error}"
    return row


def reading_row(one: LastReading, show: Shown, at: int) -> dict[str, Any]:
    """A last reading in words: value with its range, the band that holds there, how it stands to it, its age."""
    decimals = 0 if one.high - one.low >= 2 else 1
    near, end = (one.high, one.band[0]) if one.stands == "below" else (one.low, one.band[1])
    if one.stands in ("below", "above") and end is not None:
        # what lies beyond an end does not read as it
        decimals = next((n for n in range(decimals, 3) if round(near, n) != round(end, n)), 3)
    ends = [None if end is None else show.reading(end, one.unit, 0 if float(end).is_integer() else 1)
            for end in one.band]  # fmt: skip
    low, high = ends
    band = f"{low} – {high}" if low and high else f"≥ {low}" if low else f"≤ {high}" if high else ""
    where = one.colony or one.build
    return {
        "where": where,
        "address": f"/colonies/{step(one.colony)}" if one.colony else f"/builds/{step(one.build)}" if one.build else "",
        "chamber": one.chamber or "room",
        "what": one.what,
        "value": show.reading(one.value, one.unit, decimals),
        "range": "" if one.low == one.high
        else f"{show.reading(one.low, one.unit, decimals)} – {show.reading(one.high, one.unit, decimals)}",
        "band": band,
        "stands": one.stands,
        "ago": show.ago(one.at, at),
        "calibrated": one.calibrated,
        "logger": f"/sensors/{step(one.logger)}",
    }  # fmt: skip
