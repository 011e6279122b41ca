"""Alarms: raised when a rule finds a reason, told once, kept while it lasts, ended when it is gone.

An alarm is told when it is raised. It is told again when its snooze ends and the reason still holds, or when it got
worse by its rule's step since it was last told, also if it was acknowledged or snoozed. What is to be told is owed to
each way of telling until that way has taken it, so that a failure is made up for at the next check.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from nestwright.errors import InputError
from nestwright.workshop.alarm_rules import Finding
from nestwright.workshop.look import Look
from nestwright.workshop.tables import alarm
from nestwright.workshop.tables import workshop as settings

__all__ = [
    "Alarm",
    "Changed",
    "acknowledge",
    "claim",
    "kept_alarms",
    "open_keys",
    "owed",
    "parse_span",
    "record_look",
    "release",
    "snooze",
    "taken",
]

OWED = "alarms owed"
CLAIMED = "alarms are sent since"
CLAIM_LASTS = 900_000
"""ms after which another check no longer waits for one that was ended while it sent."""
_SPAN = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(min|m|hours|hour|h|days|day|d|weeks|week|w)\s*", re.ASCII)
_UNITS = {"m": 1 / 60, "h": 1.0, "d": 24.0, "w": 168.0}


@dataclass(frozen=True)
class Alarm:
    """An alarm of the record; moments UTC ms. `worst`: severity when it was last told."""

    id: int
    key: str
    kind: str
    message: str
    worst: float
    raised: int
    seen: int
    ended: int | None = None
    acknowledged: int | None = None
    snoozed: int | None = None
    sent: int | None = None

    def state(self, at: int) -> str:
        """In one word, at a moment."""
        if self.ended is not None:
            return "ended"
        if self.snoozed is not None and self.snoozed > at:
            return "snoozed"
        return "acknowledged" if self.acknowledged is not None else "open"

    def to_dict(self) -> dict[str, Any]:
        return dict(self.__dict__)


@dataclass(frozen=True)
class Changed:
    """What one look made of the alarms: their numbers by what became of them."""

    raised: tuple[int, ...] = ()
    worse: tuple[int, ...] = ()
    again: tuple[int, ...] = ()
    ended: tuple[int, ...] = ()


def kept_alarms(connection: Connection, *, ended: bool = False, most: int = 1000) -> list[Alarm]:
    """Alarms that are open, the oldest first; with `ended` also those that are not, the newest of them first."""
    query = select(alarm).order_by(alarm.c.raised, alarm.c.id)
    found = [_alarm(row) for row in connection.execute(query.where(alarm.c.ended.is_(None))).mappings()]
    if ended:
        gone = select(alarm).where(alarm.c.ended.is_not(None)).order_by(alarm.c.ended.desc(), alarm.c.id.desc())
        found += [_alarm(row) for row in connection.execute(gone.limit(most)).mappings()]
    return found


def open_keys(connection: Connection) -> dict[str, Alarm]:
    """Open alarms by key."""
    return {one.key: one for one in kept_alarms(connection)}


def record_look(connection: Connection, found: Look, ways: Sequence[str]) -> Changed:
    """Bring the alarms to what was found, in a transaction that writes.

    Parameters
    ----------
    ways : names of the ways of telling ("mail", "webhook") to which new alarms are owed.
    """
    there = open_keys(connection)
    raised: list[int] = []
    worse: list[int] = []
    again: list[int] = []
    ended: list[int] = []
    judged = {one.key: one for one in found.findings}
    for key, one in judged.items():
        old = there.get(key)
        if one.state == "off":
            if old is not None:
                _change(connection, old.id, ended=found.at)
                ended.append(old.id)
        elif old is None:
            if one.state == "on":
                raised.append(_raise(connection, one, found.at))
        else:
            told = _keep(connection, old, one, found.at)
            if told:
                (worse if told == "worse" else again).append(old.id)
    for key, old in there.items():
        # what it was about is gone from the record: the colony ended, the logger was moved
        if key not in judged and not any(f"{key}/".startswith(f"{skipped}/") for skipped in found.skipped):
            _change(connection, old.id, ended=found.at)
            ended.append(old.id)
    debts = owed(connection)
    waiting = {row for rows in debts.values() for row in rows}
    tell = [*raised, *worse, *again]
    tell += [one.id for one in kept_alarms(connection) if _never_told(one, found.at) and one.id not in waiting]
    for way in ways:
        debts[way] = sorted({*debts.get(way, []), *tell})
    # a way that is no longer set up is owed nothing
    _set(connection, OWED, json.dumps({way: rows for way, rows in debts.items() if way in ways and rows}))
    return Changed(tuple(raised), tuple(worse), tuple(again), tuple(ended))


def _never_told(one: Alarm, at: int) -> bool:
    return one.sent is None and one.state(at) == "open"


def _raise(connection: Connection, one: Finding, at: int) -> int:
    values = {
        "key": one.key,
        "kind": one.kind,
        "colony_id": one.colony,
        "build_id": one.build,
        "logger_id": one.logger,
        "message": message_of(one),
        "value": one.severity,
        "raised": at,
        "seen": at,
    }
    key = connection.execute(insert(alarm).values(**values)).inserted_primary_key
    return int(key[0])  # type: ignore[index]


def message_of(one: Finding) -> str:
    """An alarm in one line: who, what, and the number."""
    return f"{one.subject}: {one.says}"


def _keep(connection: Connection, old: Alarm, one: Finding, at: int) -> str:
    """An alarm whose reason holds on; whether it is to be told again: "worse", "again", or "" for no."""
    values: dict[str, Any] = {"seen": at, "message": message_of(one)}
    told = ""
    if one.state == "on" and one.severity >= old.worst + one.step:
        told = "worse"
    elif old.snoozed is not None and old.snoozed <= at:
        told = "again"
    if told:
        values |= {"value": one.severity, "acknowledged": None, "snoozed": None, "sent": None}
    _change(connection, old.id, **values)
    return told


def acknowledge(connection: Connection, row: int, at: int) -> Alarm:
    """Say that an alarm was seen: it is not told again unless it gets worse. Raises InputError."""
    _open(connection, row)
    _change(connection, row, acknowledged=at, snoozed=None)
    _forgive(connection, row)
    return _open(connection, row)


def snooze(connection: Connection, row: int, until: int, at: int) -> Alarm:
    """Put an alarm off: it is told again after `until` if its reason still holds, before only if it gets worse. Raises
    InputError."""
    _open(connection, row)
    if until <= at:
        raise InputError("must be in the future", field="snooze")
    _change(connection, row, snoozed=until, acknowledged=None)
    _forgive(connection, row)
    return _open(connection, row)


def parse_span(text: str) -> timedelta:
    """A span told as "2h", "3 day" or "30 min". Raises InputError."""
    match = _SPAN.fullmatch(text)
    hours = float(match[1]) * _UNITS[match[2][0]] if match and len(match[1]) < 12 else 0.0
    if not 0 < hours <= 366 * 24:
        raise InputError(
            "is no span of time", field="snooze", found=repr(text[:40]), allowed="up to a year, as 2h, 3 day, 30 min"
        )
    return timedelta(hours=hours)


def owed(connection: Connection) -> dict[str, list[int]]:
    """Numbers of alarms that are still to be told, by way of telling."""
    try:
        told = json.loads(_get(connection, OWED) or "{}")
        return {str(way): [int(row) for row in rows] for way, rows in told.items()}
    except (ValueError, TypeError, AttributeError):
        return {}


def taken(connection: Connection, way: str, rows: Sequence[int], at: int) -> None:
    """A way of telling took these alarms; one that every way has taken counts as sent."""
    debts = owed(connection)
    debts[way] = [row for row in debts.get(way, []) if row not in rows]
    waiting = {row for left in debts.values() for row in left}
    for row in rows:
        if row not in waiting:
            _change(connection, row, sent=at)
    _set(connection, OWED, json.dumps({k: v for k, v in debts.items() if v}))


def claim(connection: Connection, at: int) -> bool:
    """Take the right to send, so that two checks at once do not tell everything twice; False when another has it."""
    try:
        since = int(_get(connection, CLAIMED) or 0)
    except ValueError:
        since = 0
    if since and 0 <= at - since < CLAIM_LASTS:
        return False
    _set(connection, CLAIMED, str(at))
    return True


def release(connection: Connection) -> None:
    connection.execute(delete(settings).where(settings.c.key == CLAIMED))


def _forgive(connection: Connection, row: int) -> None:
    """What a person has seen is owed to nobody."""
    debts = {way: [one for one in rows if one != row] for way, rows in owed(connection).items()}
    _set(connection, OWED, json.dumps({k: v for k, v in debts.items() if v}))


def _open(connection: Connection, row: int) -> Alarm:
    found = connection.execute(select(alarm).where(alarm.c.id == row)).mappings().first()
    if found is None or found["ended"] is not None:
        known = [str(one.id) for one in kept_alarms(connection)]
        raise InputError(
            "there is no such alarm" if found is None else "has ended already",
            field="alarm",
            found=str(row),
            allowed=", ".join(known) or "none: no alarm is open",
        )
    return _alarm(found)


def _alarm(row: Any) -> Alarm:
    plain = ("id", "key", "kind", "message", "raised", "seen", "ended", "acknowledged", "snoozed", "sent")
    return Alarm(worst=float(row["value"] or 0.0), **{name: row[name] for name in plain})


def _change(connection: Connection, row: int, **values: Any) -> None:
    connection.execute(update(alarm).where(alarm.c.id == row).values(**values))


def _get(connection: Connection, key: str) -> str:
    return str(connection.execute(select(settings.c.value).where(settings.c.key == key)).scalar() or "")


def _set(connection: Connection, key: str, value: str) -> None:
    if not connection.execute(update(settings).where(settings.c.key == key).values(value=value)).rowcount:
        connection.execute(insert(settings).values(key=key, value=value))
