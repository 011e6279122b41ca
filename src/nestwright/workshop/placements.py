"""Where a logger stands and stood: in a chamber of a build, at a colony, or in the room."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import build, colony, logger, placement, stay

__all__ = ["BELL", "ROOM", "Placement", "chamber_roles", "check_chamber", "place_logger", "placements", "stay_at"]

ROOM = "room"
"""How a person says that a logger stands beside the habitat; "" in the record."""
BELL = "/bell"


@dataclass(frozen=True)
class Placement:
    """From `since` on and before `until` (UTC ms; None: still) a logger stood in a chamber ("": the room)."""

    id: int
    logger_id: int
    logger: str
    build: str
    colony: str
    chamber: str
    since: int
    until: int | None

    def to_dict(self) -> dict[str, object]:
        return {k: v for k, v in self.__dict__.items() if k not in ("id", "logger_id")}


def placements(connection: Connection, logger_id: int | None = None, *, build_id: int | None = None) -> list[Placement]:
    """Placements of a logger, of a build, or of all, the first first."""
    query = (
        select(placement, logger.c.name.label("of"), build.c.serial, colony.c.name.label("at_colony"))
        .join(logger, placement.c.logger_id == logger.c.id)
        .outerjoin(build, placement.c.build_id == build.c.id)
        .outerjoin(colony, placement.c.colony_id == colony.c.id)
        .order_by(placement.c.since, placement.c.id)
    )
    if logger_id is not None:
        query = query.where(placement.c.logger_id == logger_id)
    if build_id is not None:
        query = query.where(placement.c.build_id == build_id)
    return [
        Placement(
            r["id"], r["logger_id"], r["of"], r["serial"] or "", r["at_colony"] or "",
            r["chamber"], r["since"], r["until"],
        )
        for r in connection.execute(query).mappings()
    ]  # fmt: skip


def place_logger(
    done: Act, logger_id: int, build_id: int | None, colony_id: int | None, chamber: str, since: int, note: str = ""
) -> Placement:
    """From `since` on (UTC ms) a logger stands somewhere: where it stood before ends there, and where it stands later
    begins as it did. Raises InputError when it was placed at this very moment already."""
    others = placements(done.connection, logger_id)
    if any(p.since == since for p in others):
        raise InputError(
            "the logger was placed at this moment already",
            field="--from",
            allowed="another moment, or take that back: `nestwright workshop undo`",
        )
    for p in others:
        if p.since < since and (p.until is None or p.until > since):
            done.change(placement, p.id, {"until": since})
    until = min((p.since for p in others if p.since > since), default=None)
    values = {"logger_id": logger_id, "build_id": build_id, "colony_id": colony_id, "chamber": chamber}
    row = done.add(placement, values | {"since": since, "until": until, "note": note})
    return next(p for p in placements(done.connection, logger_id) if p.id == row)


def stay_at(connection: Connection, colony_id: int, day: str) -> int | None:
    """The build in which a colony lives on a day (ISO), None where that is not recorded."""
    query = select(stay.c.build_id).where(stay.c.colony_id == colony_id, stay.c.day <= day)
    return connection.execute(query.order_by(stay.c.day.desc()).limit(1)).scalar()


def chamber_roles(connection: Connection, folder: Path, build_id: int) -> dict[str, str]:
    """Chambers of a build by name with their role; {} where its design's file is not there or cannot be read."""
    from nestwright.habitat.file import read_habitat

    name = connection.execute(select(build.c.habitat).where(build.c.id == build_id)).scalar()
    try:
        design = read_habitat(folder / str(name))
    except (InputError, OSError):
        return {}
    return {c.name: c.role for c in design.chambers}


def check_chamber(chamber: str, roles: dict[str, str]) -> str:
    """The chamber as it is kept: "" for the room, NAME or NAME/bell. Raises InputError for one that the design does
    not have; where the design is not known any name will do."""
    if chamber.casefold() == ROOM:
        return ""
    if roles and chamber.removesuffix(BELL) not in roles:
        raise InputError(
            "the build has no such chamber",
            field="--chamber",
            found=repr(chamber),
            allowed=", ".join([*roles, ROOM]) + "; NAME/bell for the air under a bell",
            nearest=nearest_name(chamber, [*roles, ROOM]),
        )
    return chamber
