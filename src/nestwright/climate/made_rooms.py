"""Rooms made from a few figures: fixed air, and a swing of day and season."""

from __future__ import annotations

import math

import numpy as np

from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values, within
from nestwright.climate.weather import TYPICAL_YEAR
from nestwright.errors import InputError
from nestwright.physics import air

__all__ = ["fixed_room", "swing_room"]

_HOUR, _DAY = 3600.0, 86400.0
_DAYS = 365


def fixed_room(
    temperature: float,
    *,
    relative_humidity: float | None = None,
    vapour_pressure: float | None = None,
    name: str = "",
    pressure: float = 101325.0,
    co2: float | None = None,
    source: str = "fixed values",
) -> Room:
    """Room air that never changes.

    `temperature` K; `relative_humidity` 0 to 1 or `vapour_pressure` Pa, one of them; `pressure` Pa; `co2` mole
    fraction. Its record is two equal knots a day apart. Raises InputError when that is no air of a room.
    """
    saturated = float(air.saturation_pressure(temperature))
    e = vapour_pressure if vapour_pressure is not None else (relative_humidity or 0.0) * saturated
    _check(temperature, e / saturated)
    label = name or f"{temperature - 273.15:.4g} °C, {e / saturated * 100:.3g} % RH"
    values = room_values()
    return Room(
        name=label,
        time=np.array([0.0, _DAY]),
        temperature=np.full(2, float(temperature)),
        vapour_pressure=np.full(2, float(e)),
        pressure=pressure,
        co2=values["co2"].value if co2 is None else co2,
        o2=values["o2"].value,
        source=source,
    )


def swing_room(
    mean: float,
    *,
    day_swing: float = 0.0,
    warmest_hour: float = 16.0,
    season_swing: float = 0.0,
    warmest_day: int = 201,
    relative_humidity: float | None = None,
    vapour_pressure: float | None = None,
    name: str = "",
    pressure: float = 101325.0,
    co2: float | None = None,
    source: str = "mean and swings",
) -> Room:
    """A year of room air as a mean with a swing over the day and one over the year, hourly knots.

    Parameters
    ----------
    mean : float
        K.
    day_swing, season_swing : float
        K above and below the mean.
    warmest_hour : float
        Hour of the day, 0 to 24.
    warmest_day : int
        Day of the year, 1 to 365.
    relative_humidity, vapour_pressure : float
        0 to 1, or Pa; one of them, the same all year. A vapour pressure is capped at `highest_humidity` of
        `data/room.toml`.

    Returns
    -------
    Room
        8761 knots.

    Raises
    ------
    InputError
        When the air is at any time none of a room.
    """
    time = np.arange(_DAYS * 24 + 1, dtype=np.float64) * _HOUR
    day = np.cos(2 * math.pi * (time / _HOUR - warmest_hour) / 24)
    # The warmest day is warmest at its noon.
    season = np.cos(2 * math.pi * (time / _DAY - (warmest_day - 0.5)) / _DAYS)
    temperature = mean + day_swing * day + season_swing * season
    saturated = np.asarray(air.saturation_pressure(temperature))
    if vapour_pressure is not None:
        e = np.minimum(vapour_pressure, room_values()["highest_humidity"].value * saturated)
    else:
        e = (relative_humidity or 0.0) * saturated
    for k in (int(temperature.argmin()), int(temperature.argmax())):
        _check(float(temperature[k]), float(e[k] / saturated[k]))
    values = room_values()
    return Room(
        name=name or "swing",
        time=time,
        temperature=temperature,
        vapour_pressure=e,
        pressure=pressure,
        co2=values["co2"].value if co2 is None else co2,
        o2=values["o2"].value,
        start=f"{TYPICAL_YEAR}-01-01T00:00:00",
        source=source,
    )


def _check(temperature: float, humidity: float) -> None:
    values = room_values()
    if not within("accept_temperature", temperature):
        at = values["accept_temperature"]
        raise InputError(
            "no room temperature", field="temperature", found=f"{temperature - 273.15:.4g} °C",
            allowed=f"{at.low - 273.15:.0f} to {at.high - 273.15:.0f} °C",
        )  # fmt: skip
    # A state that somebody writes down is not a logger that reads too high: 100 % is the end.
    if not values["accept_humidity"].low <= humidity <= 1.0 + 1e-9:
        raise InputError(
            "no humidity of a room", field="humidity", found=f"{humidity * 100:.4g} %",
            allowed=f"{values['accept_humidity'].low * 100:.0f} to 100 %",
        )  # fmt: skip
