"""What the loggers of a build measured, hour by hour: in its chambers, and in its room as the air of a room."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values
from nestwright.physics import air
from nestwright.workshop.builds import Made
from nestwright.workshop.course import course
from nestwright.workshop.moments import local_ms, moment_of
from nestwright.workshop.placements import placements
from nestwright.workshop.readings import HOUR, channels_of, span_of
from nestwright.workshop.sensors import at_reference, scale_of, spans_at_references

__all__ = ["DAYS", "LEAD", "SOURCE", "MeasuredHours", "last_days", "measured_hours", "measured_room"]

Array = NDArray[np.float64]
Moments = NDArray[np.int64]
QUANTITIES = ("temperature", "relative_humidity", "co2")
DAYS = 30
"""Days that are compared."""
LEAD = 10
"""Days of the room before them, from which a run begins, so that its begin has no part in what is compared."""
SOURCE = "readings of logger "
"""How the source of a measured room begins; its logger's name follows."""
LEAST_ROOM = 24
"""Hours of the room's air from which it is one to prove in."""


@dataclass(frozen=True)
class MeasuredHours:
    """Hours of one quantity where one logger of a build stood: `chamber` "" for the room; `at` begin of each, UTC ms
    (n,), rising; `local` the same on the workshop's clock; `value`, `common`, `own` (n,) SI: mean, and its standard
    uncertainties that all share and that each has for itself."""

    chamber: str
    quantity: str
    logger: str
    at: Moments
    local: Moments
    value: Array
    common: Array
    own: Array
    calibrated: bool


def last_days(connection: Connection, zone: ZoneInfo, made: Made, days: int = DAYS) -> tuple[int, int] | None:
    """From when to when (UTC ms) the last days reach that loggers in a build's chambers measured; None for none.

    Whole days on the workshop's clock, so that a day of few hours does not pass for a mean of a day; when there is no
    whole day yet, the day that there is.
    """
    first, last = [], []
    for place in placements(connection, build_id=made.id):
        for channel in channels_of(connection, place.logger) if place.chamber else ():
            begin, end, count = span_of(connection, channel.id)
            begin = max(begin, place.since)
            end = end if place.until is None else min(end, place.until - 1)
            if count and scale_of(channel) is not None and begin <= end:
                first.append(begin)
                last.append(end)
    if not last:
        return None
    # of a day whose last hour was read nothing is missing
    after = datetime.fromtimestamp((max(last) + HOUR) / 1000, zone).date()
    if moment_of(after.isoformat(), zone, "day") <= min(first):
        after += timedelta(days=1)
    ends = [(after - timedelta(days=n)).isoformat() for n in (days, 0)]
    return moment_of(ends[0], zone, "day"), moment_of(ends[1], zone, "day")


def measured_hours(
    connection: Connection, zone: ZoneInfo, made: Made, low: int, high: int, *, room: bool = False
) -> list[MeasuredHours]:
    """Hours that the loggers in a build's chambers measured from `low` on and before `high` (UTC ms), corrected; with
    `room` those in its room.

    Hours at the references of a calibration are left out. Raises InputError for a calibration that cannot be read.
    """
    found = []
    for place in placements(connection, build_id=made.id):
        begin, end = max(low, place.since), min(high, high if place.until is None else place.until)
        if bool(place.chamber) is room or begin >= end:
            continue
        away = [(a // HOUR * HOUR, b) for a, b in spans_at_references(connection, place.logger)]
        for channel in channels_of(connection, place.logger):
            scale = scale_of(channel)
            if scale is None or scale.quantity not in QUANTITIES:
                continue
            # hours that reach beyond the placement are of another place too
            read = course(connection, channel, -(-begin // HOUR) * HOUR, end // HOUR * HOUR, by="hour")
            kept = ~at_reference(away, read.at)
            if kept.any():
                at = read.at[kept]
                found.append(
                    MeasuredHours(
                        place.chamber, scale.quantity, place.logger, at, local_ms(at, zone),
                        scale.si(read.mean[kept]), read.common[kept] * scale.factor, read.own[kept] * scale.factor,
                        read.calibrations > 0,
                    )
                )  # fmt: skip
    return sorted(found, key=lambda one: (one.chamber, QUANTITIES.index(one.quantity), one.logger, one.at[0]))


def measured_room(hours: list[MeasuredHours]) -> Room | None:
    """The air of a room out of the hours that a logger measured there; None where temperature and humidity were not
    measured together for a day. Of several loggers the one with most hours is taken."""
    best: Room | None = None
    for logger in dict.fromkeys(one.logger for one in hours):
        mine = {q: [one for one in hours if one.logger == logger and one.quantity == q] for q in QUANTITIES}
        if not mine["temperature"] or not mine["relative_humidity"]:
            continue
        warm, damp = (_joined(mine[q]) for q in QUANTITIES[:2])
        at, left, right = np.intersect1d(warm[0], damp[0], assume_unique=True, return_indices=True)
        if len(at) < max(LEAST_ROOM, 0 if best is None else len(best.time) + 1):
            continue
        temperature = warm[1][left]
        saturated = np.asarray(air.saturation_pressure(temperature))
        values = room_values()
        gas = np.concatenate([one.value for one in mine["co2"]]) if mine["co2"] else None
        begin = datetime(1970, 1, 1) + timedelta(milliseconds=int(at[0]) + HOUR // 2)
        best = Room(
            name=f"measured by logger {logger}",
            time=(at - at[0]) / 1000.0,
            temperature=temperature,
            vapour_pressure=np.clip(damp[1][right], 0.0, 1.0) * saturated,
            co2=values["co2"].value if gas is None else float(gas.mean()),
            o2=values["o2"].value,
            start=begin.isoformat(),
            source=f"{SOURCE}{logger}",
        )
    return best


def _joined(parts: list[MeasuredHours]) -> tuple[Moments, Array]:
    """Hours on the workshop's clock, rising; the hour that autumn repeats is taken once."""
    at, value = np.concatenate([p.local for p in parts]), np.concatenate([p.value for p in parts])
    at, first = np.unique(at, return_index=True)
    return at, value[first]
