"""Builds: the habitats that were really made, what was measured on them and how they passed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.units import UnitProblem, has_unit_of, parse_quantity, shown
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import build, colony, measured, quality, stay
from nestwright.workshop.typed import check_name

__all__ = ["Made", "add_build", "check_build", "find_build", "kept_builds", "lives_in", "measure_build"]


@dataclass(frozen=True)
class Made:
    """A build's row: `id`, its columns, what was measured on it, its checks, and the colony that lives in it."""

    id: int
    values: Mapping[str, Any]
    measured: tuple[Mapping[str, Any], ...] = ()
    quality: tuple[Mapping[str, Any], ...] = ()
    colony: str = ""

    @property
    def serial(self) -> str:
        return str(self.values["serial"])

    @property
    def checks(self) -> tuple[Mapping[str, Any], ...]:
        """Its checks without those that were still to do and have been looked at since."""
        looked = {q["what"] for q in self.quality if q["passed"] is not None}
        return tuple(q for q in self.quality if q["passed"] is not None or q["what"] not in looked)

    def to_dict(self) -> dict[str, Any]:
        parts = {k: [_plain(one) for one in getattr(self, k)] for k in ("measured", "quality")}
        return {**_plain(self.values), **parts, "colony": self.colony}


def _plain(row: Mapping[str, Any]) -> dict[str, Any]:
    return {k: v for k, v in row.items() if k not in ("id", "build_id")}


def kept_builds(connection: Connection) -> list[Made]:
    """Every build by serial."""
    return _made(connection, None)


def find_build(connection: Connection, serial: str) -> Made:
    """A build by its serial. Raises InputError with the nearest one."""
    known = {str(s): int(i) for s, i in connection.execute(select(build.c.serial, build.c.id))}
    if serial in known:
        return _made(connection, known[serial])[0]
    raise InputError(
        "is no build of this workshop",
        field="build",
        found=shown(serial),
        allowed=", ".join(known)[:400] or "none yet: add one with `nestwright build add`",
        nearest=nearest_name(serial[:200], known),
    )


def _made(connection: Connection, build_id: int | None) -> list[Made]:
    """One build or all, each table asked once."""
    query = select(build).order_by(build.c.serial)
    rows = connection.execute(query if build_id is None else query.where(build.c.id == build_id)).mappings().all()
    parts: dict[str, dict[int, list[Mapping[str, Any]]]] = {}
    for table in (measured, quality):
        every = select(table).order_by(table.c.id)
        found = parts[table.name] = {}
        for one in connection.execute(every if build_id is None else every.where(table.c.build_id == build_id)):
            found.setdefault(int(one.build_id), []).append(dict(one._mapping))
    living = _living(connection, build_id)

    def of(table: str, row: int) -> tuple[Mapping[str, Any], ...]:
        return tuple(parts[table].get(row, ()))

    return [
        Made(row["id"], dict(row), of("measured", row["id"]), of("quality", row["id"]), living.get(row["id"], ""))
        for row in rows
    ]


def lives_in(connection: Connection, build_id: int) -> str:
    """Name of the colony whose last stay is in a build, "" for none."""
    return _living(connection, build_id).get(build_id, "")


def _living(connection: Connection, build_id: int | None) -> dict[int, str]:
    """Names of colonies by the build of their last stay, of one build or of all."""
    later = stay.alias()
    last = select(later.c.day).where(later.c.colony_id == stay.c.colony_id).order_by(later.c.day.desc()).limit(1)
    query = (
        select(stay.c.build_id, colony.c.name)
        .join(colony, stay.c.colony_id == colony.c.id)
        .where(colony.c.ended.is_(None), stay.c.day == last.scalar_subquery())
        .order_by(stay.c.id.desc())
    )
    if build_id is not None:
        query = query.where(stay.c.build_id == build_id)
    # of two in one build the one that came first
    return {int(home): str(name) for home, name in connection.execute(query) if home is not None}


def add_build(done: Act, values: Mapping[str, Any]) -> int:
    """Write a build; `values` by column. Raises InputError for a serial that is taken."""
    check_name(str(values["serial"]), "serial")
    taken = done.connection.execute(select(build.c.id).where(build.c.serial == values["serial"])).first()
    if taken:
        raise InputError("there is a build of this serial already", field="serial", found=shown(values["serial"]))
    return done.add(build, values)


def measure_build(done: Act, build_id: int, what: str, value: str, day: str | None, note: str = "") -> int:
    """A value that was measured on a build, as text with its unit, or in words. Raises InputError for a size, volume,
    mass or power below zero, or beyond what anything of a habitat has."""
    for kind in ("height", "water", "power"):
        if has_unit_of(value, kind):
            try:
                parse_quantity(value, kind)
            except UnitProblem as problem:
                raise InputError(problem.message, field="value", found=problem.found, allowed=problem.allowed) from None
            break
    return done.add(measured, {"build_id": build_id, "what": what, "value": value, "day": day, "note": note})


def check_build(
    done: Act, build_id: int, what: str, passed: bool | None, value: str, day: str | None, note: str = ""
) -> int:
    """A point of a build's quality check: passed, not passed, or not looked at yet."""
    row = {"build_id": build_id, "what": what, "passed": passed, "value": value, "day": day, "note": note}
    return done.add(quality, row)
