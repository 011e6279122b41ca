"""Parcels that brought a colony, garden or brood, or took some away."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import parcel

__all__ = ["add_parcel", "arrived", "parcels"]


def add_parcel(done: Act, colony_id: int, values: Mapping[str, Any]) -> int:
    """Write a parcel of a colony; `values` by column, days as ISO text.

    Raises InputError for one that arrived before it was sent, or that tells neither day.
    """
    sent, came = values.get("sent"), values.get("arrived")
    if not sent and not came:
        raise InputError("says too little", field="parcel", found="no day", allowed="--sent, --arrived or both")
    _in_order(sent, came)
    return done.add(parcel, {"uid": uuid.uuid4().hex, "colony_id": colony_id, **values})


def arrived(done: Act, colony_id: int, direction: str, values: Mapping[str, Any]) -> int | None:
    """Complete the last parcel of this direction that is under way; its row, None when there is none.

    Raises InputError for one that would have arrived before it was sent.
    """
    query = select(parcel.c.id, parcel.c.sent).where(
        parcel.c.colony_id == colony_id, parcel.c.direction == direction, parcel.c.arrived.is_(None)
    )
    found = done.connection.execute(query.order_by(parcel.c.sent.desc(), parcel.c.id.desc())).first()
    if found is None:
        return None
    _in_order(found.sent, values.get("arrived"))
    done.change(parcel, int(found.id), values)
    return int(found.id)


def _in_order(sent: str | None, came: str | None) -> None:
    if sent and came and came < sent:
        raise InputError("arrived before it was sent", field="--arrived", found=came, allowed=f"{sent} or later")


def parcels(connection: Connection, colony_id: int) -> list[dict[str, Any]]:
    """Every parcel of a colony by day: id, direction, sent, arrived, carrier, state, note."""
    rows = connection.execute(select(parcel).where(parcel.c.colony_id == colony_id).order_by(parcel.c.id)).mappings()
    names = ("id", "direction", "sent", "arrived", "carrier", "state", "note")
    found = [{k: row[k] for k in names} for row in rows]
    return sorted(found, key=lambda one: one["sent"] or one["arrived"] or "")
