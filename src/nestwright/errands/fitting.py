"""A colony with the climate of its record and of the days to come, from its file or from the workshop's record."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.colony.model import Climate, Colony
    from nestwright.errands.garden_climate import GardenClimate

__all__ = ["colony_and_climate", "is_file", "read_colony_or_record", "with_climate", "workshop_read"]


def colony_and_climate(
    file: Path, climate: Path | None, horizon: int, *, workshop: Path | None = None
) -> tuple[Colony, Climate | None, tuple[GardenClimate, ...]]:
    """A colony with the climate of its record, the climate of the days to come, and where either comes from.

    `file` is a colony file, or the name of a colony of the workshop (None: the one stood in), whose garden's loggers
    are then its climate. The file's own `climate` is read before them and that of the option last, which stands before
    all. A logger belongs to the record; a proof belongs to the days to come, and to the record too where nothing else
    tells of it.
    """
    from nestwright.errands.garden_climate import read_garden_climate

    colony, measured = read_colony_or_record(file, horizon, workshop)
    read = []
    if colony.climate_file:
        read.append(read_garden_climate(Path(colony.path or file).parent / colony.climate_file, colony, horizon))
    read += measured
    if climate is not None:
        read.append(read_garden_climate(climate, colony, horizon))
    return *with_climate(colony, read), tuple(read)


def with_climate(colony: Colony, read: list[GardenClimate]) -> tuple[Colony, Climate | None]:
    """A colony with the climate of its record, and that of the days to come, out of what was read: the last that tells
    of either; a proof tells of the record only where nothing else does."""
    measured = [one.record for one in read if one.record is not None and not one.proof]
    record = measured or [one.record for one in read if one.record is not None]
    ahead = [one.ahead for one in read if one.ahead is not None]
    notes = tuple(note for one in read for note in one.notes)
    made = replace(colony, climate=record[-1] if record else None, notes=(*colony.notes, *notes))
    return made, ahead[-1] if ahead else None


def read_colony_or_record(file: Path, horizon: int, folder: Path | None = None) -> tuple[Colony, list[GardenClimate]]:
    """The colony of a file; for a name that is no file that of the record, with the readings at its garden.

    Raises InputError for neither.
    """
    from nestwright.colony.file import read_colony

    if is_file(file):
        return read_colony(file), []
    from nestwright.errands.garden_climate import recorded_climate
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.database import reading
    from nestwright.workshop.folder import find_workshop
    from nestwright.workshop.garden_air import garden_air

    try:
        workshop = find_workshop(folder)
    except InputError:
        if folder is not None:
            raise
        allowed = "a colony file, or the name of a colony in the workshop that you stand in"
        raise InputError("there is no such file", file=str(file), allowed=allowed) from None
    zone = workshop.zone
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, str(file))
        colony = model_colony(connection, kept)
        begin = datetime.combine(colony.start, datetime.min.time(), zone)
        # as `today` takes them: up to the last midnight, so that both tell the same of one record
        midnight = datetime.combine(datetime.now(zone).date(), datetime.min.time(), zone)
        end = min(midnight, begin + timedelta(days=colony.days + horizon + 1))
        low, high = (int(1000 * t.timestamp()) for t in (begin, max(begin, end)))
        air = garden_air(connection, workshop.folder, kept.id, colony.start, zone, low, high)
    if colony.climate_file:  # lies in the workshop's folder of colonies
        colony = replace(colony, path=str(workshop.folder / "colonies" / "record"))
    measured = None if air is None else recorded_climate(air, colony, horizon)
    return colony, [] if measured is None else [measured]


def is_file(file: Path) -> bool:
    """Whether a colony's file is meant, and not the name of a colony of the workshop."""
    # a name may have a dot in it
    return file.exists() or file.suffix in (".toml", ".csv", ".json") or len(file.parts) != 1


def workshop_read(file: Path, folder: Path | None = None) -> tuple[Path | None, date | None]:
    """Folder of the workshop that a colony was read from by its name, and today in it; None twice for one of a file."""
    from nestwright.workshop.folder import find_workshop

    if is_file(file):
        return None, None
    found = find_workshop(folder)
    return found.folder, datetime.now(found.zone).date()
