"""What to do today: everything that was found, in the order in which it cannot wait."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.alarms import Alarm
from nestwright.workshop.look import Leaves, Look

__all__ = ["CLASSES", "Task", "Today", "today_of"]

CLASSES: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("now", ("failed", "dying", "ill", "shrinking", "parcel")),
    ("limits", ("limit", "silent")),
    ("parts", ("full", "part")),
    ("care", ("leaves", "refill", "waste")),
    ("look", ("brood", "visit")),
    ("later", ("calibration", "bring_in")),
)
"""Classes of urgency and the kinds in each, the most urgent first."""
_RANK = {kind: (i, j) for i, (_, kinds) in enumerate(CLASSES) for j, kind in enumerate(kinds)}
Range = tuple[float, float, float]


@dataclass(frozen=True)
class Task:
    """One thing to do. `alarm`: number of its open alarm, None where `alarms check` has raised none yet. `also`:
    further findings of the same subject and urgency that call for the same command."""

    urgency: str
    finding: Finding
    alarm: int | None = None
    acknowledged: bool = False
    also: tuple[Finding, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        told = self.finding.to_dict()
        told.pop("key")
        also = [one.says for one in self.also]
        return {"urgency": self.urgency, **told, "also": also, "alarm": self.alarm, "acknowledged": self.acknowledged}


@dataclass(frozen=True)
class Today:
    """The day's work. `leaves` by colony and `leaves_sum` g, the ends of the sum being sums of the ends; `put_off`:
    tasks that are snoozed; `unread`: subject and reason where a record could not be used."""

    day: date
    tasks: tuple[Task, ...]
    put_off: tuple[Task, ...]
    leaves: tuple[Leaves, ...]
    unread: tuple[tuple[str, str], ...]
    colonies: int
    builds: int
    forecasts: bool

    @property
    def leaves_sum(self) -> Range | None:
        """The needs of several colonies rest on the same unknown shares, so that their ends come together."""
        if not self.leaves:
            return None
        low, middle, high = (sum(one.grams[i] for one in self.leaves) for i in range(3))
        return low, middle, high

    def to_dict(self) -> dict[str, Any]:
        total = self.leaves_sum
        return {
            "day": self.day.isoformat(),
            "colonies": self.colonies,
            "builds": self.builds,
            "forecasts": self.forecasts,
            "tasks": [one.to_dict() for one in self.tasks],
            "put_off": [one.to_dict() for one in self.put_off],
            "leaves_g": [{"colony": one.colony, "low": one.grams[0], "middle": one.grams[1], "high": one.grams[2]}
                         for one in self.leaves],
            "leaves_sum_g": None if total is None else {"low": total[0], "middle": total[1], "high": total[2]},
            "unread": [{"subject": subject, "reason": reason} for subject, reason in self.unread],
        }  # fmt: skip


def today_of(found: Look, alarms: Mapping[str, Alarm], *, forecasts: bool = True) -> Today:
    """The day's work from one look and the open alarms by key.

    What swings about a threshold stays as long as its alarm is open. Of one colony a part to begin is not told beside a
    full bell, nor a shrinking garden beside a dying colony.
    """
    tasks: list[Task] = []
    put_off: list[Task] = []
    for one in found.findings:
        alarm = alarms.get(one.key)
        if one.state == "off" or (one.state == "between" and alarm is None):
            continue
        seen = alarm is not None and alarm.acknowledged is not None
        task = Task(CLASSES[_RANK[one.kind][0]][0], one, None if alarm is None else alarm.id, seen)
        (put_off if alarm and alarm.state(found.at) == "snoozed" else tasks).append(task)
    said = {(t.finding.kind, t.finding.subject) for t in tasks}
    tasks = [t for t in tasks if not _told_better(t.finding, said)]
    return Today(
        found.today,
        _joined(sorted(tasks, key=_order)),
        _joined(sorted(put_off, key=_order)),
        tuple(found.leaves),
        tuple(dict.fromkeys(found.unread)),
        found.colonies,
        found.builds,
        forecasts,
    )


def _joined(tasks: list[Task]) -> tuple[Task, ...]:
    """Tasks that end in the same command of the same subject, as one, where the first of them stands."""
    made: dict[tuple[str, ...], Task] = {}
    for task in tasks:
        one = task.finding
        key = (task.urgency, one.subject, one.command or one.key)
        if key in made:
            first = made[key]
            seen = first.acknowledged and task.acknowledged
            made[key] = replace(first, also=(*first.also, one), acknowledged=seen)
        else:
            made[key] = task
    return tuple(made.values())


def _told_better(one: Finding, said: set[tuple[str, str]]) -> bool:
    if one.kind == "part" and one.key.endswith("/bell"):
        return ("full", one.subject) in said
    return one.kind == "shrinking" and ("dying", one.subject) in said


def _order(task: Task) -> tuple[Any, ...]:
    one = task.finding
    worst = one.severity / one.step if one.step and one.step != float("inf") else 0.0
    return (*_RANK[one.kind], -worst, one.subject, one.key)
