"""A visit of the record told anew: its form as it was told, and its correction, once, however often it is sent."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.units import shown
from nestwright.web.sent_visit import FIELDS, UID, Written, entry_told
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import Kept, find_colony, model_colony
from nestwright.workshop.database import writing
from nestwright.workshop.doubted import remarks_on
from nestwright.workshop.folder import Workshop
from nestwright.workshop.photos import add_photo
from nestwright.workshop.tables import change
from nestwright.workshop.visits import EventEntry, Feeding, VisitEntry, read_visits, replace_visit

__all__ = ["correct_visit", "find_visit", "mark_of", "told_by"]

PARTS = {
    "counts": ("workers", "counts"),
    "feedings": ("leaves", "plant", "more_leaves"),
}
"""Fields of the form that tell a list of a visit. A list whose fields are as they were stays as it is."""
NUMBERS = {
    "garden_ml": "garden",
    "fill_pct": "fill",
    "garden_error_pct": "error",
    "leaves_taken": "taken",
    "waste_g": "waste",
}


def find_visit(connection: Connection, kept: Kept, row: int) -> VisitEntry:
    """A visit of a colony by its row. Raises InputError for one that is not there."""
    found = next((entry for at, entry in read_visits(connection, kept.id) if at == row), None)
    if found is None:
        allowed = "a visit of the colony's page; what was taken back can be put back under History"
        raise InputError("this visit is not in the record", field="visit", found=f"{kept.name}, {row}", allowed=allowed)
    return found


def mark_of(entry: VisitEntry) -> str:
    """A mark of what a visit tells: another one as soon as any of it is another."""
    return hashlib.sha256(json.dumps(entry.to_dict(), sort_keys=True).encode()).hexdigest()[:24]


def told_by(entry: VisitEntry) -> dict[str, Any]:
    """The form's texts that tell a visit, by the names of `FIELDS`, and its words of health."""
    workers = next((c.text for c in entry.counts if c.what == "workers"), "")
    first = entry.feedings[0] if entry.feedings else None
    happened = entry.events[0] if entry.events else None
    told = dict.fromkeys(FIELDS, "")
    told |= {name: _number(getattr(entry, key)) for key, name in NUMBERS.items()}
    told |= dict.fromkeys(entry.seen, "seen") | dict.fromkeys(entry.not_seen, "not")
    if entry.leaves_taken is not None and entry.leaves_taken_unit != "g":
        told["taken"] += f" {entry.leaves_taken_unit}"
    if first is not None:
        told |= {"leaves": _number(first.amount) if first.unit == "g" else _given(first, plant=False)}
        told |= {"plant": first.plant}
    told |= {
        "day": entry.day.isoformat(),
        "workers": workers,
        "counts": "\n".join(f"{c.what} {c.text}" for c in entry.counts if c.what != "workers"),
        "more_leaves": "\n".join(_given(one) for one in entry.feedings[1:]),
        "event": "" if happened is None else happened.what,
        "amount": "" if happened is None else _how(happened),
        "more_events": "\n".join(_happened(one) for one in entry.events[1:]),
        "note": entry.note,
    }
    return {**told, "health": list(entry.health)}


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:.15g}"


def _given(one: Feeding, *, plant: bool = True) -> str:
    return f"{_number(one.amount)} {one.unit} {one.plant if plant else ''}".strip()


def _how(one: EventEntry) -> str:
    way = "to" if one.what.endswith("taken") else "from"
    return " ".join(x for x in (one.amount, one.plant, f"{way} {one.other}" if one.other else "", one.note) if x)


def _happened(one: EventEntry) -> str:
    return f"{one.what} {_how(one)}".strip()


