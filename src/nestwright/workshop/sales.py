"""Sales: which build went to whom, what came back, what buyers told, and what is in stock. Not a shop."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, func, select

from nestwright.errors import InputError
from nestwright.workshop.builds import Made, find_build, kept_builds
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import build, buyer, feedback, parcel, sale, stock

__all__ = ["Sold", "add_feedback", "by_revision", "in_stock", "move_stock", "parts_in_stock", "recall", "sales", "sell"]
__all__ += ["take_back"]


@dataclass(frozen=True)
class Sold:
    """A sale: build and design, buyer as they stand in the record, days as ISO text; `returned` None for not."""

    id: int
    build: str
    habitat: str
    revision: str
    buyer: str
    contact: str
    day: str
    price: float | None
    currency: str
    parcel: int | None
    returned: str | None
    reason: str

    def to_dict(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "id"}


def sales(connection: Connection) -> list[Sold]:
    """Every sale, the newest first."""
    query = (
        select(
            sale.c.id, build.c.serial, build.c.habitat, build.c.revision, buyer.c.name, buyer.c.contact, sale.c.day,
            sale.c.price, sale.c.currency, sale.c.parcel_id, sale.c.returned, sale.c.reason,
        )
        .join(build, build.c.id == sale.c.build_id)
        .join(buyer, buyer.c.id == sale.c.buyer_id)
        .order_by(sale.c.day.desc(), sale.c.id.desc())
    )  # fmt: skip
    return [Sold(*tuple(row)) for row in connection.execute(query).all()]


def sell(done: Act, serial: str, buyer_id: int, values: Mapping[str, Any]) -> int:
    """A build goes to a buyer; `values` by column of a sale.

    Raises InputError for a build that is not there or has ended, one that is sold and was not returned, one that was
    sold before it was made, or a parcel that is not there.
    """
    made = find_build(done.connection, serial)
    if made.values["ended"]:
        raise InputError("has ended", field="build", found=serial, allowed="a build that is still there")
    if _is_out(done.connection, made.id):
        raise InputError(
            "is sold and was not returned",
            field="build",
            found=serial,
            allowed="a build in stock (`nestwright sales stock`)",
        )
    day, since = str(values["day"]), str(made.values["made"] or "")
    if since and day < since:
        raise InputError("lies before the build was made", field="--date", found=day, allowed=f"from {since}")
    number = values.get("parcel_id")
    if number is not None:
        there = done.connection.execute(select(parcel.c.direction).where(parcel.c.id == number)).scalar()
        if there != "out":
            found = "a parcel that came" if there else "no such parcel"
            raise InputError("is no parcel that was sent", field="--parcel", found=f"{number}, {found}")
    return done.add(sale, {"uid": uuid.uuid4().hex, "build_id": made.id, "buyer_id": buyer_id, **values})


def take_back(done: Act, serial: str, day: str, reason: str) -> int:
    """A sold build comes back. Raises InputError when it is not out, or came back before it went."""
    made = find_build(done.connection, serial)
    row = _is_out(done.connection, made.id)
    if row is None:
        raise InputError("is not with a buyer", field="build", found=serial)
    sold = str(done.connection.execute(select(sale.c.day).where(sale.c.id == row)).scalar_one())
    if day < sold:
        raise InputError("lies before it was sold", field="--date", found=day, allowed=f"from {sold}")
    done.change(sale, row, {"returned": day, "reason": reason})
    return row


def _is_out(connection: Connection, build_id: int) -> int | None:
    """The sale by which a build is with a buyer now."""
    query = select(sale.c.id).where(sale.c.build_id == build_id, sale.c.returned.is_(None))
    return connection.execute(query.order_by(sale.c.id.desc()).limit(1)).scalar()


def add_feedback(done: Act, serial: str, kind: str, words: str, day: str) -> int:
    """What a buyer told of a build. Raises InputError for a build that is not there."""
    made = find_build(done.connection, serial)
    row = {"uid": uuid.uuid4().hex, "build_id": made.id, "day": day, "kind": kind, "words": words}
    return done.add(feedback, row)


def recall(connection: Connection, habitat: str, revision: str | None) -> list[Sold]:
    """Who has builds of a design now (of one revision, or of all), by serial: whom to tell of a fault.

    Raises InputError when no build has that design, or that revision.
    """
    name = _stem(habitat)
    own = [m for m in kept_builds(connection) if _stem(str(m.values["habitat"])) == name]
    if not own:
        known = sorted({_stem(str(m.values["habitat"])) for m in kept_builds(connection)})
        raise InputError("no build has this design", field="habitat", found=repr(habitat[:80]), allowed=_list(known))
    revisions = sorted({str(m.values["revision"]) for m in own})
    if revision is not None and revision not in revisions:
        raise InputError(
            "no build has this revision", field="--revision", found=repr(revision[:40]), allowed=_list(revisions)
        )
    wanted = {m.serial for m in own if revision is None or str(m.values["revision"]) == revision}
    out = [one for one in sales(connection) if one.returned is None and one.build in wanted]
    return sorted(out, key=lambda one: one.build)


def in_stock(connection: Connection) -> list[Made]:
    """Builds that can be sold: not ended, not with a buyer, nobody lives in them."""
    out = set(connection.execute(select(sale.c.build_id).where(sale.c.returned.is_(None))).scalars())
    return [m for m in kept_builds(connection) if m.id not in out and not m.values["ended"] and not m.colony]


def move_stock(done: Act, values: Mapping[str, Any]) -> int:
    """Parts come into stock or go out of it; pieces that are left. Raises InputError for more than there are."""
    keys = ("part", "habitat", "revision")
    query = select(func.coalesce(func.sum(stock.c.change), 0))
    for key in keys:
        query = query.where(stock.c[key] == values[key])
    left = int(done.connection.execute(query).scalar_one()) + int(values["change"])
    if left < 0:
        have = left - int(values["change"])
        raise InputError("more than there are", field="pieces", found=str(values["change"]), allowed=f"up to {have}")
    done.add(stock, {"uid": uuid.uuid4().hex, **values})
    return left


def parts_in_stock(connection: Connection) -> list[dict[str, Any]]:
    """Parts by name, design and revision with the pieces that are there; those of which none is left are not told."""
    keys = (stock.c.part, stock.c.habitat, stock.c.revision)
    pieces = func.sum(stock.c.change).label("pieces")
    query = select(*keys, pieces).group_by(*keys).having(pieces > 0).order_by(*keys)
    return [dict(row) for row in connection.execute(query).mappings()]


def by_revision(connection: Connection) -> list[dict[str, Any]]:
    """For each design and revision: builds, sold, returned, feedback by kind, the words of returns and feedback."""
    found: dict[tuple[str, str], dict[str, Any]] = {}
    at: dict[int, tuple[str, str]] = {}
    for made in kept_builds(connection):
        key = (_stem(str(made.values["habitat"])), str(made.values["revision"]))
        at[made.id] = key
        row = found.setdefault(key, {"builds": 0, "sold": 0, "returned": 0, "praise": 0, "question": 0, "fault": 0})
        row["builds"] += 1
    told: dict[tuple[str, str], list[str]] = {key: [] for key in found}
    for one in connection.execute(select(sale.c.build_id, sale.c.returned, sale.c.reason).order_by(sale.c.id)):
        row = found[at[int(one.build_id)]]
        row["sold"] += 1
        if one.returned:
            row["returned"] += 1
            told[at[int(one.build_id)]].append(f"returned: {one.reason or 'no reason told'}")
    for one in connection.execute(select(feedback).order_by(feedback.c.day, feedback.c.id)):
        found[at[int(one.build_id)]][one.kind] += 1
        told[at[int(one.build_id)]].append(f"{one.kind}: {one.words}")
    return [{"habitat": h, "revision": r, **row, "told": told[h, r]} for (h, r), row in sorted(found.items())]


def _stem(name: str) -> str:
    return name.replace("\\", "/").rsplit("/", 1)[-1].removesuffix(".toml")


def _list(names: list[str]) -> str:
    return ", ".join(names)[:300] or "none yet"
