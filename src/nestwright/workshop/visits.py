"""Visits: what was seen, given, taken away and done at one look at one colony, into the record and out of it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.units import shown
from nestwright.workshop.changes import Act, now
from nestwright.workshop.tables import brood, colony, count, event, feeding, visit

__all__ = [
    "HEALTH",
    "STAGES",
    "Count",
    "EventEntry",
    "Feeding",
    "VisitEntry",
    "add_event",
    "add_visit",
    "check_health",
    "donations",
    "entry_of_rows",
    "events_between",
    "read_visits",
    "replace_visit",
]

STAGES = ("eggs", "larvae", "pupae")
COUNTED = ("workers", *STAGES, "queens", "dead")
HEALTH = {
    "white": "fresh white tufts, growing",
    "grey": "grey and quiet",
    "brown": "brown or dark patches",
    "dry": "dry, crumbles",
    "wet": "wet, drops on it",
    "mould": "foreign mould on it",
    "falling": "falls apart or is carried out",
}
"""Words for the look of a garden (common practice, no source); several may hold at once."""


@dataclass(frozen=True)
class Count:
    """A number of animals: what, how it was had (exact, guess, band), the ends of a band or else the value twice."""

    what: str
    kind: str
    low: float
    high: float

    @property
    def text(self) -> str:
        """As the colony file tells it."""
        if self.kind == "band":
            return f"{self.low:.0f} to {self.high:.0f}"
        return f"{'about ' if self.kind == 'guess' else ''}{self.low:.0f}"


@dataclass(frozen=True)
class Feeding:
    """Fresh leaves given: amount in g or cm2, and the plant."""

    amount: float
    unit: str
    plant: str = ""


@dataclass(frozen=True)
class EventEntry:
    """Something done or befallen, in the words of the colony file; `other` is the colony that gave or received."""

    what: str
    amount: str = ""
    plant: str = ""
    other: str = ""
    note: str = ""


@dataclass(frozen=True)
class VisitEntry:
    """One visit. Everything but the day may be missing. `at` UTC ms; `uid` makes a second sending harmless."""

    day: date
    garden_ml: float | None = None
    fill_pct: float | None = None
    garden_error_pct: float | None = None
    counts: tuple[Count, ...] = ()
    seen: tuple[str, ...] = ()
    not_seen: tuple[str, ...] = ()
    feedings: tuple[Feeding, ...] = ()
    leaves_taken: float | None = None
    leaves_taken_unit: str | None = None
    waste_g: float | None = None
    health: tuple[str, ...] = ()
    events: tuple[EventEntry, ...] = ()
    note: str = ""
    at: int | None = None
    uid: str = field(default_factory=lambda: uuid.uuid4().hex)

    def to_dict(self) -> dict[str, Any]:
        """The visit by the names of its columns; counts, feedings and events as tables."""
        out = {k: v for k, v in self.__dict__.items() if k not in ("counts", "feedings", "events", "day")}
        return {
            "day": self.day.isoformat(),
            **{k: list(v) if isinstance(v, tuple) else v for k, v in out.items()},
            **{k: [dict(one.__dict__) for one in getattr(self, k)] for k in ("counts", "feedings", "events")},
        }


def check_health(words: Sequence[str], place: Callable[[str], dict[str, Any]]) -> tuple[str, ...]:
    """The words for the look of a garden, in the order of the list. Raises InputError for one that is not in it."""
    for word in words:
        if word not in HEALTH:
            raise InputError(
                "is no word for the look of a garden",
                found=shown(word),
                allowed=", ".join(f"{k} ({v})" for k, v in HEALTH.items()),
                nearest=nearest_name(word, HEALTH),
                **place("health"),
            )
    return tuple(word for word in HEALTH if word in words)


def add_visit(done: Act, colony_id: int, entry: VisitEntry) -> int:
    """Write a visit with all that belongs to it; the row that has it already when its uid is known.

    A donation names the other colony: it stands in the histories of both, as garden added here and taken there.
    Raises InputError for another colony that is not in the record.
    """
    link = done.connection
    there = link.execute(select(visit.c.id).where(visit.c.uid == entry.uid)).scalar()
    if there is not None:
        return int(there)
    row = done.add(visit, _values(entry) | {"uid": entry.uid, "colony_id": colony_id})
    _add_parts(done, colony_id, row, entry, entry.uid)
    return row


def replace_visit(done: Act, row: int, entry: VisitEntry) -> None:
    """Put what an entry tells in the place of everything that a visit told; its photos stay with it.

    Donations that it told are taken out of both histories first. Raises as `add_visit`.
    """
    link = done.connection
    old = link.execute(select(visit.c.uid, visit.c.colony_id).where(visit.c.id == row)).one()
    for table in (count, brood, feeding):
        for part in link.execute(select(table.c.id).where(table.c.visit_id == row)).scalars().all():
            done.remove(table, int(part))
    for part, uid in link.execute(select(event.c.id, event.c.uid).where(event.c.visit_id == row)).all():
        for other in link.execute(select(event.c.id).where(event.c.uid == f"{uid}-other")).scalars().all():
            done.remove(event, int(other))
        done.remove(event, int(part))
    done.change(visit, row, _values(entry))
    _add_parts(done, int(old.colony_id), row, entry, str(old.uid))


def _values(entry: VisitEntry) -> dict[str, Any]:
    plain = ("garden_ml", "fill_pct", "garden_error_pct", "leaves_taken", "leaves_taken_unit", "waste_g", "note", "at")
    return {k: getattr(entry, k) for k in plain} | {
        "day": entry.day.isoformat(),
        "written": now(),
        "health": ", ".join(entry.health),
    }


def _add_parts(done: Act, colony_id: int, row: int, entry: VisitEntry, uid: str) -> None:
    for one in entry.counts:
        done.add(count, {"visit_id": row, **one.__dict__})
    for stages, seen in ((entry.seen, True), (entry.not_seen, False)):
        for stage in stages:
            done.add(brood, {"visit_id": row, "stage": stage, "seen": seen})
    for given in entry.feedings:
        done.add(feeding, {"visit_id": row, **given.__dict__})
    for i, happened in enumerate(entry.events):
        add_event(done, colony_id, entry.day, happened, visit_id=row, uid=f"{uid}-{i}")


MIRRORED = {
    "garden added": "garden taken",
    "garden taken": "garden added",
}
"""What the other colony's history shows of garden that was given. Of brood it shows nothing of its own: what is lost of
brood is told there as a share, which the giver alone knows; `donations` still names both."""


def add_event(
    done: Act, colony_id: int, day: date, entry: EventEntry, *, visit_id: int | None = None, uid: str = ""
) -> int:
    """Write an event, and its other side where another colony of the record gave or received garden."""
    link = done.connection
    other = None
    if entry.other:
        names = {str(name): int(row) for row, name in link.execute(select(colony.c.id, colony.c.name))}
        other = names.get(entry.other)
        if other is None:
            allowed = ", ".join(names)
            raise InputError(
                "is no colony of this workshop",
                field="event",
                found=shown(entry.other),
                allowed=allowed[:400],
                nearest=nearest_name(entry.other[:200], names),
            )
        if other == colony_id:
            raise InputError("a colony cannot give to itself", field="event", found=repr(entry.other))
    uid = uid or uuid.uuid4().hex
    told = {"day": day.isoformat(), "what": entry.what, "amount": entry.amount, "plant": entry.plant}
    rest = {"other_id": other, "note": entry.note}
    row = done.add(event, {"uid": uid, "colony_id": colony_id, "visit_id": visit_id, **told, **rest})
    if other is not None and entry.what in MIRRORED:
        mirrored = told | {"what": MIRRORED[entry.what], "plant": ""}
        done.add(event, {"uid": f"{uid}-other", "colony_id": other, **mirrored, "other_id": colony_id, "note": ""})
    return row


def events_between(connection: Connection, colony_id: int) -> list[tuple[str, EventEntry]]:
    """What was recorded of a colony by itself and at no visit, the newest first: (day, event). What another colony's
    visit shows here of garden that was given is among them."""
    names = {int(i): str(n) for i, n in connection.execute(select(colony.c.id, colony.c.name))}
    alone = select(event).where(event.c.colony_id == colony_id, event.c.visit_id.is_(None))
    return [
        (e["day"], EventEntry(e["what"], e["amount"], e["plant"], names.get(e["other_id"], ""), e["note"]))
        for e in connection.execute(alone.order_by(event.c.day.desc(), event.c.id.desc())).mappings()
    ]


def donations(connection: Connection, colony_id: int) -> list[tuple[str, str, str, str]]:
    """What a colony had from others and gave to them: (day, what, amount, the other's name), by day.

    Brood that it gave stands in the other's history only, and is turned round here.
    """
    names = {int(i): str(n) for i, n in connection.execute(select(colony.c.id, colony.c.name))}
    own = connection.execute(
        select(event).where(event.c.colony_id == colony_id, event.c.other_id.is_not(None))
    ).mappings()
    found = [(e["day"], e["what"], e["amount"], str(names[e["other_id"]])) for e in own]
    theirs = connection.execute(select(event).where(event.c.other_id == colony_id)).mappings()
    found += [
        (e["day"], e["what"].replace("added", "given"), e["amount"], str(names[e["colony_id"]]))
        for e in theirs
        if e["what"] not in MIRRORED
    ]
    return sorted(found)


def read_visits(connection: Connection, colony_id: int) -> list[tuple[int, VisitEntry]]:
    """Every visit of a colony with its row, by day and then as they were written."""
    rows = connection.execute(
        select(visit).where(visit.c.colony_id == colony_id).order_by(visit.c.day, visit.c.at, visit.c.id)
    ).mappings()
    parts = {t.name: _by_visit(connection, t, colony_id) for t in (count, brood, feeding, event)}
    names = {int(i): str(n) for i, n in connection.execute(select(colony.c.id, colony.c.name))}
    return [
        (int(row["id"]), entry_of_rows(row, {k: v.get(row["id"], []) for k, v in parts.items()}, names)) for row in rows
    ]


def _by_visit(connection: Connection, table: Any, colony_id: int) -> dict[int, list[Mapping[str, Any]]]:
    found: dict[int, list[Mapping[str, Any]]] = {}
    query = select(table).join(visit, table.c.visit_id == visit.c.id).where(visit.c.colony_id == colony_id)
    for row in connection.execute(query.order_by(table.c.id)).mappings():
        found.setdefault(row["visit_id"], []).append(dict(row))
    return found


def entry_of_rows(
    row: Mapping[Any, Any], parts: Mapping[str, list[Mapping[str, Any]]], names: Mapping[int, str]
) -> VisitEntry:
    """The entry of a row of `visit` and of the rows that belong to it, by table; `names` of the colonies by row."""
    return VisitEntry(
        day=date.fromisoformat(row["day"]),
        garden_ml=row["garden_ml"],
        fill_pct=row["fill_pct"],
        garden_error_pct=row["garden_error_pct"],
        counts=tuple(Count(c["what"], c["kind"], c["low"], c["high"]) for c in parts["count"]),
        seen=tuple(b["stage"] for b in parts["brood"] if b["seen"]),
        not_seen=tuple(b["stage"] for b in parts["brood"] if not b["seen"]),
        feedings=tuple(Feeding(f["amount"], f["unit"], f["plant"]) for f in parts["feeding"]),
        leaves_taken=row["leaves_taken"],
        leaves_taken_unit=row["leaves_taken_unit"],
        waste_g=row["waste_g"],
        health=tuple(w for w in row["health"].split(", ") if w),
        events=tuple(
            EventEntry(e["what"], e["amount"], e["plant"], names.get(e["other_id"], ""), e["note"])
            for e in parts["event"]
        ),
        note=row["note"],
        at=row["at"],
        uid=row["uid"],
    )
