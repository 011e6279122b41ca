"""A visit as a phone sends it, and how it comes into the record: once, however often and however late it is sent."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import Gathered, InputError
from nestwright.units import shown
from nestwright.workshop.changes import act, now
from nestwright.workshop.colonies import find_colony, model_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.doubted import doubts_of
from nestwright.workshop.entries import Told, entry_of
from nestwright.workshop.folder import Workshop
from nestwright.workshop.photos import add_photo
from nestwright.workshop.tables import change
from nestwright.workshop.tables import visit as visits
from nestwright.workshop.visits import STAGES, VisitEntry, add_visit, read_visits

__all__ = ["CLOCK_OFF", "FIELDS", "LISTS", "UID", "Written", "entry_told", "write_visit"]

FIELDS = ("uid", "day", "garden", "fill", "error", "workers", "counts", *STAGES, "leaves", "plant", "more_leaves",
          "taken", "waste", "event", "amount", "more_events", "note", "made", "now")  # fmt: skip
NAMES = {"garden_error": "error", "leaves_taken": "taken", "date": "day", "count": "counts"}
"""What the form calls what an entry calls otherwise."""
LISTS = ("health",)
UID = re.compile(r"[0-9a-f-]{16,64}")
"""A mark of a visit."""
CLOCK_OFF = 120_000
"""ms from which a phone's clock is said to be wrong."""
LATEST = 8.64e15
"""ms: a browser's clock tells no moment beyond (ECMAScript, time values)."""


@dataclass(frozen=True)
class Written:
    """A visit in the record: its row, the step that wrote it, ms that the phone's clock was off, remarks on it, and
    whether an earlier sending had written it already."""

    row: int
    colony: str
    step: int | None
    off: int
    remarks: tuple[str, ...]
    again: bool


def write_visit(workshop: Workshop, name: str, told: dict[str, Any], pictures: Sequence[tuple[str, bytes]]) -> Written:
    """Write a visit and its photographs in one act.

    Parameters
    ----------
    told : texts by the names of `FIELDS`, lists by those of `LISTS`; `made` and `now` are the phone's own clock, ms,
        when it was told and when it is sent: the difference of `now` from this computer's clock corrects `made`.
    pictures : names and contents of files.

    Raises
    ------
    InputError
        (FileError, for several) for what cannot be used, and where an earlier sending of the same mark told another
        visit: neither is lost, neither is written over.
    """
    at, off = _moment(told)
    today = datetime.fromtimestamp(at / 1000, workshop.zone).date()
    entry = replace(entry_told(told, today), at=at)
    with writing(workshop.engine) as connection:
        kept = find_colony(connection, name)
        row = _row(connection, entry.uid)
        again = row is not None
        if row is None:
            done = act(connection, f"visit of {kept.name} on {entry.day}")
            row = add_visit(done, kept.id, entry)
            step: int | None = done.step
            # what the record as a whole cannot mean is refused, here and with who gave or received
            notes = model_colony(connection, kept).notes
            for other in sorted({e.other for e in entry.events if e.other}):
                model_colony(connection, find_colony(connection, other))
            for called, content in pictures:
                add_photo(
                    done, workshop, content, shown=called[:100], owner=kept.name, colony_id=kept.id, visit_id=row,
                    at=at if entry.day == today else None,
                )  # fmt: skip
        else:
            _check_same(connection, kept.id, row, entry, day_told=bool(told.get("day")))
            step, notes = _step(connection, row), model_colony(connection, kept).notes
    with reading(workshop.engine) as connection:
        doubts = doubts_of(connection, kept.id, entry)
    about = tuple(r for r in notes if r.startswith(f"{entry.day}"))
    return Written(row, kept.name, step, off, (*about, *doubts), again)


def _moment(told: dict[str, Any]) -> tuple[int, int]:
    """When the visit was made by this computer's clock, UTC ms, and how far the phone's clock is ahead of it."""
    here = now()
    clocks = {}
    for name in ("made", "now"):
        text = str(told.get(name, "")).strip()
        if not text:
            return here, 0
        if not re.fullmatch(r"-?[0-9]{1,16}", text) or abs(int(text)) > LATEST:
            raise InputError(
                "is no moment", field=name, found=shown(text), allowed="whole milliseconds since 1970, UTC"
            )
        clocks[name] = int(text)
    ago = clocks["now"] - clocks["made"]
    if ago < 0:
        # the phone's clock was put back in between: when it was told is not known, that it was before now is
        return here, clocks["now"] - here
    return max(here - ago, 0), clocks["now"] - here


