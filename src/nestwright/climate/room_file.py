"""The room file: TOML with units in the values, one of four kinds."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

from nestwright.climate.humidity_class import check_class
from nestwright.climate.indoor import Indoor, weather_room
from nestwright.climate.logger import Columns, logger_room, read_logger
from nestwright.climate.made_rooms import fixed_room, swing_room
from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values, within
from nestwright.climate.weather import TYPICAL_YEAR, read_weather
from nestwright.document import Document
from nestwright.errors import InputError, nearest_name
from nestwright.kinds import check_kind
from nestwright.letters import one_line, several_lines
from nestwright.physics import air
from nestwright.units import UnitProblem, parse_quantity

__all__ = ["KEYS", "read_room_file"]

_COMMON = ("format", "kind", "name", "note", "altitude", "co2")
KEYS: dict[str, tuple[str, ...]] = {
    "fixed": (*_COMMON, "temperature", "relative_humidity", "vapour_pressure"),
    "swing": (
        *_COMMON, "mean", "day_swing", "warmest_hour", "season_swing", "warmest_day", "relative_humidity",
        "vapour_pressure",
    ),
    "logger": (*_COMMON, "file", "columns", "time_zone", "day_first"),
    "weather": (
        *_COMMON, "file", "set_point", "night_set_back", "night", "cooling_limit", "gains", "humidity_class",
        "within_class", "ventilation",
    ),
}  # fmt: skip
"""Kind of room to the keys that its file may have."""

_COLUMN_KEYS = ("time", "temperature", "humidity", "temperature_unit")
_SHARES = {"lower": 0.0, "middle": 0.5, "upper": 1.0}
_PRESSURE = re.compile(r"\s*(\d+(?:\.\d*)?)\s*(Pa|hPa|mbar|kPa)\s*", re.ASCII)
_TO_PA = {"Pa": 1.0, "hPa": 100.0, "mbar": 100.0, "kPa": 1000.0}
_CLOCK = re.compile(r"(\d{1,2}):(\d{2})", re.ASCII)
_PART_OF_YEAR = re.compile(r"(\d{2})-(\d{2})", re.ASCII)


class _Entries:
    """The keys of one file, each read with its place known."""

    def __init__(self, path: Path) -> None:
        self.file = str(path)
        try:
            self.text = path.read_text("utf-8")
            self.raw: dict[str, Any] = tomllib.loads(self.text)
        except tomllib.TOMLDecodeError as error:
            at = re.search(r"\(at line (\d+)", str(error))
            message = re.sub(r" \(at .*\)$", "", str(error))
            raise InputError(
                f"is not TOML: {message}", file=self.file, line=int(at[1]) if at else len(self.text.splitlines())
            ) from None
        except UnicodeDecodeError:
            raise InputError("is not text in UTF-8", file=self.file) from None
        except (OSError, RecursionError) as error:
            reason = getattr(error, "strerror", None) or type(error).__name__
            raise InputError("cannot be read", file=self.file, found=str(reason)) from None

    def line(self, key: str) -> int:
        for number, text in enumerate(self.text.splitlines(), 1):
            if re.match(rf"\s*\[?\s*[\"']?{re.escape(key)}[\"']?\s*[=\]]", text):
                return number
        return 0

    def fault(self, key: str, message: str, found: Any = "", allowed: str = "", nearest: str = "") -> InputError:
        shown = repr(found) if found != "" else ""
        return InputError(
            message, file=self.file, line=self.line(key), field=key, found=shown[:60], allowed=allowed, nearest=nearest
        )

    def text_of(self, key: str, default: str | None = None) -> str:
        value = self.raw.get(key, default)
        if value is None:
            raise self.fault(key, "is missing")
        if not isinstance(value, str) or (not value.strip() and default is None):
            raise self.fault(key, "is a text", value)
        try:
            return several_lines(value) if key == "note" else one_line(value)
        except UnitProblem as p:
            raise InputError(
                p.message, file=self.file, line=self.line(key), field=key, found=p.found, allowed=p.allowed
            ) from None

    def quantity(self, key: str, kind: str, default: float | None = None) -> float:
        """SI value of a text with its unit. Without default the key must be there."""
        if key not in self.raw:
            if default is None:
                raise self.fault(key, "is missing")
            return default
        try:
            return parse_quantity(self.raw[key], kind)
        except UnitProblem as p:
            raise InputError(
                p.message, file=self.file, line=self.line(key), field=key, found=p.found, allowed=p.allowed,
                nearest=p.nearest,
            ) from None  # fmt: skip

    def optional(self, key: str, kind: str) -> float | None:
        return self.quantity(key, kind) if key in self.raw else None

    def room_temperature(self, key: str, default: float | None = None) -> float:
        value = self.quantity(key, "temperature", default)
        if not within("accept_temperature", value):
            at = room_values()["accept_temperature"]
            allowed = f"{at.low - 273.15:.0f} to {at.high - 273.15:.0f} degC"
            raise self.fault(key, "is no temperature of a room", self.raw.get(key, ""), allowed)
        return value

    def clock(self, key: str, value: Any) -> float:
        """Hours of a text such as "22:30"."""
        match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
        if match is None or int(match[2]) > 59 or int(match[1]) * 60 + int(match[2]) > 24 * 60:
            raise self.fault(key, "is no time of the day", value, 'a text as "22:30", 00:00 to 24:00')
        return int(match[1]) + int(match[2]) / 60

    def moisture(self) -> dict[str, Any]:
        """Relative humidity (0 to 1) or vapour pressure (Pa): one of the two."""
        given = [key for key in ("relative_humidity", "vapour_pressure") if key in self.raw]
        if len(given) != 1:
            key = given[1] if given else "relative_humidity"
            raise self.fault(key, "one of relative_humidity and vapour_pressure is needed", ", ".join(given) or "none")
        if given[0] == "relative_humidity":
            return {"relative_humidity": self.quantity("relative_humidity", "share")}
        value = self.raw["vapour_pressure"]
        match = _PRESSURE.fullmatch(value) if isinstance(value, str) else None
        pascal = float(match[1]) * _TO_PA[match[2]] if match else 0.0
        if not within("accept_vapour_pressure", pascal):
            raise self.fault("vapour_pressure", "is no vapour pressure of a room", value, "1 Pa to 100 hPa")
        return {"vapour_pressure": pascal}

    def beside(self) -> Path:
        """The file named by `file`, looked for beside the room file."""
        name = self.text_of("file")
        path = Path(self.file).parent / name
        try:
            there = path.is_file()
        except (OSError, ValueError):
            there = False
        if there:
            return path
        try:
            names = [p.name for p in path.parent.iterdir()]
        except (OSError, ValueError):
            names = []
        raise self.fault(
            "file", "there is no such file", name, "a path from the room file", nearest_name(path.name, names)
        )


def read_room_file(
    path: str | Path,
    *,
    pressure: float | None = None,
    set_point: float | None = None,
    humidity_class: int | None = None,
) -> Room:
    """Read a room file.

    `pressure` Pa, `set_point` K and `humidity_class` stand in place of what the file says. The keys of each kind are
    in `KEYS` and in the guide. Raises InputError, with file and line, for anything else.
    """
    entries = _Entries(Path(path))
    raw = entries.raw
    check_kind(Document(raw, path=entries.file), "room")
    kind = entries.text_of("kind")
    if kind not in KEYS:
        raise entries.fault("kind", "no such kind of room", kind, ", ".join(KEYS), nearest_name(kind, KEYS))
    for key in raw:
        if key not in KEYS[kind]:
            raise entries.fault(
                key,
                f"a room of kind {kind!r} has no such key",
                key,
                ", ".join(KEYS[kind]),
                nearest_name(key, KEYS[kind]),
            )
    if raw.get("format", 1) != 1 or isinstance(raw.get("format"), bool):
        raise entries.fault("format", "this program reads format 1", raw["format"], "1")
    for name, given in (("set_point", set_point), ("humidity_class", humidity_class)):
        if given is not None and kind != "weather":
            raise entries.fault("kind", f"a {name.replace('_', ' ')} goes with a weather year only", kind, "weather")
    if pressure is None and "altitude" in raw:
        pressure = float(air.pressure_at_altitude(entries.quantity("altitude", "altitude")))
    common: dict[str, Any] = {"name": entries.text_of("name", Path(path).stem), "co2": entries.optional("co2", "share")}
    if common["co2"] is not None and common["co2"] > 0.05:
        raise entries.fault("co2", "is no air of a room", raw["co2"], "up to 5 %")
    entries.text_of("note", "-")
    if kind == "weather":
        return _weather(entries, common, pressure, set_point, humidity_class)
    return {"fixed": _fixed, "swing": _swing, "logger": _logger}[kind](entries, common, pressure)


def _placed(entries: _Entries, error: InputError, key: str) -> InputError:
    return InputError(
        error.message, file=entries.file, line=entries.line(key), field=error.field, found=error.found,
        allowed=error.allowed,
    )  # fmt: skip


def _fixed(entries: _Entries, common: dict[str, Any], pressure: float | None) -> Room:
    temperature, moisture = entries.room_temperature("temperature"), entries.moisture()
    try:
        return fixed_room(temperature, **moisture, **common, pressure=pressure or 101325.0)
    except InputError as error:
        raise _placed(entries, error, next(iter(moisture))) from None


def _swing(entries: _Entries, common: dict[str, Any], pressure: float | None) -> Room:
    raw = entries.raw
    hour = entries.clock("warmest_hour", raw.get("warmest_hour", "16:00"))
    mean = entries.room_temperature("mean")
    day, season = entries.quantity("day_swing", "difference", 0.0), entries.quantity("season_swing", "difference", 0.0)
    moisture = entries.moisture()
    source = f"mean {mean - 273.15:.3g} °C, {day:.2g} K up and down over the day, {season:.2g} K over the year"
    try:
        return swing_room(
            mean, day_swing=day, warmest_hour=hour, season_swing=season, warmest_day=_day_of_year(entries), **moisture,
            **common, pressure=pressure or 101325.0, source=source,
        )  # fmt: skip
    except InputError as error:
        raise _placed(entries, error, "mean" if error.field == "temperature" else next(iter(moisture))) from None


def _day_of_year(entries: _Entries) -> int:
    value = entries.raw.get("warmest_day", "07-20")
    match = _PART_OF_YEAR.fullmatch(value) if isinstance(value, str) else None
    try:
        if match is None:
            raise ValueError
        return date(TYPICAL_YEAR, int(match[1]), int(match[2])).timetuple().tm_yday
    except ValueError:
        allowed = 'month and day as "07-20", 01-01 to 12-31'
        raise entries.fault("warmest_day", "is no day of the year", value, allowed) from None


def _logger(entries: _Entries, common: dict[str, Any], pressure: float | None) -> Room:
    table = entries.raw.get("columns", {})
    if not isinstance(table, dict) or not all(isinstance(v, str) for v in table.values()):
        raise entries.fault("columns", "is a table of texts", table, ", ".join(_COLUMN_KEYS))
    for key in table:
        if key not in _COLUMN_KEYS:
            raise entries.fault(
                "columns", "no such column", key, ", ".join(_COLUMN_KEYS), nearest_name(key, _COLUMN_KEYS)
            )
    if table.get("temperature_unit", "") not in ("", "degC", "degF"):
        raise entries.fault("columns", "no unit of temperature", table["temperature_unit"], "degC, degF")
    day_first = entries.raw.get("day_first")
    if day_first is not None and not isinstance(day_first, bool):
        raise entries.fault("day_first", "is true or false", day_first)
    zone = entries.text_of("time_zone") if "time_zone" in entries.raw else ""
    path = entries.beside()
    reading = read_logger(path, Columns(**table), day_first=day_first, zone=zone)
    return logger_room(path, reading, pressure=pressure, **common)


def _weather(
    entries: _Entries, common: dict[str, Any], pressure: float | None, set_point: float | None, number: int | None
) -> Room:
    raw, values = entries.raw, room_values()
    indoor = Indoor(
        set_point=entries.room_temperature("set_point", values["set_point"].value),
        humidity_class=check_class(
            raw.get("humidity_class", round(values["humidity_class"].value)),
            file=entries.file,
            line=entries.line("humidity_class"),
        ),
        class_share=_share(entries),
        set_back=entries.quantity("night_set_back", "difference", 0.0),
        gains=entries.optional("gains", "difference"),
        cooling_limit=None if raw.get("cooling_limit", "none") == "none" else entries.room_temperature("cooling_limit"),
        assumed=tuple(
            key.replace("_", " ")
            for key, given in (("set_point", set_point), ("humidity_class", number))
            if key not in raw and given is None
        )
        + (() if "gains" in raw else ("gains",)),
    )
    if "night" in raw:
        night = raw["night"]
        if not isinstance(night, list) or len(night) != 2:
            raise entries.fault("night", "is a list of two times", night, '["22:00", "06:00"]')
        indoor = replace(indoor, night=(entries.clock("night", night[0]), entries.clock("night", night[1])))
    if set_point is not None:
        indoor = replace(indoor, set_point=set_point)
    if number is not None:
        indoor = replace(indoor, humidity_class=number)
    if indoor.cooling_limit is not None and indoor.cooling_limit <= indoor.set_point:
        raise entries.fault("cooling_limit", "is not above the set-point", raw["cooling_limit"])
    room = weather_room(read_weather(entries.beside()), indoor, pressure=pressure, **common)
    note = entries.text_of("ventilation", "")
    return replace(room, notes=(*room.notes, f"ventilation: {note}")) if note else room


def _share(entries: _Entries) -> float:
    value = entries.raw.get("within_class", "upper")
    if not isinstance(value, str) or value not in _SHARES:
        raise entries.fault("within_class", "no such place in the class", value, ", ".join(_SHARES))
    return _SHARES[value]
