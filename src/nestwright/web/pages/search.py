"""Search: colonies, builds, habitats, loggers, visits' notes, photographs and the pages themselves, by any word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from sqlalchemy import Connection, Text, cast, or_, select
from starlette.responses import Response

from nestwright.web.render import NAVIGATION, page, workshop_at
from nestwright.workshop.database import reading
from nestwright.workshop.tables import build, colony, event, logger, photo, visit

router = APIRouter(prefix="/search")
MOST = 20
"""Of each kind."""


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
    words = q[:200].split()[:8]
    workshop = workshop_at(request)
    found: list[Found] = []
    if words:
        with reading(workshop.engine) as connection:
            found = _record(connection, words)
        files = sorted((workshop.folder / "habitats").glob("*.toml"))
        lowered = [w.casefold() for w in words]
        found += [Found("habitat", f.stem, f"/habitats/{quote(f.stem)}") for f in files if _has(f.stem, lowered)]
        found += [Found("page", name, address) for address, name, _ in NAVIGATION if _has(name, lowered)]
    return page(request, "search.html", q=q[:200], found=found)


def _has(text: str, lowered: list[str]) -> bool:
    return all(word in text.casefold() for word in lowered)


def _record(connection: Connection, words: list[str]) -> list[Found]:
    made: list[Found] = []
    columns: tuple[Any, ...] = (colony.c.name, colony.c.species, colony.c.origin, colony.c.note)
    for row in connection.execute(select(colony).where(_matches(words, *columns)).limit(MOST)).mappings():
        made.append(Found("colony", row["name"], _of(row["name"]), row["species"]))
    columns = (build.c.serial, build.c.habitat, build.c.stands, build.c.note)
    for row in connection.execute(select(build).where(_matches(words, *columns)).limit(MOST)).mappings():
        stem = str(row["habitat"]).removeprefix("habitats/").removesuffix(".toml")
        made.append(Found("build", row["serial"], f"/habitats/{quote(stem, safe='')}", row["habitat"]))
    for row in connection.execute(
        select(logger).where(_matches(words, logger.c.name, logger.c.note)).limit(MOST)
    ).mappings():
        made.append(Found("logger", row["name"], "", row["note"]))
    for table, texts in ((visit, (visit.c.note, visit.c.health)), (event, (event.c.what, event.c.plant, event.c.note))):
        query = (
            select(table, colony.c.name.label("of"))
            .join(colony, table.c.colony_id == colony.c.id)
            .where(_matches(words, *texts, colony.c.name, table.c.day))
            .order_by(table.c.day.desc())
            .limit(MOST)
        )
        for row in connection.execute(query).mappings():
            says = (
                row["note"] if table is visit else " ".join(x for x in (row["what"], row["amount"], row["note"]) if x)
            )
            made.append(
                Found(
                    table.name,
                    str(row["of"]),
                    f"/colonies/{quote(row['of'], safe='')}#d{row['day']}",
                    says,
                    str(row["day"]),
                )
            )
    columns = (photo.c.note, photo.c.file, colony.c.name)
    query = select(photo, colony.c.name.label("of")).outerjoin(colony, photo.c.colony_id == colony.c.id)
    for row in connection.execute(
        query.where(_matches(words, *columns)).order_by(photo.c.id.desc()).limit(MOST)
    ).mappings():
        made.append(Found("photo", row["file"], f"/photos/{row['id']}", f"{row['of'] or ''} {row['note']}".strip()))
    return made


def _of(name: str) -> str:
    return f"/colonies/{quote(name, safe='')}"


def _matches(words: list[str], *columns: Any) -> Any:
    """Every word stands in one of the columns."""
    clauses = [or_(*(cast(c, Text).icontains(word, autoescape=True) for c in columns)) for word in words]
    made = clauses[0]
    for one in clauses[1:]:
        made &= one
    return made
