"""The climate out of the loggers at a colony's garden, for what looks over the whole workshop."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime, time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.colony.model import Climate, Colony
    from nestwright.errands.garden_climate import GardenClimate
    from nestwright.workshop.colonies import Kept
    from nestwright.workshop.folder import Workshop
    from nestwright.workshop.kept_forecasts import Prepare

__all__ = ["garden_climate_of"]


def garden_climate_of(workshop: Workshop, kept: Kept) -> Prepare:
    """How the climate of its garden comes to a colony: its file's, before that the readings of the loggers there.

    Readings count up to the last midnight, so that a logger that sends all day makes one new forecast a day.
    """

    def prepare(colony: Colony, horizon: int) -> tuple[Colony, Climate | None, tuple[str, ...]]:
        from nestwright.errands.fitting import with_climate
        from nestwright.errands.garden_climate import read_garden_climate

        read = []
        if colony.climate_file:
            read.append(read_garden_climate(workshop.folder / "colonies" / colony.climate_file, colony, horizon))
        measured = _measured(workshop, kept.id, colony, horizon)
        read += [] if measured is None else [measured]
        made, ahead = with_climate(colony, read)
        return made, ahead, tuple(_digest(one) for one in (made.climate, ahead) if one is not None)

    return prepare


_known: dict[tuple[str, int], tuple[object, GardenClimate | None]] = {}
"""By workshop and colony: what its climate was made of when it was last asked for, and the climate. A page that looks
every minute must not read a year of readings each time."""


def _measured(workshop: Workshop, colony_id: int, colony: Colony, horizon: int) -> GardenClimate | None:
    """The climate out of the loggers at a colony's garden, read anew only where something of it changed."""
    from nestwright.errands.garden_climate import recorded_climate
    from nestwright.workshop.database import reading
    from nestwright.workshop.garden_air import air_state, garden_air

    zone = workshop.zone
    begin, midnight = (datetime.combine(day, time(), zone) for day in (colony.start, datetime.now(zone).date()))
    low, high = (int(1000 * t.timestamp()) for t in (begin, midnight))
    if low >= high:
        return None
    with reading(workshop.engine) as connection:
        air_of = air_state(connection, workshop.folder, colony_id, zone, low, high)
        state = (air_of, colony.start, colony.days, colony.species, horizon, low, high)
        place = str(workshop.database), colony_id
        if place not in _known or _known[place][0] != state:
            air = garden_air(connection, workshop.folder, colony_id, colony.start, zone, low, high)
            _known[place] = state, None if air is None else recorded_climate(air, colony, horizon)
        return _known[place][1]


def _digest(climate: Climate) -> str:
    """A climate in a few letters: the same to a thousandth of its units makes the same."""
    import hashlib

    import numpy as np

    columns = [np.round(np.asarray(getattr(climate, f.name), dtype=float), 3) + 0.0 for f in fields(climate)]
    return hashlib.sha256(np.stack(columns).tobytes()).hexdigest()[:32]
