"""The workshop on disk: the folder with everything, found from where one stands."""

from __future__ import annotations

import contextlib
import os
import shlex
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

from sqlalchemy import Engine, insert, select, update

from nestwright.errors import InputError, nearest_name
from nestwright.units import shown
from nestwright.workshop.database import open_database, reading, writing
from nestwright.workshop.tables import workshop as settings

__all__ = ["DATABASE", "FOLDERS", "Workshop", "create_workshop", "find_workshop", "zone_of"]

DATABASE = "workshop.db"
FOLDERS = ("habitats", "rooms", "species", "colonies", "photos", "papers", "parts")


@dataclass(frozen=True)
class Workshop:
    """A workshop's folder."""

    folder: Path

    @property
    def database(self) -> Path:
        return self.folder / DATABASE

    @cached_property
    def engine(self) -> Engine:
        """Its record, open. Raises InputError like `open_database`."""
        return open_database(self.database)

    @cached_property
    def zone(self) -> ZoneInfo:
        """The time zone that its days and clock times are in."""
        with reading(self.engine) as connection:
            name = connection.execute(select(settings.c.value).where(settings.c.key == "zone")).scalar()
        return zone_of(str(name or "UTC"))

    def placed(self, file: Path) -> str:
        """A file as the record names it: from the workshop's folder where it lies inside."""
        whole = file.resolve()
        return str(whole.relative_to(self.folder)) if whole.is_relative_to(self.folder) else str(whole)

    def setting(self, key: str) -> str:
        """A setting, "" where it was never set."""
        with reading(self.engine) as connection:
            return str(connection.execute(select(settings.c.value).where(settings.c.key == key)).scalar() or "")

    def set(self, key: str, value: str) -> None:
        with writing(self.engine) as connection:
            changed = connection.execute(update(settings).where(settings.c.key == key).values(value=value))
            if not changed.rowcount:
                connection.execute(insert(settings).values(key=key, value=value))


def zone_of(name: str) -> ZoneInfo:
    """A time zone by its name in the IANA database. Raises InputError."""
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            "is no time zone",
            field="zone",
            found=shown(name),
            allowed="a name as Europe/Lisbon or UTC",
            nearest=nearest_name(name[:60], available_timezones()),
        ) from None


def create_workshop(folder: Path, zone: str) -> Workshop:
    """Make the folder of a workshop with an empty record; what is there already stays.

    Raises InputError when there is a record already, or the folder cannot be made.
    """
    known = zone_of(zone)
    made = Workshop(folder)
    if made.database.exists():
        raise InputError("there is a workshop here already", file=str(folder))
    new = [place for place in (folder, *(folder / name for name in FOLDERS)) if not place.exists()]
    try:
        for name in FOLDERS:
            (folder / name).mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError("cannot make the folder", file=str(folder), found=error.strerror or "") from None
    scratch = folder / f".{DATABASE}-{os.getpid()}"
    try:
        engine = open_database(scratch, create=True)
        with writing(engine) as connection:
            connection.execute(insert(settings), [{"key": "zone", "value": known.key}, {"key": "form", "value": "1"}])
        engine.dispose()
        _into_place(scratch, made.database)
    except InputError as error:
        error.file = str(made.database if error.file == str(scratch) else error.file)
        raise
    finally:
        for left in (scratch, *(Path(f"{scratch}{end}") for end in ("-wal", "-shm", "-journal"))):
            left.unlink(missing_ok=True)
        if not made.database.exists():  # a full disk: nothing is left of it, not even folders
            for place in reversed(new):
                with contextlib.suppress(OSError):
                    place.rmdir()
    return made


def _into_place(scratch: Path, database: Path) -> None:
    """A finished database under its own name, in one step, and never over another."""
    try:
        os.link(scratch, database)
    except FileExistsError:
        raise InputError("there is a workshop here already", file=str(database.parent)) from None
    except OSError:  # a file system without links
        scratch.rename(database)


def find_workshop(start: Path | None = None) -> Workshop:
    """The workshop in this folder or in the nearest one above it. Raises InputError when there is none."""
    try:
        here = (start or Path.cwd()).resolve()
        known = start is None or here.is_dir()
    except (OSError, ValueError):  # a name too long, or with a NUL in it; a folder that is gone
        known = False
    if not known:
        raise InputError("there is no such folder", field="--workshop", found=shown(str(start or ".")))
    for folder in (here, *here.parents):
        if (folder / DATABASE).is_file():
            return Workshop(folder)
    told = str(start or ".")
    made = f"`nestwright workshop new {shlex.quote(told)}` makes one here"
    if any((here / name).is_dir() for name in FOLDERS):
        made += ", and the files that are here stay as they are"
    raise InputError(
        "there is no workshop here", file=told, allowed=f"{made}; or --workshop FOLDER of one that there is"
    )
