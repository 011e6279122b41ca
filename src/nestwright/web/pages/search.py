"""Search: all that the record tells, the files of habitats and the pages, by any word, whatever its accents."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import APIRouter, Request
from sqlalchemy import Connection, func, literal, select
from starlette.responses import Response

from nestwright.web.named import step
from nestwright.web.preferences import preferences_of
from nestwright.web.render import NAVIGATION, page, workshop_at
from nestwright.web.words import words_of
from nestwright.workshop.database import reading
from nestwright.workshop.tables import build, buyer, colony, event, feeding, logger, parcel, photo, visit

router = APIRouter(prefix="/search")
MOST = 20
"""Of each kind."""


WHOLE = str.maketrans({"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ı": "i", "ð": "d", "þ": "th"})
"""Letters that Unicode does not take apart, as they are written where they cannot be typed."""
SPELLED = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})


@dataclass(frozen=True)
class Found:
    kind: str
    name: str
    address: str
    says: str = ""
    day: str = ""


@router.get("")
def search(request: Request, q: str = "") -> Response:
    """Everything that has all the words."""
    words = [one for one in (plain(word) for word in q[:200].split()[:8]) if one]
    workshop = workshop_at(request)
    found: list[Found] = []
    if words:
        with reading(workshop.engine) as connection:
            found = list(_record(connection, words))
        files = sorted(one.stem for one in (workshop.folder / "habitats").glob("*.toml"))
        found += [Found("habitat", stem, f"/habitats/{step(stem)}") for stem in files if _has(stem, words)]
        told = words_of(preferences_of(request).language).gettext
        named = [(address, told(name)) for address, name, _ in NAVIGATION]
        found += [Found("page", name, address) for address, name in named if _has(name, words)]
    return page(request, "search.html", q=q[:200], found=found)


def plain(text: str) -> str:
    """A text as it is searched: without accents, and capitals as small letters (Unicode, compatibility decomposition
    and case folding); letters that have no parts as they are written without them."""
    if text.isascii():
        return text.casefold()
    apart = unicodedata.normalize("NFKD", text.casefold().translate(WHOLE))
    return unicodedata.normalize("NFKD", "".join(one for one in apart if not unicodedata.combining(one)).casefold())


def _searched(text: str) -> str:
    """What words are looked for in: the text plainly, and once more with its umlauts written out."""
    told = plain(text)
    spelled = told if text.isascii() else plain(text.casefold().translate(SPELLED))
    return told if spelled == told else f"{told}\n{spelled}"


def _has(text: str, words: list[str]) -> bool:
    there = _searched(text)
    return all(word in there for word in words)


@dataclass(frozen=True)
class _Kind:
    """One kind of row: its query, the texts in which words are looked for, the order, and what is said of a row."""

    query: Any
    texts: tuple[Any, ...]
    order: Any
    tell: Callable[[Mapping[str, Any]], Found]


def _record(connection: Connection, words: list[str]) -> Iterator[Found]:
    raw = connection.connection.driver_connection
    assert raw is not None  # it is open
    raw.create_function("searched", 1, _searched, deterministic=True)
    for kind in _kinds():
        text = func.searched(_joined(kind.texts))
        query = kind.query.where(*(func.instr(text, word) > 0 for word in words))
        for row in connection.execute(query.order_by(kind.order).limit(MOST)).mappings():
            yield kind.tell(dict(row))


def _joined(texts: tuple[Any, ...]) -> Any:
    """All texts of a row in one, apart by line ends, which no word has."""
    made: Any = literal("")
    for one in texts:
        made = made + func.coalesce(one, "") + "\n"
    return made


def _kinds() -> tuple[_Kind, ...]:
    given = (
        select(func.group_concat(feeding.c.plant, ", ").label("given"))
        .where(feeding.c.visit_id == visit.c.id, feeding.c.plant != "")
        .scalar_subquery()
    )
    of = colony.c.name.label("of")
    visits = select(visit.c.day, visit.c.note, of, given.label("given")).join(colony, visit.c.colony_id == colony.c.id)
    events = select(event, of).join(colony, event.c.colony_id == colony.c.id)
    photos = select(photo, of).outerjoin(colony, photo.c.colony_id == colony.c.id)
    parcels = select(parcel, of).outerjoin(colony, parcel.c.colony_id == colony.c.id)
    sent = (parcel.c.name, parcel.c.route, parcel.c.carrier, parcel.c.note, parcel.c.state, colony.c.name)
    return (
        _Kind(select(colony), (colony.c.name, colony.c.species, colony.c.origin, colony.c.note), colony.c.name,
              lambda row: Found("colony", row["name"], _of(row["name"]), row["species"])),
        _Kind(select(build), (build.c.serial, build.c.habitat, build.c.stands, build.c.note), build.c.serial,
              lambda row: Found("build", row["serial"], f"/builds/{step(row['serial'])}", Path(row["habitat"]).stem)),
        _Kind(select(logger).where(logger.c.id > 0), (logger.c.name, logger.c.note), logger.c.name,
              lambda row: Found("logger", row["name"], f"/sensors/{step(row['name'])}", row["note"])),
        _Kind(visits, (visit.c.note, visit.c.health, colony.c.name, visit.c.day, given), visit.c.day.desc(),
              lambda row: _of_day("visit", row, "; ".join(one for one in (row["given"], row["note"]) if one))),
        _Kind(events, (event.c.what, event.c.plant, event.c.note, colony.c.name, event.c.day), event.c.day.desc(),
              lambda row: _of_day("event", row, _words(row, "what", "amount", "plant", "note"))),
        _Kind(photos, (photo.c.note, photo.c.file, colony.c.name), photo.c.id.desc(),
              lambda row: Found("photo", row["file"], f"/photos/{row['id']}", _words(row, "of", "note"))),
        _Kind(parcels, sent, parcel.c.id.desc(),
              lambda row: Found("parcel", row["name"] or f"{row['id']}", f"/parcels/{row['id']}",
                                _words(row, "of", "route", "note"), row["sent"] or "")),
        _Kind(select(buyer).where(buyer.c.erased.is_(None)), (buyer.c.name, buyer.c.contact, buyer.c.note),
              buyer.c.name,
              lambda row: Found("buyer", row["name"], "/sales", row["note"])),
    )  # fmt: skip


def _of_day(kind: str, row: Mapping[str, Any], says: str) -> Found:
    day = str(row["day"])
    return Found(kind, str(row["of"]), f"{_of(row['of'])}?all_visits=1#d{day}", says, day)


def _words(row: Mapping[str, Any], *names: str) -> str:
    return " ".join(str(row[name]) for name in names if row[name])


def _of(name: str) -> str:
    return f"/colonies/{step(name)}"
