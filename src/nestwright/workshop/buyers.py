"""Buyers: a name and one way to reach them, shown and erased on request."""

from __future__ import annotations

import sqlite3
import uuid
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.changes import Act, forget
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.sales import sales
from nestwright.workshop.tables import buyer, feedback, sale

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
    with writing(workshop.engine) as connection:
        row = int(find_buyer(connection, name)["id"])
        gone = {"name": f"{ERASED} {row}", "contact": "", "note": "", "erased": _today(workshop)}
        forget(connection, "buyer erased on request", buyer, row, gone)
    # the freed pages still hold the letters until the file is written anew
    link = sqlite3.connect(workshop.database)
    try:
        link.execute("VACUUM")
        link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        link.close()
    return row


def _today(workshop: Workshop) -> str:
    from datetime import datetime

    return datetime.now(workshop.zone).date().isoformat()
