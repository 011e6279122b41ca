"""The air outside a parcel over time: fixed, a profile by name, a weather year at its day, or a forecast."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.climate.weather import read_text, read_weather, weather_form
from nestwright.data import parcel_profiles
from nestwright.errors import InputError, nearest_name
from nestwright.parcel.model import Parcel
from nestwright.physics import air

__all__ = ["legs_of", "outside_air", "read_outside"]

Array = NDArray[np.float64]
ALLOWED = '"5 degC, 80 %", the name of a profile, a weather file, or a forecast (CSV)'


def read_outside(text: str, folder: Path, dispatch: datetime, altitude: float) -> tuple[Room, bool]:
    """Air of a leg from the text of the file, and whether its time 0 is midnight of the dispatch's day.

    Raises InputError for what names no air, or a record that does not reach the dispatch.
    """
    profiles = parcel_profiles()
    if text in profiles:
        hours, temperature, humidity = profiles[text]
        kelvin = np.array(temperature) + 273.15
        vapour = np.full(len(hours), humidity * float(air.saturation_pressure(float(kelvin.mean()))))
        vapour = np.minimum(vapour, air.saturation_pressure(kelvin))
        return Room(text, np.array(hours) * 3600.0, kelvin, vapour, float(air.pressure_at_altitude(altitude))), True
    path = folder / text
    if "%" not in text and _is_file(path):
        if path.suffix.lower() != ".toml" and weather_form(read_text(path)):
            return _weather(path, dispatch), False
        room = read_room(str(path), altitude)
        if not room.start:
            raise InputError("a forecast has dates", found=repr(text), allowed="a CSV with time, temperature, humidity")
        return _from(room, datetime.fromisoformat(room.start).replace(tzinfo=None), dispatch, text), False
    try:
        return read_room(text, altitude), False
    except InputError as error:
        if "%" in text:
            raise
        nearest = nearest_name(text, profiles)
        raise InputError(
            "names no outside air",
            found=repr(text),
            allowed=f"{ALLOWED}; profiles: {', '.join(profiles)}",
            nearest=nearest,
        ) from error


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):
        return False


def _weather(path: Path, dispatch: datetime) -> Room:
    """The outdoor air of a year, twice in a row, from the moment of dispatch on."""
    year = read_weather(path)
    start = (datetime(2001, dispatch.month, min(dispatch.day, 28), dispatch.hour, dispatch.minute)
             - datetime(2001, 1, 1)).total_seconds()  # fmt: skip
    if dispatch.day > 28:
        start += 86400.0 * (dispatch.day - 28)
    whole = 365 * 86400.0
    time = np.concatenate([year.time, year.time + whole])
    room = Room(
        year.name,
        time,
        np.tile(year.temperature, 2),
        np.tile(year.vapour_pressure, 2),
        year.mean_pressure,
        source=year.source,
    )
    keep = (time >= start - 7200) & (time <= start + 60 * 86400.0)
    return Room(room.name, time[keep] - start, room.temperature[keep], room.vapour_pressure[keep], room.pressure)


def _from(room: Room, start: datetime, dispatch: datetime, text: str) -> Room:
    shift = (start - dispatch) / timedelta(seconds=1)
    end = start + timedelta(seconds=float(room.time[-1]))
    if shift > 0 or end <= dispatch:
        raise InputError(
            "the record does not hold the hour of dispatch",
            found=f"{text!r}, {start} to {end}",
            allowed=f"a record that holds {dispatch}",
        )
    return Room(room.name, room.time + shift, room.temperature, room.vapour_pressure, room.pressure)


def legs_of(parcel: Parcel, delay_hours: float) -> tuple[tuple[str, float, float, int], ...]:
    """Legs with the delay: name, hours at beginning and end, number of the leg. A late parcel waits at the end of the
    leg with `waits`, or else of the longest."""
    if not parcel.legs:
        raise ValueError("a parcel without legs")
    waits = next((k for k, leg in enumerate(parcel.legs) if leg.waits), -1)
    if waits < 0:
        waits = max(range(len(parcel.legs)), key=lambda k: parcel.legs[k].hours)
    found, at = [], 0.0
    for k, leg in enumerate(parcel.legs):
        end = at + leg.hours + (delay_hours if k == waits else 0.0)
        found.append((leg.name, at, end, k))
        at = end
    return tuple(found)


def outside_air(parcel: Parcel, delay_hours: float, time: Array, offset: float | Array = 0.0) -> tuple[Array, Array]:
    """Temperature K and vapour pressure Pa outside at times s from dispatch, shape (m,).

    `offset` K, a number or (n, 1), warms or cools all of the way at equal vapour pressure, at most saturated. After the
    end of a forecast its last value holds on.
    """
    kelvin, vapour = np.empty_like(time), np.empty_like(time)
    midnight = parcel.dispatch.replace(hour=0, minute=0, second=0, microsecond=0)
    since = (parcel.dispatch - midnight).total_seconds()
    legs = legs_of(parcel, delay_hours)
    for n, (_, begin, end, k) in enumerate(legs):
        last = n == len(legs) - 1
        here = (time >= 3600 * begin - 1e-6) & ((time < 3600 * end - 1e-6) | last)
        room = parcel.legs[k].room
        at = np.mod(time[here] + since, 86400.0) if parcel.legs[k].by_day else time[here]
        kelvin[here] = np.interp(at, room.time, room.temperature)
        vapour[here] = np.interp(at, room.time, room.vapour_pressure)
    shifted = kelvin + offset
    return shifted, np.minimum(vapour, air.saturation_pressure(shifted))
