"""What the logger inside a parcel measured on its way, and the journey that the record knows of."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection

from nestwright.data import SpeciesCard, read_values
from nestwright.parcel.receiving import Found, Journey, journey_of
from nestwright.workshop.course import course
from nestwright.workshop.parcels import KeptParcel
from nestwright.workshop.readings import HOUR, channels_of
from nestwright.workshop.sensors import scale_of

__all__ = ["ParcelLog", "found_in", "journey_known", "parcel_log", "way_span"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ParcelLog:
    """The course inside from dispatch on: hours (n,), temperature K (n,), its standard uncertainty K (n,; nan where
    it is not calibrated), relative humidity 0 to 1 (n,) at the same moments or None."""

    hours: Array
    temperature: Array
    error: Array
    humidity: Array | None


def way_span(kept: KeptParcel, zone: ZoneInfo) -> tuple[int, int] | None:
    """From dispatch to arrival, UTC ms; days without an hour at the usual hour of hand-over. None where one is not
    told."""
    v, hour = kept.values, int(read_values("delay.toml")["delivery_hour"].value)
    ends = []
    for day, at in (("sent", "sent_at"), ("arrived", "arrived_at")):
        if not v[day]:
            return None
        usual = datetime.fromisoformat(v[day]).replace(hour=hour, tzinfo=zone).timestamp() * 1000
        ends.append(round(usual) if v[at] is None else int(v[at]))
    return (ends[0], ends[1]) if ends[0] < ends[1] else None


def parcel_log(connection: Connection, kept: KeptParcel, zone: ZoneInfo) -> ParcelLog | None:
    """Corrected readings of the logger inside between dispatch and arrival; None for none, or without temperature.

    Raises InputError for a calibration that cannot be read.
    """
    span = way_span(kept, zone)
    if not kept.logger or span is None:
        return None
    found = {}
    for channel in channels_of(connection, kept.logger):
        scale = scale_of(channel)
        if scale is None or scale.quantity in found:
            continue
        read = course(connection, channel, *span, by="reading")
        if len(read.at):
            error = np.hypot(read.common, read.own) * scale.factor
            found[scale.quantity] = ((read.at - span[0]) / HOUR, np.asarray(scale.si(read.mean)), error)
    if "temperature" not in found:
        return None
    hours, warm, error = found["temperature"]
    damp = found.get("relative_humidity")
    humidity = None if damp is None else np.clip(np.interp(hours, damp[0], damp[1]), 0.0, 1.0)
    return ParcelLog(hours, warm, error, humidity)


def journey_known(connection: Connection, kept: KeptParcel, zone: ZoneInfo, card: SpeciesCard) -> Journey:
    """What a parcel went through: by its logger, else as it was computed at dispatch, else its hours alone."""
    log = parcel_log(connection, kept, zone)
    if log is not None:
        return journey_of(log.hours, log.temperature - 273.15, log.humidity, card, "logger")
    predicted = kept.to_dict()["predicted"]
    if predicted and predicted.get("journey"):
        told = predicted["journey"]
        units = {"now_degC": "now", "lowest_degC": "lowest", "highest_degC": "highest"}
        return Journey(**{units.get(k, k): v for k, v in told.items()})
    span = way_span(kept, zone)
    return Journey() if span is None else Journey(hours=(span[1] - span[0]) / HOUR)


def found_in(kept: KeptParcel, queen: bool = True) -> Found:
    """What the record says was found in a parcel."""
    from nestwright.colony.texts import parse_count

    v = kept.values
    alive, dead = (parse_count(v[k]).value if v[k] else None for k in ("workers_alive", "workers_dead"))
    return Found(v["garden_ml"], tuple(v["garden_health"].split()), alive, dead, queen)
