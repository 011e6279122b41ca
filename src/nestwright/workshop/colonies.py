"""Colonies of the record, and each as the growth model takes it."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from nestwright.errors import FileError, InputError, nearest_name
from nestwright.units import shown
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import bell, build, colony, event, photo, stay
from nestwright.workshop.typed import LONGEST_NAME, check_name, checked, line_of_text
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
    "photos",
    "stays",
    "values_of",
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
    exact = [k for k in found if k.name == name] or [k for k in found if _alike(k.name) == _alike(name)]
    if len(exact) == 1:
        return exact[0]
    names = [k.name for k in found]
    raise InputError(
        "is no colony of this workshop",
        field="colony",
        found=shown(name),
        allowed=", ".join(names)[:400] or "none yet: add one with `nestwright colony add`",
        nearest=nearest_name(name[:200], names),
    )


def _alike(name: str) -> str:
    """What two names have in common that cannot be told apart when they are typed."""
    return unicodedata.normalize("NFKC", name).casefold()


FILE_LIKE = re.compile(r"^[.\-~]|[/\\]|\.(?:toml|csv|json|db|zip)$", re.IGNORECASE)


def add_colony(done: Act, values: Mapping[str, Any]) -> int:
    """Write a colony; `values` by column. Raises InputError for a name that is taken, or that a path could be."""
    name = str(values["name"])
    check_name(name)
    if FILE_LIKE.search(name):
        raise InputError(
            "could be taken for a file or an option: commands take a colony's name where they take its file",
            field="name",
            found=shown(name),
            allowed="a name without / and \\, that does not begin with . - ~ and has no ending as .toml",
        )
    for other in done.connection.execute(select(colony.c.name)).scalars():
        if _alike(other) == _alike(name):
            raise InputError("there is a colony of this name already", field="name", found=shown(other))
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
    """A colony as the growth model takes it.

    Raises InputError (FileError) for a record that contradicts itself; what is at fault is named by its day.
    """
    from nestwright.colony.file import colony_from_dict

    tables = colony_tables(connection, kept)
    try:
        return colony_from_dict(tables, f"record of {kept.name}")
    except FileError as error:
        raise FileError([_by_day(one, tables) for one in error.errors]) from None


def _by_day(error: InputError, tables: Mapping[str, Any]) -> InputError:
    """An error of visit[3].garden as one of the garden at the visit of its day."""
    match = re.fullmatch(r"(visit|event|bell)\[(\d+)\]\.?(.*)", error.field)
    if match is None:
        return error
    row = tables[match[1]][int(match[2])]
    what = f"{match[1]} {row['what']!r}" if "what" in row else match[1]
    field = f"{what} of {row.get('date') or row.get('from')}" + (f", {match[3]}" if match[3] else "")
    rest = {k: getattr(error, k) for k in ("file", "line", "found", "allowed", "nearest")}
    return InputError(error.message, field=field, **rest)


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
    """From this day on the colony lives in a build.

    Raises InputError when it moved on that day already, or when another colony lives in the build.
    """
    from nestwright.workshop.builds import lives_in

    link = done.connection
    if link.execute(select(stay.c.id).where(stay.c.colony_id == colony_id, stay.c.day == day)).first():
        raise InputError("moved on this day already: one move a day", field="--date", found=day)
    there = lives_in(link, build_id)
    own, start = link.execute(select(colony.c.name, colony.c.start).where(colony.c.id == colony_id)).one()
    if day < start:
        raise InputError("lies before the start of its record", field="--date", found=day, allowed=f"from {start}")
    if there and there != own:
        raise InputError("another colony lives in this build", field="build", found=there, allowed="an empty build")
    return done.add(stay, {"colony_id": colony_id, "build_id": build_id, "day": day, "note": note})


def stays(connection: Connection, colony_id: int) -> list[tuple[str, str]]:
    """Since when a colony lived in which build: (day, serial), the first first."""
    query = select(stay.c.day, build.c.serial).join(build, stay.c.build_id == build.c.id)
    found = connection.execute(query.where(stay.c.colony_id == colony_id).order_by(stay.c.day)).all()
    return [(str(day), str(serial)) for day, serial in found]


def photos(connection: Connection, colony_id: int) -> list[dict[str, Any]]:
    """Every photo of a colony, the first first: file under photos/, when it was taken (UTC ms or None), note."""
    query = select(photo.c.file, photo.c.taken, photo.c.note).where(photo.c.colony_id == colony_id)
    return [dict(row) for row in connection.execute(query.order_by(photo.c.taken, photo.c.id)).mappings()]


def add_bell(done: Act, colony_id: int, values: Mapping[str, Any]) -> int:
    """A bell, or the whole chamber, over the garden from a day on."""
    return done.add(bell, {"colony_id": colony_id, "kind": "bell", **values})


def values_of(
    name: str,
    species: str,
    queen: str,
    garden: str | None,
    workers: str | None,
    brood: str | None,
    chamber: str | None,
) -> dict[str, Any]:
    """The values of a new colony, as they were typed. Raises InputError."""
    from nestwright.colony.texts import format_count, parse_count, parse_garden
    from nestwright.data import load_species
    from nestwright.units import parse_quantity

    if queen not in ("laying", "unknown", "none"):
        raise InputError("unknown word", field="--queen", found=shown(queen), allowed="laying, unknown, none")
    counts = {k: checked(parse_count, v, f"--{k}") for k, v in (("workers", workers), ("brood", brood))}
    return {
        "name": line_of_text(name, "name", most=LONGEST_NAME),
        "species": load_species(line_of_text(species, "--species")).name,
        "queen": queen,
        "arrival_garden_ml": checked(parse_garden, garden, "--garden"),
        "chamber_ml": checked(lambda t: parse_quantity(t, "volume") * 1e6, chamber, "--chamber"),
        **{f"arrival_{k}": "" if c is None else format_count(c) for k, c in counts.items()},
    }
