"""Parcels of the record: sent, seen on their way, arrived, and how late."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.parcel.calendar import days_late, due_day
from nestwright.parcel.delay import Sent
from nestwright.units import shown
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import build, colony, logger, parcel, parcel_scan

__all__ = [
    "KeptParcel",
    "add_parcel",
    "add_scan",
    "arrived",
    "complete_parcel",
    "find_parcel",
    "kept_parcels",
    "parcels",
    "sent_parcels",
]


@dataclass(frozen=True)
class KeptParcel:
    """A parcel's row: `id`, its columns, the names of its colony, build and logger, and where it was seen, the first
    first; `due` and `late` (days of delivery) where a promise and the days are told."""

    id: int
    values: Mapping[str, Any]
    colony: str
    build: str
    logger: str
    scans: tuple[Mapping[str, Any], ...]
    due: date | None
    late: int | None
    zone: ZoneInfo

    def moment(self, at: int) -> str:
        """A moment, UTC ms, as day and hour on the clock of the workshop."""
        return datetime.fromtimestamp(at / 1000, self.zone).strftime("%Y-%m-%d %H:%M")

    @property
    def name(self) -> str:
        """By which it is spoken of: its name, else its number."""
        return str(self.values["name"] or self.id)

    def to_dict(self) -> dict[str, Any]:
        import json

        hidden = ("id", "uid", "name", "colony_id", "build_id", "logger_id", "predicted")
        plain = {k: v for k, v in self.values.items() if k not in hidden}
        told = self.values["predicted"]
        return {
            "number": self.id,
            "name": self.name,
            "colony": self.colony,
            "build": self.build,
            "logger": self.logger,
            **plain,
            "due": None if self.due is None else self.due.isoformat(),
            "days_late": self.late,
            "predicted": json.loads(told) if told else None,
            "scans": [{k: s[k] for k in ("at", "place", "note")} for s in self.scans],
        }


def add_parcel(done: Act, colony_id: int | None, values: Mapping[str, Any]) -> int:
    """Write a parcel, of a colony or of none; `values` by column, days as ISO text.

    Raises InputError for one that arrived before it was sent, that tells neither day, or whose name is taken.
    """
    sent, came = values.get("sent"), values.get("arrived")
    if not sent and not came:
        raise InputError("says too little", field="parcel", found="no day", allowed="--sent, --arrived or both")
    _in_order(values, "--arrived")
    name = values.get("name")
    if name and done.connection.execute(select(parcel.c.id).where(parcel.c.name == name)).first():
        raise InputError("there is a parcel of this name already", field="name", found=shown(name))
    return done.add(parcel, {"uid": uuid.uuid4().hex, "colony_id": colony_id, **values})


def add_scan(done: Act, kept: KeptParcel, values: Mapping[str, Any], field: str = "at") -> int:
    """Where a parcel was seen: `at` UTC ms, `place`, `note`. Raises InputError, naming `field`, for a moment before it
    was sent or after it arrived."""
    for end, wrong, word in (("sent", -1, "before it was sent"), ("arrived", 1, "after it arrived")):
        limit = kept.values[f"{end}_at"]
        if limit is not None and wrong * (values["at"] - limit) > 0:
            found, told = (kept.moment(at) for at in (values["at"], limit))
            allowed = f"{told} or {'later' if wrong < 0 else 'earlier'}"
            raise InputError(f"was seen {word}", field=field, found=found, allowed=allowed)
    return done.add(parcel_scan, {"uid": uuid.uuid4().hex, "parcel_id": kept.id, **values})


def complete_parcel(done: Act, kept: KeptParcel, values: Mapping[str, Any], field: str = "arrived") -> None:
    """Write that a parcel has arrived, and what was found in it. Raises InputError, naming `field`, for an arrival
    before it was sent or last seen."""
    _in_order({**kept.values, **values}, field, kept)
    came, seen = values.get("arrived_at"), max((one["at"] for one in kept.scans), default=0)
    if came is not None and came < seen:
        allowed = f"{kept.moment(seen)} or later"
        raise InputError("arrived before it was last seen", field=field, found=kept.moment(came), allowed=allowed)
    done.change(parcel, kept.id, values)


def arrived(done: Act, colony_id: int, direction: str, values: Mapping[str, Any]) -> int | None:
    """Complete the last parcel of this direction that is under way; its row, None when there is none.

    Raises InputError for one that would have arrived before it was sent.
    """
    query = select(parcel).where(
        parcel.c.colony_id == colony_id, parcel.c.direction == direction, parcel.c.arrived.is_(None)
    )
    found = done.connection.execute(query.order_by(parcel.c.sent.desc(), parcel.c.id.desc())).mappings().first()
    if found is None:
        return None
    _in_order({**found, **values}, "--arrived")
    done.change(parcel, int(found["id"]), values)
    return int(found["id"])


def _in_order(values: Mapping[str, Any], field: str, kept: KeptParcel | None = None) -> None:
    for sent, came in (("sent", "arrived"), ("sent_at", "arrived_at")):
        first, then = values.get(sent), values.get(came)
        if first and then and then < first:
            by_hour = kept is not None and values.get("sent_at") and values.get("arrived_at")
            told = [kept.moment(values[f"{k}_at"]) if kept and by_hour else values[k] for k in ("arrived", "sent")]
            raise InputError("arrived before it was sent", field=field, found=told[0], allowed=f"{told[1]} or later")


def kept_parcels(connection: Connection, zone: ZoneInfo, *, under_way: bool = False) -> list[KeptParcel]:
    """Every parcel, the newest first; with `under_way` those only that have not arrived."""
    query = (
        select(parcel, colony.c.name.label("of_colony"), build.c.serial, logger.c.name.label("of_logger"))
        .outerjoin(colony, parcel.c.colony_id == colony.c.id)
        .outerjoin(build, parcel.c.build_id == build.c.id)
        .outerjoin(logger, parcel.c.logger_id == logger.c.id)
    )
    if under_way:
        query = query.where(parcel.c.arrived.is_(None))
    rows = [dict(row) for row in connection.execute(query).mappings()]
    seen: dict[int, list[Mapping[str, Any]]] = {}
    for row in connection.execute(select(parcel_scan).order_by(parcel_scan.c.at, parcel_scan.c.id)).mappings():
        seen.setdefault(int(row["parcel_id"]), []).append(dict(row))
    found = [_kept(row, tuple(seen.get(row["id"], ())), zone) for row in rows]
    return sorted(found, key=lambda one: (one.values["sent"] or one.values["arrived"] or "", one.id), reverse=True)


def _kept(row: dict[str, Any], scans: tuple[Mapping[str, Any], ...], zone: ZoneInfo) -> KeptParcel:
    names = (str(row.pop("of_colony") or ""), str(row.pop("serial") or ""), str(row.pop("of_logger") or ""))
    due = _due(row, zone)
    late = None if due is None or not row["arrived"] else days_late(due, date.fromisoformat(row["arrived"]))
    return KeptParcel(int(row["id"]), row, *names, scans, due, late, zone)


def _due(row: Mapping[str, Any], zone: ZoneInfo) -> date | None:
    if not row["sent"] or row["promised_hours"] is None:
        return None
    if row["sent_at"] is None:
        return due_day(date.fromisoformat(row["sent"]), row["promised_hours"])
    moment = datetime.fromtimestamp(row["sent_at"] / 1000, UTC).astimezone(zone).replace(tzinfo=None)
    return due_day(moment, row["promised_hours"])


def find_parcel(connection: Connection, zone: ZoneInfo, told: str) -> KeptParcel:
    """A parcel by its name or number, or the last one of a colony by the colony's name. Raises InputError."""
    every = kept_parcels(connection, zone)
    plain = told.strip().casefold()
    found = next((p for p in every if p.name.casefold() == plain or str(p.id) == plain), None)
    found = found or next((p for p in every if p.colony.casefold() == plain), None)
    if found is not None:
        return found
    names = list(dict.fromkeys([*(p.name for p in every), *(p.colony for p in every if p.colony)]))
    raise InputError(
        "is no parcel of this workshop",
        field="parcel",
        found=shown(told),
        allowed=", ".join(names)[:400] or "none yet: add one with `nestwright parcels add`",
        nearest=nearest_name(told[:200], names),
    )


def sent_parcels(kept: list[KeptParcel]) -> list[Sent]:
    """What the delays are learned from: parcels that have arrived, with a promise. One without a route counts by its
    carrier's name."""
    return [Sent(p.values["route"] or p.values["carrier"], p.late) for p in kept if p.late is not None]


def parcels(connection: Connection, colony_id: int) -> list[dict[str, Any]]:
    """Every parcel of a colony by day: id, direction, sent, arrived, carrier, state, note."""
    rows = connection.execute(select(parcel).where(parcel.c.colony_id == colony_id).order_by(parcel.c.id)).mappings()
    names = ("id", "direction", "sent", "arrived", "carrier", "state", "note")
    found = [{k: row[k] for k in names} for row in rows]
    return sorted(found, key=lambda one: one["sent"] or one["arrived"] or "")
