"""The dry run of a build of the record: readings of the loggers that stood in it, and what came of it kept with it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from nestwright.climate.as_built import Builds
from nestwright.climate.dry_run_log import ROOM, Record
from nestwright.errors import InputError
from nestwright.files import plain_name, write_whole
from nestwright.workshop.builds import Made, check_build
from nestwright.workshop.changes import Act
from nestwright.workshop.corrected import corrected
from nestwright.workshop.folder import Workshop
from nestwright.workshop.moments import local_ms
from nestwright.workshop.placements import placements
from nestwright.workshop.readings import channels_of
from nestwright.workshop.sensors import scale_of
from nestwright.workshop.tables import quality

__all__ = ["KeptDryRun", "dry_run_record", "keep_dry_run", "last_dry_run"]

QUANTITIES = ("temperature", "relative_humidity", "co2")


def dry_run_record(connection: Connection, workshop: Workshop, made: Made, low: int, high: int) -> Record:
    """Readings of every logger placed in a build, from `low` on and before `high` (UTC ms), corrected, on one clock.

    A logger placed in the build's room stands under "room". Raises InputError where none stood there or none was read.
    """
    found: dict[tuple[str, str], tuple[Any, Any]] = {}
    names: dict[tuple[str, str], str] = {}
    for place in placements(connection):
        begin, end = max(low, place.since), min(high, high if place.until is None else place.until)
        if place.build != made.serial or begin >= end:
            continue
        for one in channels_of(connection, place.logger):
            scale = scale_of(one)
            if scale is None or scale.quantity not in QUANTITIES:
                continue
            key = (place.chamber or ROOM, scale.quantity)
            series = corrected(connection, one, begin, end)
            if not len(series.at):
                continue
            if key in found:
                allowed = "one logger for each quantity of a chamber; bound the time with --from and --to"
                raise InputError("two loggers stood in one place", field=f"{key[0]}, {key[1]}", allowed=allowed)
            found[key], names[key] = (series.at, scale.si(series.value)), f"logger {place.logger}"
    if not found:
        raise InputError(
            "no readings from a logger placed in it",
            field=f"build {made.serial}",
            allowed="loggers placed by `nestwright readings place LOGGER --build SERIAL --chamber NAME`, or CSV files",
        )
    at = np.unique(np.concatenate([moments for moments, _ in found.values()]))
    channels = {}
    for key, (moments, value) in found.items():
        column = np.full(len(at), np.nan)
        column[np.searchsorted(at, moments)] = value
        channels[key] = column
    begun = datetime(1970, 1, 1) + timedelta(milliseconds=int(local_ms(at[:1], workshop.zone)[0]))
    return Record(begun, (at - at[0]) / 1000.0, channels, (), names)


def keep_dry_run(done: Act, workshop: Workshop, made: Made, result: dict[str, Any], passed: bool | None) -> str:
    """Keep a dry run with its build: the whole result under papers/, and a point of the build's quality check.

    `passed`: behaves as designed, does not, or None where it cannot be told. Returns the file under the workshop.
    """
    day = str(result["start"])[:10]
    name = f"papers/dry-run-{plain_name(made.serial)}-{day}.json"
    others = select(quality.c.id).where(quality.c.note == name, quality.c.build_id != made.id)
    if done.connection.execute(others).first():  # another build's serial makes the same name
        name = f"papers/dry-run-{plain_name(made.serial)}-{made.id}-{day}.json"
    (workshop.folder / "papers").mkdir(exist_ok=True)
    # the row first, which an interrupt takes back: the file is then the last step before it stands
    check_build(done, made.id, "dry run", passed, str(result["verdict"]), day, name)
    write_whole(workshop.folder / name, json.dumps(result, indent=1, ensure_ascii=False) + "\n")
    return name


@dataclass(frozen=True)
class KeptDryRun:
    """A dry run that was kept with its build: day, file under the workshop, revision of the design that it was of,
    verdict, whether that is sure, its chance, and the builds drawn from it."""

    day: str
    file: str
    revision: str
    verdict: str
    sure: bool
    chance: float
    builds: Builds


def last_dry_run(workshop: Workshop, made: Made) -> KeptDryRun | None:
    """The newest dry run of a build; None where there is none. Raises InputError for a file that is gone or damaged."""
    kept = [row for row in made.quality if row["what"] == "dry run" and str(row["note"]).startswith("papers/")]
    if not kept:
        return None
    row = max(kept, key=lambda one: (str(one["day"] or ""), int(one["id"])))
    path = workshop.folder / str(row["note"])
    again = f"`nestwright dryrun {made.serial}` makes it anew"
    try:
        document = json.loads(path.read_text("utf-8"))
    except OSError as error:
        found = (error.strerror or "").lower()
        raise InputError("the kept dry run cannot be read", file=str(path), found=found, allowed=again) from None
    except ValueError:
        raise InputError("the kept dry run is damaged", file=str(path), allowed=again) from None
    try:
        told = {name: str(document[name]) for name in ("revision", "verdict")}
        builds = Builds.of(document["builds"])
        return KeptDryRun(
            str(row["day"]), str(row["note"]), **told, sure=document["sure"] is True, chance=float(document["chance"]),
            builds=builds,
        )  # fmt: skip
    except (ValueError, TypeError, LookupError):
        raise InputError("the kept dry run lacks what a proof needs", file=str(path), allowed=again) from None
