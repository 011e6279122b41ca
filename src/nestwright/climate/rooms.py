"""From a text that names a room to its air: fixed values, a room file, a logger's file, or a weather year."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from nestwright.climate.humidity_class import check_class
from nestwright.climate.indoor import Indoor, weather_room
from nestwright.climate.logger import gaps, logger_room, read_logger
from nestwright.climate.made_rooms import fixed_room
from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values, within
from nestwright.climate.weather import TYPICAL_YEAR, read_text, read_weather, weather_form
from nestwright.document import neighbour
from nestwright.errors import InputError
from nestwright.files import write_whole
from nestwright.physics import air
from nestwright.units import NUMBER, UnitProblem, parse_quantity

__all__ = ["read_room", "room_summary", "write_room"]

_TEMPERATURE = rf"\s*({NUMBER}\s*(?:deg ?[CFcf]|°\s*[CFcf]|[CFcfK]))\s*"
_HUMIDITY = rf"\s*({NUMBER})\s*%\s*(?:RH|rh|r\.h\.)?\s*"
_PAIR = re.compile(rf"{_TEMPERATURE}[,;/ ]{_HUMIDITY}", re.ASCII)
_REVERSED = re.compile(rf"{_HUMIDITY}[,;/ ]{_TEMPERATURE}", re.ASCII)
_BEGINS = re.compile(rf"{_TEMPERATURE}(?![^\s,;/])", re.ASCII)
_ALLOWED = (
    'a temperature and a humidity as "21 degC, 45 %", a room file (.toml), a logger CSV, or a weather file (EPW, TMY3)'
)
_QUANTILES = {"lowest": 0.0, "p5": 0.05, "median": 0.5, "p95": 0.95, "highest": 1.0}


def read_room(
    spec: str,
    altitude: float | None = None,
    *,
    set_point: float | None = None,
    humidity_class: int | None = None,
) -> Room:
    """The air of a room from what the user names it by.

    Parameters
    ----------
    spec : str
        A pair such as "21 degC, 45 %" or "70 degF, 45 %", or the path of a room file (TOML), a logger CSV, or a
        weather file (EPW, TMY3, or our compact form). What stands in a file counts, not its suffix.
    altitude : float, optional
        m; gives the station pressure by the standard atmosphere in place of what the file says.
    set_point : float, optional
        K; heating set-point of a room under a weather year, in place of the file's.
    humidity_class : int, optional
        Class 1 to 5 of ISO 13788 of a room under a weather year, in place of the file's.

    Returns
    -------
    Room

    Raises
    ------
    InputError
        When the text names no room, or the file is at fault.

    Examples
    --------
    >>> room = read_room("21 degC, 45 %")
    >>> round(float(room.temperature[0]), 2), round(float(room.vapour_pressure[0]))
    (294.15, 1119)
    """
    if altitude is not None and not -500 <= altitude <= 9000:
        raise InputError("no altitude", field="altitude", found=f"{altitude:g} m", allowed="-500 to 9000 m")
    pressure = None if altitude is None else float(air.pressure_at_altitude(altitude))
    if set_point is not None and not within("accept_temperature", set_point):
        at = room_values()["accept_temperature"]
        raise InputError(
            "no set-point of a room", field="set-point", found=f"{set_point - 273.15:.4g} °C",
            allowed=f"{at.low - 273.15:.0f} to {at.high - 273.15:.0f} °C",
        )  # fmt: skip
    if humidity_class is not None:
        check_class(humidity_class, field="class")
    path = Path(spec)
    if not _is_file(path):
        _no_settings(spec, set_point, humidity_class)
        return _pair(spec, pressure)
    if path.suffix.lower() == ".toml":
        from nestwright.climate.room_file import read_room_file

        return read_room_file(path, pressure=pressure, set_point=set_point, humidity_class=humidity_class)
    if weather_form(read_text(path)):
        return weather_room(read_weather(path), _settings(set_point, humidity_class), pressure=pressure)
    _no_settings(spec, set_point, humidity_class)
    return logger_room(path, read_logger(path), pressure=pressure)


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except (OSError, ValueError):  # a name too long, or with a NUL in it
        return False


def _is_folder(spec: str) -> bool:
    try:
        return bool(spec) and Path(spec).is_dir()
    except (OSError, ValueError):
        return False


def _settings(set_point: float | None, humidity_class: int | None) -> Indoor:
    values = room_values()
    assumed = [text for text, given in (("set-point", set_point), ("humidity class", humidity_class)) if given is None]
    assumed.append("gains")
    return Indoor(
        values["set_point"].value if set_point is None else set_point,
        round(values["humidity_class"].value) if humidity_class is None else humidity_class,
        assumed=tuple(assumed),
    )


def _no_settings(spec: str, set_point: float | None, humidity_class: int | None) -> None:
    for name, given in (("set-point", set_point), ("class", humidity_class)):
        if given is not None:
            raise InputError(
                "goes with a weather year only", field=name, found=repr(spec[:60]),
                allowed='a weather file, or a room file with kind = "weather"',
            )  # fmt: skip


def _pair(spec: str, pressure: float | None) -> Room:
    match = _PAIR.fullmatch(spec)
    if match is None:
        path = Path(spec)
        if _is_folder(spec):
            raise InputError("is a folder, not a file", field="room", found=repr(spec[:120]), allowed=_ALLOWED)
        if "%" not in spec and (path.suffix or "/" in spec):
            raise InputError(
                "there is no such room file", found=repr(spec[:120]), allowed=_ALLOWED, nearest=neighbour(path)
            )
        raise _no_room(spec)
    text = re.sub(r"\s*(?:deg ?|°\s*)?([CFcfK])$", lambda m: f" {_unit(m[1])}", match[1])
    try:
        temperature = parse_quantity(text, "temperature")
    except UnitProblem as problem:
        raise InputError(
            problem.message, field="temperature", found=problem.found, allowed=problem.allowed, nearest=problem.nearest
        ) from None
    return fixed_room(
        temperature, relative_humidity=float(match[2]) / 100, pressure=101325.0 if pressure is None else pressure
    )


_QUANTITY = re.compile(rf"\s*{NUMBER}\s*([^\s\d.,;/]+)\s*", re.ASCII)


def _no_room(spec: str) -> InputError:
    """Why a text names no room, and which part of it is wrong."""
    point = re.sub(r"(\d),(\d)", r"\1.\2", spec)
    one, begins = _QUANTITY.fullmatch(spec), _BEGINS.match(spec)
    head = re.split(r"[,;/]", spec, maxsplit=1)
    found, nearest = spec, ""
    if _PAIR.fullmatch(point):
        message, nearest = "has a comma in a number, which has a point here", point
    elif turned := _REVERSED.fullmatch(spec):
        message, nearest = "tells the humidity before the temperature", f"{turned[2]}, {turned[1]} %"
    elif one and one[1].startswith("%"):
        message = "tells a humidity without its temperature"
    elif begins and begins.end() == len(spec):
        message = "tells a temperature without its humidity"
    elif begins:
        message, found = "its humidity cannot be read", spec[begins.end() :].strip(" ,;/")
    elif len(head) > 1:
        message, found = "its temperature cannot be read", head[0].strip()
    elif one:
        message = "is no air of a room: a temperature is in degC, degF or K, a humidity in %"
    else:
        message = "names no room: it is neither a file that is there nor a temperature with a humidity"
    return InputError(message, field="room", found=repr(found[:120]), allowed=_ALLOWED, nearest=nearest)


def _unit(letter: str) -> str:
    return "K" if letter == "K" else f"deg{letter.upper()}"


def room_summary(room: Room) -> dict[str, Any]:
    """What a room's air is like over its record, in the units of the keys; quantiles by time, hour by hour.

    Returns a dict with name, source, start, hours, knots, gaps, gap_hours, pressure_hPa, co2_ppm, notes, and for
    `temperature_degC` and `relative_humidity_pct` the keys lowest, p5, median, p95, highest.
    """
    hours = max(2, round(float(room.time[-1] - room.time[0]) / 3600) + 1)
    grid = np.linspace(room.time[0], room.time[-1], min(hours, 200_000))
    t = np.interp(grid, room.time, room.temperature)
    e = np.interp(grid, room.time, room.vapour_pressure)
    humidity = np.minimum(e / air.saturation_pressure(t), 1.0) * 100
    exact = np.minimum(room.vapour_pressure / air.saturation_pressure(room.temperature), 1.0) * 100
    count, gap_hours = gaps(room.time)
    return {
        "name": room.name,
        "source": room.source,
        "start": room.start,
        "hours": float(room.time[-1] - room.time[0]) / 3600,
        "knots": len(room.time),
        "gaps": count,
        "gap_hours": gap_hours,
        "pressure_hPa": room.pressure / 100,
        "co2_ppm": room.co2 * 1e6,
        "temperature_degC": _spread(t - 273.15, room.temperature - 273.15),
        "relative_humidity_pct": _spread(humidity, exact),
        "notes": list(room.notes),
    }


def _spread(by_hour: Any, knots: Any) -> dict[str, float]:
    made = {name: float(np.quantile(by_hour, q)) for name, q in _QUANTILES.items()}
    # The ends are those of the readings: an extreme between two hours is not lost.
    return made | {"lowest": float(knots.min()), "highest": float(knots.max())}


def write_room(room: Room, path: str | Path) -> None:
    """Write a room as a CSV that `read_room` reads back: time, degC, % RH; the rest as comments on top.

    Temperature and humidity have two decimals. A room without dates starts on the first day of a typical year. The
    file appears whole or not at all. Raises InputError when it cannot be written.
    """
    start = datetime.fromisoformat(room.start or f"{TYPICAL_YEAR}-01-01T00:00")
    humidity = np.minimum(room.vapour_pressure / air.saturation_pressure(room.temperature), 1.0) * 100
    comments = {
        "name": room.name,
        "source": room.source,
        "pressure_Pa": f"{room.pressure:.1f}",
        "co2_ppm": f"{room.co2 * 1e6:.1f}",
    }
    lines = [f"# {key} = {' '.join(value.split())}" for key, value in comments.items()]
    lines.append("time,temperature_degC,relative_humidity_pct")
    for s, t, h in zip(room.time.tolist(), (room.temperature - 273.15).tolist(), humidity.tolist(), strict=True):
        lines.append(f"{(start + timedelta(seconds=s)).isoformat()},{t + 0.0:.2f},{h:.2f}")
    write_whole(path, "\n".join(lines) + "\n")