def correct_visit(
    workshop: Workshop, name: str, told: dict[str, Any], pictures: Sequence[tuple[str, bytes]]
) -> Written:
    """Put what a form tells in the place of what a visit told; photographs are added to those that it has.

    Parameters
    ----------
    told : as for `write_visit`, with `corrects`, the visit's row, and `was`, its `mark_of` when the form was opened.

    Raises
    ------
    InputError
        (FileError, for several) for what cannot be used, and where the visit was changed since by someone else.
    """
    row = str(told.get("corrects", ""))
    if not (row.isascii() and row.isdecimal() and len(row) < 12):
        raise InputError("is no row of a visit", field="visit", found=shown(row[:40]))
    if not UID.fullmatch(str(told.get("uid", ""))):
        raise InputError("is no mark of a correction: open the form anew", field="uid")
    with writing(workshop.engine) as connection:
        kept = find_colony(connection, name)
        old = find_visit(connection, kept, int(row))
        entry = _entry(workshop, told, old)
        if entry == old and not pictures:
            return Written(int(row), kept.name, _step(connection, int(row)), 0, (), True)
        if mark_of(old) != str(told.get("was", "")) and entry != old:
            from nestwright.wording.visits import visit_line

            raise InputError("was changed since this form was opened: nothing of yours was written", field="visit",
                             found=f"{old.day}: {visit_line(old)}"[:400],
                             allowed="record once more to put yours in its place")  # fmt: skip
        done = act(connection, f"correction of the visit of {kept.name} on {entry.day}")
        if entry != old:
            replace_visit(done, int(row), entry)
        for called, content in pictures:
            add_photo(
                done, workshop, content, shown=called[:100], owner=kept.name, colony_id=kept.id, visit_id=int(row)
            )
        # what the record as a whole cannot mean is refused, here and with who gave or received before or now
        remarks = remarks_on(connection, kept, entry)
        for other in sorted({e.other for e in (*entry.events, *old.events) if e.other}):
            model_colony(connection, find_colony(connection, other))
    return Written(int(row), kept.name, done.step, 0, remarks, False)


def _entry(workshop: Workshop, told: dict[str, Any], old: VisitEntry) -> VisitEntry:
    """The visit as the form tells it, with all that the form left as it was exactly as it was."""
    before = told_by(old)

    def same(*names: str) -> bool:
        return all(_plain(told.get(name, "")) == _plain(before[name]) for name in names)

    stay = {part: same(*names) for part, names in PARTS.items()}
    left = {name: "" for part, names in PARTS.items() if stay[part] for name in names}
    day = str(told.get("day", "")).strip() or before["day"]
    lines, known = _events(told), {_happened(one): one for one in old.events}
    if lines:
        # a line that is as it was stays what it was: a file may have told more of it than a line can
        left |= {"event": "", "amount": "", "more_events": "\n".join(one for one in lines if one not in known)}
    entry = entry_told({**told, **left, "day": day}, datetime.now(workshop.zone).date())
    new = iter(entry.events)
    entry = replace(entry, events=tuple(known[one] if one in known else next(new) for one in lines))
    kept = {part: getattr(old, part) for part, holds in stay.items() if holds}
    kept |= {key: getattr(old, key) for key, name in NUMBERS.items() if same(name)}
    if same("taken"):
        kept["leaves_taken_unit"] = old.leaves_taken_unit
    if same("note"):
        kept["note"] = old.note
    # the moment is that of the look; where the day was wrong, so was the moment
    return replace(entry, uid=old.uid, at=old.at if entry.day == old.day else None, **kept)


def _events(told: dict[str, Any]) -> list[str]:
    """What was done or befell, a line each; empty where an amount is told of nothing."""
    event, amount, more = (str(told.get(name, "")).strip() for name in ("event", "amount", "more_events"))
    first = [f"{event} {amount}".strip()] if event else []
    return [] if amount and not event else first + [line.strip() for line in more.splitlines() if line.strip()]


def _plain(text: Any) -> str:
    """A text as it was before a browser sent it (HTML, form submission: line ends become CR LF)."""
    return str(text).replace("\r\n", "\n").strip()


def _step(connection: Connection, row: int) -> int | None:
    """The last step that changed a visit."""
    query = select(change.c.step).where(change.c.of_table == "visit", change.c.row == row)
    found = connection.execute(query.order_by(change.c.id.desc())).scalar()
    return None if found is None else int(found)
