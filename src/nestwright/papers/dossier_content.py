"""What the record holds of a design: its builds with checks and dry runs, the colonies in them, photographs, files."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Any

from sqlalchemy import Connection, select

from nestwright.errors import InputError, nearest_name
from nestwright.press.setting import Photograph
from nestwright.workshop.builds import Made, kept_builds
from nestwright.workshop.colonies import find_colony, model_colony
from nestwright.workshop.dry_runs import KeptDryRun, last_dry_run
from nestwright.workshop.folder import Workshop
from nestwright.workshop.kept_designs import Change, Revision, changes, revisions_of
from nestwright.workshop.photos import Photo, find_photos
from nestwright.workshop.tables import colony, event, stay
from nestwright.workshop.told_forecasts import Outcome, Told, outcomes, told_of
from nestwright.workshop.visits import VisitEntry, read_visits

__all__ = ["BuildRecord", "ColonyRecord", "DesignRecord", "FileSum", "record_of_design", "shown_photos"]

PHOTO_SIDE = 640
"""Longest side of a photograph on paper, pixels."""
MOST_PHOTOS = 12
"""Photographs of one build or colony that are printed."""


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
    `visits` and `events` (day, what, amount, note): of its whole record, the oldest first. `forecasts` were kept of it,
    and `outcomes` are what was seen beside what they had told."""

    name: str
    species: str
    ended: str
    stays: tuple[tuple[str, date], ...]
    visits: tuple[VisitEntry, ...]
    events: tuple[tuple[date, str, str, str], ...]
    forecasts: tuple[Told, ...] = ()
    outcomes: tuple[Outcome, ...] = ()
    photos: tuple[Photo, ...] = ()


@dataclass(frozen=True)
class DesignRecord:
    """All that is kept of one design. `file`: of the design, under the workshop; `revisions` whose files are there, the
    earliest first; `changes` from each to the next; `pictures`: photographs made small, by file."""

    file: str
    builds: tuple[BuildRecord, ...]
    colonies: tuple[ColonyRecord, ...]
    files: tuple[FileSum, ...]
    revisions: tuple[Revision, ...] = ()
    pictures: Mapping[str, Photograph] = field(default_factory=dict)

    @property
    def changes(self) -> tuple[tuple[str, str, tuple[Change, ...]], ...]:
        return tuple((a.name, b.name, changes(a, b)) for a, b in pairwise(self.revisions))

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
            "colonies": [
                {
                    "name": c.name,
                    "visits": len(c.visits),
                    "events": len(c.events),
                    "photos": len(c.photos),
                    "forecasts": len(c.forecasts),
                    "outcomes": [one.to_dict() for one in c.outcomes],
                }
                for c in self.colonies
            ],
            "changes": [
                {"from": a, "to": b, "changed": [one.to_dict() for one in found]} for a, b, found in self.changes
            ],
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
    colonies = _colonies(workshop, connection, [b.made for b in kept])
    built = sorted(builds, key=lambda b: (str(b.values["made"] or "9999"), b.serial))
    revisions = revisions_of(workshop, file, [str(b.values["revision"]) for b in built])
    own = [one.photos for one in kept] + [one.photos for one in colonies]
    photos = [p for some in own for p in shown_photos(some)]
    names = [
        file, *(r.file for r in revisions), *(b.dry_run.file for b in kept if b.dry_run),
        *(t.file for c in colonies for t in c.forecasts), *(p.file for some in own for p in some),
    ]  # fmt: skip
    sums = tuple(_sum(workshop, name) for name in dict.fromkeys(names))
    return DesignRecord(file, tuple(kept), colonies, sums, revisions, _pictures(workshop, photos))


def shown_photos(photos: Sequence[Photo]) -> Sequence[Photo]:
    """Photographs that are printed, of one build or colony: all, or the first and the newest where they are many."""
    return photos if len(photos) <= MOST_PHOTOS else (*photos[:1], *photos[1 - MOST_PHOTOS :])


def _pictures(workshop: Workshop, photos: Sequence[Photo]) -> dict[str, Photograph]:
    """Photographs by file, made small; those that are gone or damaged are left out."""
    if not photos:
        return {}
    import io

    from PIL import Image, ImageOps

    found = {}
    for photo in photos:
        try:
            with Image.open(workshop.folder / photo.file) as picture:
                picture.draft("RGB", (2 * PHOTO_SIDE, 2 * PHOTO_SIDE))
                small = ImageOps.exif_transpose(picture).convert("RGB")
                small.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
                out = io.BytesIO()
                small.save(out, "JPEG", quality=80)
        except (OSError, ValueError, Image.DecompressionBombError):
            continue
        found[photo.file] = Photograph(out.getvalue(), *small.size)
    return found


def _build(workshop: Workshop, connection: Connection, made: Made) -> BuildRecord:
    photos = tuple(find_photos(connection, build_id=made.id))
    try:
        found = last_dry_run(workshop, made)
    except InputError as problem:
        return BuildRecord(made, None, str(problem), photos)
    return BuildRecord(made, found, "" if found else "no dry run is kept", photos)


def _colonies(workshop: Workshop, connection: Connection, builds: Sequence[Made]) -> tuple[ColonyRecord, ...]:
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
        forecasts = told_of(workshop.folder, row["name"])
        made.append(
            ColonyRecord(
                row["name"], row["species"], ended, tuple(stays[row["id"]]), visits, tuple(events), forecasts,
                _outcomes(connection, row["name"], forecasts), tuple(find_photos(connection, colony_id=int(row["id"]))),
            )
        )  # fmt: skip
    return tuple(made)


def _outcomes(connection: Connection, name: str, told: tuple[Told, ...]) -> tuple[Outcome, ...]:
    if not told:
        return ()
    try:
        return outcomes(told, model_colony(connection, find_colony(connection, name)))
    except InputError:  # a record that no model can be made of: nothing to hold a forecast against
        return ()


def _sum(workshop: Workshop, name: str) -> FileSum:
    try:
        return FileSum(name, hashlib.sha256((workshop.folder / name).read_bytes()).hexdigest())
    except OSError:
        return FileSum(name, None)
