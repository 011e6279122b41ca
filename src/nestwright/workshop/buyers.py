"""Buyers: a name and one way to reach them, shown and erased on request."""

from __future__ import annotations

import json
import sqlite3
import uuid
from typing import Any

from sqlalchemy import Connection, select, update

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.changes import Act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.sales import sales
from nestwright.workshop.tables import buyer, change, feedback, sale

__all__ = ["about_buyer", "add_buyer", "buyers", "erase_buyer", "find_buyer"]

ERASED = "erased"


def buyers(connection: Connection) -> list[dict[str, Any]]:
    """Every buyer by name."""
    return [dict(row) for row in connection.execute(select(buyer).order_by(buyer.c.name, buyer.c.id)).mappings()]


def add_buyer(done: Act, name: str, contact: str, day: str, note: str) -> int:
    """A buyer. Raises InputError for a name that another one has."""
    if any(b["name"].casefold() == name.casefold() for b in buyers(done.connection)):
        raise InputError(
            "there is a buyer of this name already", field="name", found=name, allowed="a name of their own"
        )
    return done.add(buyer, {"uid": uuid.uuid4().hex, "name": name, "contact": contact, "since": day, "note": note})


def find_buyer(connection: Connection, name: str) -> dict[str, Any]:
    """A buyer by name, whatever the case of its letters. Raises InputError with the nearest name."""
    known = {str(b["name"]): b for b in buyers(connection) if not b["erased"]}
    for own, row in known.items():
        if own.casefold() == name.casefold():
            return row
    raise InputError(
        "is no buyer of this workshop",
        field="buyer",
        found=repr(name[:100]),
        allowed=", ".join(known)[:300] or "none yet: add one with `nestwright sales buyer`",
        nearest=nearest_name(name[:100], known),
    )


def about_buyer(connection: Connection, name: str) -> dict[str, Any]:
    """All that is kept of one buyer: what they may ask to see."""
    found = find_buyer(connection, name)
    own = select(sale.c.build_id).where(sale.c.buyer_id == found["id"])
    told = connection.execute(select(feedback).where(feedback.c.build_id.in_(own))).mappings()
    return {
        "name": found["name"],
        "contact": found["contact"],
        "since": found["since"],
        "note": found["note"],
        "sales": [one.to_dict() for one in sales(connection) if one.buyer == found["name"]],
        "feedback": [{k: row[k] for k in ("day", "kind", "words")} for row in told],
    }


def erase_buyer(workshop: Workshop, name: str) -> int:
    """Name, contact and note of a buyer are taken out of the record and out of its history; the sales stay without
    them. Returns the number under which the buyer stands from then on.

    It cannot be taken back. What was freed in the file is overwritten. Backups, exports, papers are not reached.

    Raises InputError for a name that is not there.
    """
    from nestwright.workshop.changes import now

    with writing(workshop.engine) as connection:
        row = int(find_buyer(connection, name)["id"])
        day = _today(workshop)
        gone = {"name": f"{ERASED} {row}", "contact": "", "note": "", "erased": day}
        connection.execute(update(buyer).where(buyer.c.id == row).values(**gone))
        for one in connection.execute(
            select(change.c.id, change.c.before, change.c.after).where(
                change.c.of_table == "buyer", change.c.row == row
            )
        ).all():
            kept = {k: _without(text, gone) for k, text in (("before", one.before), ("after", one.after))}
            connection.execute(update(change).where(change.c.id == one.id).values(**kept))
        last = connection.execute(select(change.c.step).order_by(change.c.step.desc()).limit(1)).scalar() or 0
        step = int(last) + 1
        # it stands as taking itself back, so that `undo` passes it by: there is nothing to go back to
        told = {"step": step, "undoes": step, "at": now(), "act": "buyer erased on request", "of_table": "buyer"}
        after = dict(connection.execute(select(buyer).where(buyer.c.id == row)).mappings().one())
        text = json.dumps(after, ensure_ascii=False)
        connection.execute(change.insert().values(**told, row=row, before=text, after=text))
    # the freed pages still hold the letters until the file is written anew
    link = sqlite3.connect(workshop.database)
    try:
        link.execute("VACUUM")
        link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        link.close()
    return row


def _without(text: str, gone: dict[str, Any]) -> str:
    if not text:
        return text
    return json.dumps({**json.loads(text), **gone}, ensure_ascii=False)


def _today(workshop: Workshop) -> str:
    from datetime import datetime

    return datetime.now(workshop.zone).date().isoformat()