def _row(connection: Connection, uid: str) -> int | None:
    found = connection.execute(select(visits.c.id).where(visits.c.uid == uid)).scalar()
    return None if found is None else int(found)


def _step(connection: Connection, row: int) -> int | None:
    """The step that wrote a visit, so that it can still be taken back after a lost answer."""
    query = select(change.c.step).where(change.c.of_table == "visit", change.c.row == row, change.c.before == "")
    found = connection.execute(query.order_by(change.c.id.desc())).scalar()
    return None if found is None else int(found)


def _check_same(connection: Connection, colony_id: int, row: int, entry: VisitEntry, *, day_told: bool) -> None:
    """Raises InputError where a mark that is known comes with another visit."""
    there = next((old for found, old in read_visits(connection, colony_id) if found == row), None)
    # where no day was told, a form without script that is sent again after midnight would differ in nothing else
    alike = None if there is None else replace(there, at=entry.at, day=there.day if day_told else entry.day)
    if alike != entry:
        raise InputError(
            "this visit was recorded already, and not with the same figures: nothing was changed",
            found=f"recorded: {'a visit of another colony' if there is None else f'a visit on {there.day}'}",
            allowed="open the form anew for another visit; the recorded one is corrected from its colony's page",
        )


def _lines(text: str) -> list[str]:
    return [line.strip() for line in text.splitlines() if line.strip()]


def _united(value: str, unit: str) -> str | None:
    """A bare number in the unit that stands beside its field."""
    plain = value.strip()
    number = r"[-+\u2212]?[\d.,]+([eE][-+]?\d+)?"
    return f"{plain} {unit}" if re.fullmatch(number, plain) else plain or None


def entry_told(told: dict[str, Any], today: date) -> VisitEntry:
    """The entry of what a form tells; `today` is its day where none is told. Raises InputError."""
    text = {name: str(told.get(name, "")) for name in FIELDS}
    if not UID.fullmatch(text["uid"]):
        raise InputError("is no mark of a visit: open the form anew", field="uid", found=shown(text["uid"][:40]))
    faults = Gathered()
    given = _united(text["leaves"], "g")
    if text["plant"].strip() and not given:
        faults.add(InputError("a plant is told and no amount of it", field="leaves",
                              found=shown(text["plant"].strip()), allowed="as 3, in g, or 40 cm2"))  # fmt: skip
    if text["amount"].strip() and not text["event"].strip():
        faults.add(InputError("is told of nothing that was done", field="event", found=shown(text["amount"].strip())))
    event = f"{text['event'].strip()} {text['amount'].strip()}".strip() if text["event"].strip() else ""
    counts = faults.tried(_counts, text) or {}
    told_so = Told(
        date=text["day"].strip() or today.isoformat(),
        garden=_united(text["garden"], "mL"),
        fill=_united(text["fill"], "%"),
        garden_error=_united(text["error"], "%"),
        counts=counts,
        seen=tuple(s for s in STAGES if text[s] == "seen"),
        not_seen=tuple(s for s in STAGES if text[s] == "not"),
        feedings=(*((f"{given} {text['plant'].strip()}".strip(),) if given else ()), *_lines(text["more_leaves"])),
        leaves_taken=_united(text["taken"], "g"),
        waste=_united(text["waste"], "g"),
        health=tuple(told.get("health") or ()),
        events=(*((event,) if event else ()), *_lines(text["more_events"])),
        note=text["note"].strip(),
        uid=text["uid"],
    )
    entry = faults.tried(entry_of, told_so, lambda name: {"field": NAMES.get(name, name)})
    day = told_so.date if entry is None else entry.day.isoformat()
    if re.fullmatch(r"\d{4}-\d\d-\d\d", day) and day > today.isoformat():
        faults.add(InputError("is still to come", field="day", found=day, allowed=f"until today, {today}"))
    faults.tell()
    assert entry is not None  # else a fault was told
    return entry


def _counts(text: dict[str, str]) -> dict[str, str]:
    made = {"workers": text["workers"].strip()} if text["workers"].strip() else {}
    for line in _lines(text["counts"]):
        what, _, amount = line.partition(" ")
        if what in made:
            raise InputError("is counted twice", field="counts", found=shown(what), allowed="one count of each")
        made[what] = amount.strip()
    return made
