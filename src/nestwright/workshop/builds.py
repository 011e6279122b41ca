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
    return [
        _made(connection, dict(row))
        for row in connection.execute(select(build).order_by(build.c.serial)).mappings().all()
    ]


def find_build(connection: Connection, serial: str) -> Made:
    """A build by its serial. Raises InputError with the nearest one."""
    known = {str(s): int(i) for s, i in connection.execute(select(build.c.serial, build.c.id))}
    if serial in known:
        row = connection.execute(select(build).where(build.c.id == known[serial])).mappings().one()
        return _made(connection, dict(row))
    raise InputError(
        "is no build of this workshop",
        field="build",
        found=shown(serial),
        allowed=", ".join(known)[:400] or "none yet: add one with `nestwright build add`",
        nearest=nearest_name(serial[:200], known),
    )


def _made(connection: Connection, row: dict[str, Any]) -> Made:
    parts = {
        t.name: tuple(
            dict(one)
            for one in connection.execute(select(t).where(t.c.build_id == row["id"]).order_by(t.c.id)).mappings()
        )
        for t in (measured, quality)
    }
    return Made(int(row["id"]), row, parts["measured"], parts["quality"], lives_in(connection, int(row["id"])))


def lives_in(connection: Connection, build_id: int) -> str:
    """Name of the colony whose last stay is in a build, "" for none."""
    later = stay.alias()
    last = select(later.c.day).where(later.c.colony_id == stay.c.colony_id).order_by(later.c.day.desc()).limit(1)
    found = connection.execute(
        select(colony.c.name)
        .join(stay, stay.c.colony_id == colony.c.id)
        .where(stay.c.build_id == build_id, colony.c.ended.is_(None), stay.c.day == last.scalar_subquery())
    ).scalar()
    return str(found or "")


def add_build(done: Act, values: Mapping[str, Any]) -> int:
    """Write a build; `values` by column. Raises InputError for a serial that is taken."""
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
