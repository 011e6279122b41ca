"""Colonies of the record, and each as the growth model takes it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import bell, build, colony, event, stay
from nestwright.workshop.visits import VisitEntry, read_visits

if TYPE_CHECKING:
    from nestwright.colony.model import Colony

__all__ = [
    "Kept",
    "add_bell",
    "add_colony",
    "colony_tables",
    "find_colony",
    "kept_colonies",
    "model_colony",
    "move_in",
    "stays",
]


@dataclass(frozen=True)
class Kept:
    """A colony's row: `id`, and its columns by name in `values`."""

    id: int
    values: Mapping[str, Any]

    @property
    def name(self) -> str:
        return str(self.values["name"])


def kept_colonies(connection: Connection, *, ended: bool = True) -> list[Kept]:
    """Every colony by name; without those that have ended when `ended` is not set."""
    query = select(colony).order_by(colony.c.name)
    if not ended:
        query = query.where(colony.c.ended.is_(None))
    return [Kept(int(row["id"]), dict(row)) for row in connection.execute(query).mappings()]


def find_colony(connection: Connection, name: str) -> Kept:
    """A colony by its name, whatever the case of its letters. Raises InputError with the nearest name."""
    found = kept_colonies(connection)
    exact = [k for k in found if k.name == name] or [k for k in found if k.name.casefold() == name.casefold()]
    if len(exact) == 1:
        return exact[0]
    names = [k.name for k in found]
    raise InputError(
        "is no colony of this workshop",
        field="colony",
        found=repr(name),
        allowed=", ".join(names) or "none yet: add one with `nestwright colony add`",
        nearest=nearest_name(name, names),
    )


def add_colony(done: Act, values: Mapping[str, Any]) -> int:
    """Write a colony; `values` by column. Raises InputError for a name that is taken."""
    taken = done.connection.execute(select(colony.c.id).where(colony.c.name == values["name"])).first()
    if taken:
        raise InputError("there is a colony of this name already", field="name", found=repr(values["name"]))
    return done.add(colony, {"queen": "laying", "leaves": "free", **values})


def colony_tables(connection: Connection, kept: Kept) -> dict[str, Any]:
    """A colony with its whole record as the tables of a colony file, with texts and units."""
    v = kept.values
    visits = [entry for _, entry in read_visits(connection, kept.id)]
    made: dict[str, Any] = {"format": 1} | {k: v[k] for k in ("name", "species", "start", "leaves")}
    made |= {k: v[k] for k in ("climate", "note") if v[k]} | ({"end": v["ended"]} if v["ended"] else {})
    made["queen"] = {"state": v["queen"]}
    made["arrival"] = _told(
        v,
        {"arrival_garden_ml": ("garden", "mL"), "arrival_garden_error_pct": ("garden_error", "%")},
    ) | {k: v[f"arrival_{k}"] for k in ("workers", "brood") if v[f"arrival_{k}"]}
    made["housing"] = _told(
        v,
        {
            "chamber_ml": ("chamber", "mL"),
            "opening_mm": ("opening", "mm"),
            "lid_mm": ("lid", "mm"),
            "headroom_mm": ("headroom", "mm"),
            "making_days": ("making_time", "day"),
            "chamber_days": ("chamber_time", "day"),
        },
    )
    bells = connection.execute(select(bell).where(bell.c.colony_id == kept.id).order_by(bell.c.day)).mappings()
    sizes = {"usable_ml": ("usable", "mL"), "diameter_mm": ("diameter", "mm"), "height_mm": ("height", "mm")}
    made["bell"] = [{"from": b["day"], "kind": b["kind"], "name": b["name"], **_told(b, sizes)} for b in bells]
    made["visit"] = [_visit(entry) for entry in visits]
    happened = connection.execute(
        select(event).where(event.c.colony_id == kept.id).order_by(event.c.day, event.c.id)
    ).mappings()
    made["event"] = [
        {"date": e["day"], "what": e["what"]} | {k: e[k] for k in ("amount", "plant", "note") if e[k]} for e in happened
    ]
    for entry in visits:
        for given in entry.feedings[1:]:  # a visit of the file has one feeding; the others are events of its day
            told = {"date": entry.day.isoformat(), "what": "leaves given", "amount": f"{given.amount!r} {given.unit}"}
            made["event"].append(told | ({"plant": given.plant} if given.plant else {}))
    return made


def model_colony(connection: Connection, kept: Kept) -> Colony:
    """A colony as the growth model takes it. Raises InputError (FileError) for a record that contradicts itself."""
    from nestwright.colony.file import colony_from_dict

    return colony_from_dict(colony_tables(connection, kept), f"record of {kept.name}")


def _told(values: Mapping[Any, Any], names: Mapping[str, tuple[str, str]]) -> dict[str, str]:
    """The columns that are told, each as a text with its unit."""
    return {key: f"{values[c]!r} {unit}" for c, (key, unit) in names.items() if values[c] is not None}


def _visit(entry: VisitEntry) -> dict[str, Any]:
    columns = entry.__dict__
    made: dict[str, Any] = {"date": entry.day.isoformat()} | _told(
        columns,
        {
            "garden_ml": ("garden", "mL"),
            "fill_pct": ("fill", "%"),
            "garden_error_pct": ("garden_error", "%"),
            "waste_g": ("waste", "g"),
            "leaves_taken": ("leaves_taken", entry.leaves_taken_unit or "g"),
        },
    )
    for one in entry.counts:
        if one.what == "workers":
            made["workers"] = one.text
    # a kind of brood that was counted was looked for
    told = (*entry.seen, *entry.not_seen)
    counted = {c.what: c.high > 0 for c in entry.counts if c.what in ("eggs", "larvae", "pupae") and c.what not in told}
    seen = [*entry.seen, *(k for k, there in counted.items() if there)]
    not_seen = [*entry.not_seen, *(k for k, there in counted.items() if not there)]
    made |= {k: v for k, v in (("seen", seen), ("not_seen", not_seen)) if v}
    if entry.feedings:
        first = entry.feedings[0]
        made |= {"leaves": f"{first.amount!r} {first.unit}"} | ({"plant": first.plant} if first.plant else {})
    return made | ({"note": entry.note} if entry.note else {})


def move_in(done: Act, colony_id: int, build_id: int, day: str, note: str = "") -> int:
    """From this day on the colony lives in a build."""
    return done.add(stay, {"colony_id": colony_id, "build_id": build_id, "day": day, "note": note})


def stays(connection: Connection, colony_id: int) -> list[tuple[str, str]]:
    """Since when a colony lived in which build: (day, serial), the first first."""
    query = select(stay.c.day, build.c.serial).join(build, stay.c.build_id == build.c.id)
    found = connection.execute(query.where(stay.c.colony_id == colony_id).order_by(stay.c.day)).all()
    return [(str(day), str(serial)) for day, serial in found]


def add_bell(done: Act, colony_id: int, values: Mapping[str, Any]) -> int:
    """A bell, or the whole chamber, over the garden from a day on."""
    return done.add(bell, {"colony_id": colony_id, "kind": "bell", **values})
