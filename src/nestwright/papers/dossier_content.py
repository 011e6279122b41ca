"""What the record holds of a design: its builds with checks and dry runs, the colonies in them, photographs, files."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.builds import Made, kept_builds
from nestwright.workshop.dry_runs import KeptDryRun, last_dry_run
from nestwright.workshop.folder import Workshop
from nestwright.workshop.photos import Photo, find_photos
from nestwright.workshop.tables import colony, event, stay
from nestwright.workshop.visits import VisitEntry, read_visits

__all__ = ["BuildRecord", "ColonyRecord", "DesignRecord", "FileSum", "record_of_design"]


@dataclass(frozen=True)
class FileSum:
    """A file under the workshop and its SHA-256 in hexadecimal digits; None where the file is gone."""

    file: str
    sha256: str | None


@dataclass(frozen=True)
class BuildRecord:
    """A build, its newest dry run, or None with the reason in `no_dry_run`, and its photographs."""

    made: Made
    dry_run: KeptDryRun | None
    no_dry_run: str
    photos: tuple[Photo, ...]


@dataclass(frozen=True)
class ColonyRecord:
    """A colony and the days from which it lived in builds of the design; `ended` as in the record, "" for a living one.
    `visits` and `events` (day, what, amount, note): of its whole record, the oldest first."""

    name: str
    species: str
    ended: str
    stays: tuple[tuple[str, date], ...]
    visits: tuple[VisitEntry, ...]
    events: tuple[tuple[date, str, str, str], ...]


@dataclass(frozen=True)
class DesignRecord:
    """All that is kept of one design. `file`: of the design, under the workshop."""

    file: str
    builds: tuple[BuildRecord, ...]
    colonies: tuple[ColonyRecord, ...]
    files: tuple[FileSum, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "design_file": self.file,
            "builds": [
                {
                    "serial": b.made.serial,
                    "revision": b.made.values["revision"],
                    "measured": len(b.made.measured),
                    "checks": len(b.made.quality),
                    "checks_failed": sum(q["passed"] is not None and not q["passed"] for q in b.made.quality),
                    "dry_run": None if b.dry_run is None else b.dry_run.verdict,
                    "photos": len(b.photos),
                }
                for b in self.builds
            ],
            "colonies": [{"name": c.name, "visits": len(c.visits), "events": len(c.events)} for c in self.colonies],
            "files": [{"file": one.file, "sha256": one.sha256} for one in self.files],
        }


def record_of_design(
    workshop: Workshop, connection: Connection, file: str, serials: Sequence[str] = ()
) -> DesignRecord:
    """The record of the design in `file` (as builds name it), of the builds `serials` only where some are named.

    Raises InputError for a serial that is no build of this design, with the nearest one.
    """
    builds = [b for b in kept_builds(connection) if str(b.values["habitat"]) == file]
    known = [b.serial for b in builds]
    for serial in serials:
        if serial not in known:
            raise InputError(
                "is no build of this design", field="--build", found=repr(serial[:40]),
                allowed=", ".join(known) or "none is recorded", nearest=nearest_name(serial[:40], known),
            )  # fmt: skip
    kept = [_build(workshop, connection, b) for b in builds if not serials or b.serial in serials]
    colonies = _colonies(connection, [b.made for b in kept])
    names = [file, *(b.dry_run.file for b in kept if b.dry_run), *(p.file for b in kept for p in b.photos)]
    return DesignRecord(file, tuple(kept), colonies, tuple(_sum(workshop, name) for name in dict.fromkeys(names)))


def _build(workshop: Workshop, connection: Connection, made: Made) -> BuildRecord:
    photos = tuple(find_photos(connection, build_id=made.id))
    try:
        found = last_dry_run(workshop, made)
    except InputError as problem:
        return BuildRecord(made, None, str(problem), photos)
    return BuildRecord(made, found, "" if found else "no dry run is kept", photos)


def _colonies(connection: Connection, builds: Sequence[Made]) -> tuple[ColonyRecord, ...]:
    serials = {b.id: b.serial for b in builds}
    query = (
        select(stay.c.colony_id, stay.c.build_id, stay.c.day).where(stay.c.build_id.in_(serials)).order_by(stay.c.day)
    )
    stays: dict[int, list[tuple[str, date]]] = {}
    for one in connection.execute(query):
        stays.setdefault(int(one.colony_id), []).append((serials[one.build_id], date.fromisoformat(one.day)))
    made = []
    for row in connection.execute(select(colony).where(colony.c.id.in_(stays)).order_by(colony.c.name)).mappings():
        told = select(event).where(event.c.colony_id == row["id"]).order_by(event.c.day, event.c.id)
        events = [
            (date.fromisoformat(e["day"]), str(e["what"]), str(e["amount"] or ""), str(e["note"] or ""))
            for e in connection.execute(told).mappings()
        ]
        visits = tuple(entry for _, entry in read_visits(connection, int(row["id"])))
        ended = str(row["ended"] or "")
        made.append(ColonyRecord(row["name"], row["species"], ended, tuple(stays[row["id"]]), visits, tuple(events)))
    return tuple(made)


def _sum(workshop: Workshop, name: str) -> FileSum:
    try:
        return FileSum(name, hashlib.sha256((workshop.folder / name).read_bytes()).hexdigest())
    except OSError:
        return FileSum(name, None)
