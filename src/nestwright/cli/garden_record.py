"""The climate of a garden, day by day, from the loggers of the workshop's record that stood at it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.garden_climate import DAY, KEYS, GardenClimate, days_of, garden_limits

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from nestwright.colony.model import Colony
    from nestwright.workshop.folder import Workshop

__all__ = ["recorded_climate"]

RECENT = 14
"""Measured days whose mean stands for the days to come."""


def recorded_climate(
    connection: Connection, workshop: Workshop, colony_id: int, colony: Colony, horizon: int
) -> GardenClimate | None:
    """The climate of a colony's garden over its record and the `horizon` days to come.

    None where no logger stood at its garden in that time. Depths beyond the limits are those of the species card, as in
    `read_garden_climate`; days to come that were not measured are as the last fourteen measured. Raises InputError for
    a calibration of the record that cannot be read.
    """
    import numpy as np

    from nestwright.colony.model import Climate
    from nestwright.workshop.garden_air import garden_air
    from nestwright.workshop.moments import moment_of

    first = moment_of(colony.start.isoformat(), workshop.zone, "start")
    days = colony.days + 1
    whole = days + max(horizon, 1)
    # a day more than asked, for clocks that are set back
    last = first + int((whole + 1) * DAY * 1000)
    air = garden_air(connection, workshop.folder, colony_id, colony.start, workshop.zone, first, last)
    if air is None:
        return None
    limits = garden_limits(colony.species)
    found = days_of(air.when, air.weight, air.temperature, air.humidity, limits, whole, air.co2_inside)
    values = {k: getattr(found, k) for k in KEYS}
    record = Climate(**{k: v[:days] for k, v in values.items()})
    known = int(np.isfinite(record.temperature).sum())
    if not known and not np.isfinite(values["temperature"]).any():
        return None
    ahead = None
    if np.isfinite(values["temperature"][days:]).any():
        parts = {}
        for k, v in values.items():
            measured = v[np.isfinite(v)][-RECENT:]
            coming = v[colony.days : colony.days + horizon]
            parts[k] = np.where(np.isfinite(coming), coming, measured.mean())
        ahead = Climate(**parts)
    notes = ["climate: the record's loggers; no drip in them, taken as none"]
    if air.co2 is None or np.isnan(air.co2).any():
        never = "not" if air.co2 is None else "not always"
        notes.append(f"climate: CO2 {never} measured, taken as inside the limits where it was not")
    notes += [f"climate: {n}" for n in air.notes]
    many = "logger" if len(air.loggers) == 1 else "loggers"
    source = f"{many} {', '.join(air.loggers)} of the record, {known} of {days} days"
    return GardenClimate(source, record if known else None, ahead, False, None, tuple(notes))
