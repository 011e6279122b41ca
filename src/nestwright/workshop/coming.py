"""What comes, day by day: tasks of today, and what falls due later, as one list of dated entries."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from nestwright.workshop.alarm_rules import Due, Finding
from nestwright.workshop.look import Look
from nestwright.workshop.todo import Today

__all__ = ["Coming", "Entry", "coming_of"]


@dataclass(frozen=True)
class Entry:
    """One thing on one day. `key` is the same each time it is told anew, so that a later list replaces it.

    `early` and `late`: between which days a forecast puts it, 8 of 10 outcomes; None where it is no forecast, or where
    that end lies past the days looked at. `rests_on`: values of judgement behind its day.
    """

    key: str
    kind: str
    subject: str
    day: date
    do: str
    says: str
    command: str = ""
    early: date | None = None
    late: date | None = None
    rests_on: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        return {
            "kind": self.kind,
            "subject": self.subject,
            "day": self.day.isoformat(),
            "early": None if self.early is None else self.early.isoformat(),
            "late": None if self.late is None else self.late.isoformat(),
            "do": self.do,
            "says": self.says,
            "command": self.command,
            "rests_on": list(self.rests_on),
        }


@dataclass(frozen=True)
class Coming:
    """What comes from `day` on, the first first. `unread`: subject and reason where nothing could be told."""

    day: date
    entries: tuple[Entry, ...]
    unread: tuple[tuple[str, str], ...]


def coming_of(found: Look, made: Today) -> Coming:
    """Every task of today, each on its day: what is overdue stands on today, a snoozed task is left out.

    What has a day of its own (a visit, a refill, a part to begin) stands there also while that day is still to come,
    and once only. To it come the days on which forecasts see a bell or a chamber full.
    """
    today = made.day
    snoozed = {one.key for task in made.put_off for one in (task.finding, *task.also)}
    entries = {f.key: _entry(f, today) for task in made.tasks for f in (task.finding, *task.also)}
    told = set(entries) | snoozed
    for one in found.findings:
        if one.due is not None and one.due > today and one.key not in told:
            entries[one.key] = _entry(one, one.due)
    for glance in found.glances:
        if glance.ahead is None:
            continue
        for part, due in (("bell", glance.ahead.full), ("chamber", glance.ahead.chamber_full)):
            day = None if due is None else due.middle
            # a bell that is full already is among the tasks
            full = part == "bell" and f"full/{glance.id}" in told
            if due is not None and day is not None and day > today and not full:
                entries[f"forecast/{glance.id}/{part}"] = _full(
                    f"forecast/{glance.id}/{part}", glance.name, part, due, day
                )
    ordered = sorted(entries.values(), key=lambda e: (e.day, e.subject, e.key))
    return Coming(today, tuple(ordered), made.unread)


def _entry(one: Finding, day: date) -> Entry:
    return Entry(one.key, one.kind, one.subject, day, one.do, one.says, one.command, rests_on=one.rests_on)


def _full(key: str, name: str, part: str, due: Due, day: date) -> Entry:
    ends = [("before the days looked at" if i == 0 else "later than the days looked at") if d is None else d.isoformat()
            for i, d in enumerate((due.early, due.late))]  # fmt: skip
    says = f"forecast: 8 of 10 outcomes lie from {ends[0]} to {ends[1]}"
    return Entry(key, "forecast", name, day, f"{part} expected to be full", says, "", due.early, due.late)
