"""Outdoor air of a weather station: typical years in the TMY3 and EPW forms, and our own compact form."""

from __future__ import annotations

import csv
import gzip
import io
import math
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.room_values import within
from nestwright.errors import InputError
from nestwright.physics import air

__all__ = ["COMPACT", "TYPICAL_YEAR", "Weather", "read_text", "read_weather", "weather_form"]

TYPICAL_YEAR = 2001
"""Year that stands in the dates of a typical year, whose months come from different ones (not a leap year)."""

COMPACT = ("month", "day", "hour", "outdoor_temperature_degC", "outdoor_dew_point_degC", "outdoor_pressure_hPa")
"""Header of the compact form."""

_MONTHS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_TMY3 = ("Date (MM/DD/YYYY)", "Time (HH:MM)", "Dry-bulb (C)", "Dew-point (C)", "RHum (%)", "Pressure (mbar)")


@dataclass(frozen=True)
class Weather:
    """Outdoor record: `time` s after 1 January, 0:00 local standard time, rising, shape (n,); `temperature` K and
    `vapour_pressure` Pa, shape (n,); `pressure` Pa, shape (n,), nan where the file has none. `typical` is False where
    the file is of one real leap year. `altitude` m or nan."""

    name: str
    time: NDArray[np.float64]
    temperature: NDArray[np.float64]
    vapour_pressure: NDArray[np.float64]
    pressure: NDArray[np.float64]
    altitude: float
    source: str
    typical: bool = True

    @property
    def mean_pressure(self) -> float:
        """Mean station pressure, Pa; of the standard atmosphere at the altitude where the file has none."""
        known = self.pressure[np.isfinite(self.pressure)]
        if len(known):
            return float(known.mean())
        return float(air.pressure_at_altitude(self.altitude if math.isfinite(self.altitude) else 0.0))

    def instant(self, time: float) -> str:
        """ISO date and time of a `time`, local standard time."""
        year = TYPICAL_YEAR if self.typical else 2000
        return (datetime(year, 1, 1) + timedelta(seconds=time)).isoformat()


def read_text(path: str | Path) -> str:
    """Text of a file, unpacked if it is gzip; UTF-8, UTF-16 with its mark, or else Windows-1252.

    Raises InputError when it cannot be read.
    """
    try:
        data = Path(path).read_bytes()
        if data[:2] == b"\x1f\x8b":
            data = gzip.decompress(data)
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or str(error) or type(error).__name__
        raise InputError("cannot be read", file=str(path), found=reason) from None
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def weather_form(text: str) -> str:
    """Which form of weather file a text is: "tmy3", "epw", "compact", or "" for none."""
    head = text[:4000].splitlines()
    if head and head[0].upper().startswith("LOCATION,"):
        return "epw"
    if len(head) > 1 and head[1].startswith(_TMY3[0]):
        return "tmy3"
    shown = [line for line in head if line.strip() and not line.startswith("#")]
    return "compact" if shown and "outdoor_temperature_degC" in shown[0] else ""


def read_weather(path: str | Path) -> Weather:
    """Read a weather year.

    Parameters
    ----------
    path : str or Path
        TMY3 file, EPW file, or a CSV of our own with the header `COMPACT`; each may be packed with gzip.

    Returns
    -------
    Weather
        One knot for each row that has a temperature and a dew point or humidity. Values marked as missing are left
        out and counted in the source.

    Raises
    ------
    InputError
        When the file cannot be read, is none of these, or a row of it is at fault (with its line).

    References
    ----------
    Wilcox & Marion 2008, Users Manual for TMY3 Data Sets, NREL/TP-581-43156.
    EnergyPlus, Auxiliary Programs: Weather File (EPW) data dictionary.
    """
    text = read_text(path)
    form = weather_form(text)
    reader = {"tmy3": _tmy3, "epw": _epw, "compact": _compact}.get(form)
    if reader is None:
        raise InputError(
            "is no weather file that can be read", file=str(path),
            allowed=f"a TMY3 file, an EPW file, or a CSV with the header {','.join(COMPACT)}",
        )  # fmt: skip
    return reader(text, Path(path))


def _rows(text: str, path: Path, skip: int) -> Iterator[tuple[int, list[str]]]:
    lines = csv.reader(io.StringIO(text.replace("\0", ""), newline=""))
    try:
        for row in lines:
            if lines.line_num > skip and row and not row[0].startswith("#"):
                yield lines.line_num, row
    except csv.Error as error:
        raise InputError("cannot be read as CSV", file=str(path), line=lines.line_num, found=str(error)) from None


class _Record:
    """Rows of one file on their way to a Weather; knows where each came from."""

    def __init__(self, path: Path, missing: dict[str, float]) -> None:
        self.path, self.missing = path, missing
        self.lines: list[int] = []
        self.rows: list[tuple[float, float, float, float]] = []
        self.left_out = 0
        self.leap = False

    def fault(self, message: str, line: int, field: str, found: str, allowed: str = "") -> InputError:
        return InputError(message, file=str(self.path), line=line, field=field, found=repr(found[:40]), allowed=allowed)

    def number(self, row: Sequence[str], column: int, line: int, field: str) -> float:
        """A value of the row; nan where it is marked as missing."""
        cell = row[column].strip() if column < len(row) else ""
        if not cell:
            return math.nan
        try:
            value = float(cell)
        except ValueError:
            raise self.fault("is no number", line, field, cell) from None
        # Marks of missing values (-9900; 99.9; 999999) lie beyond what the quantity can be.
        limit = self.missing.get(field)
        if not math.isfinite(value) or value <= -9000 or (limit is not None and value >= limit):
            return math.nan
        return value

    def whole(self, cell: str, low: int, high: int, line: int, field: str) -> int:
        if not (cell.isascii() and cell.strip().isdigit() and len(cell) < 8 and low <= int(cell) <= high):
            raise self.fault("is no whole number of its range", line, field, cell, f"{low} to {high}")
        return int(cell)

    def seconds(self, month: str, day: str, hours: float, line: int) -> float:
        m = self.whole(month, 1, 12, line, "month")
        d = self.whole(day, 1, 29 if m == 2 else _MONTHS[m - 1], line, "day")
        self.leap = self.leap or (m == 2 and d == 29)
        return ((sum(_MONTHS[: m - 1]) + d - 1) * 24 + hours) * 3600.0 + (m > 2 and self.leap) * 86400.0

    def add(self, line: int, time: float, temperature: float, dew: float, humidity: float, pressure: float) -> None:
        """degC, degC, %, Pa. Dew point before humidity, because files round humidity to whole per cents."""
        if not math.isfinite(temperature) or not (math.isfinite(dew) or math.isfinite(humidity)):
            self.left_out += 1
            return
        t = temperature + 273.15
        if not within("accept_outdoors", t):
            raise self.fault("cannot be outdoor air", line, "temperature", f"{temperature:g} °C", "-80 to 60 °C")
        if math.isfinite(dew):
            if not within("accept_outdoors", dew + 273.15):
                raise self.fault("cannot be outdoor air", line, "dew point", f"{dew:g} °C", "-80 to 60 °C")
            e = float(air.saturation_pressure(min(dew + 273.15, t)))
        else:
            if not 0 <= humidity <= 110:
                raise self.fault("cannot be a relative humidity", line, "humidity", f"{humidity:g} %", "0 to 100 %")
            e = min(humidity / 100, 1.0) * float(air.saturation_pressure(t))
        if math.isfinite(pressure) and not within("accept_pressure", pressure):
            raise self.fault("cannot be an air pressure", line, "pressure", f"{pressure:g} Pa", "30000 to 110000 Pa")
        if self.rows and time <= self.rows[-1][0]:
            raise self.fault("is not later than the row before", line, "time", f"hour {time / 3600:g} of the year")
        self.lines.append(line)
        self.rows.append((time, t, e, pressure))

    def weather(self, name: str, altitude: float, form: str, note: str = "") -> Weather:
        if len(self.rows) < 2:
            raise InputError(
                "has too few readings", file=str(self.path), found=f"{len(self.rows)} usable rows", allowed="2 or more"
            )
        time, temperature, vapour_pressure, pressure = np.array(self.rows).T
        source = f"{form} {self.path.name}, {name}" + (f" ({note})" if note else "")
        if self.left_out:
            source += f"; {self.left_out} rows without values"
        longest = max(b[0] - a[0] for a, b in pairwise(self.rows)) / 3600
        if longest > 3:
            source += f"; longest gap {longest:.0f} h, drawn through"
        return Weather(name, time, temperature, vapour_pressure, pressure, altitude, source, typical=not self.leap)


def _number_or(text: str, other: float) -> float:
    try:
        value = float(text)
    except ValueError:
        return other
    return value if math.isfinite(value) else other


def _altitude(record: _Record, cell: str, line: int) -> float:
    value = _number_or(cell, math.nan)
    if not -500 <= value <= 9000:
        raise record.fault("is no altitude", line, "elevation", cell, "-500 to 9000 m")
    return value


def _tmy3(text: str, path: Path) -> Weather:
    record = _Record(path, {"Dry-bulb (C)": 99.9, "Dew-point (C)": 99.9, "RHum (%)": 999.0, "Pressure (mbar)": 9999.0})
    station = next(csv.reader(text.splitlines()[:1]), [])
    if len(station) < 7:
        raise record.fault("is no station line", 1, "station", ",".join(station), "number, name, state, zone, N, E, m")
    header = next(csv.reader(text.splitlines()[1:2]))
    absent = [name for name in _TMY3 if name not in header]
    if absent:
        raise InputError("a column is missing", file=str(path), line=2, field=absent[0])
    date, clock, *columns = (header.index(name) for name in _TMY3)
    for line, row in _rows(text, path, 2):
        if max(date, clock) >= len(row) or row[date].count("/") != 2:
            raise record.fault("is no date", line, _TMY3[0], ",".join(row), "MM/DD/YYYY")
        month, day, _ = row[date].split("/")
        hour, _, minute = row[clock].partition(":")
        hours = record.whole(hour, 0, 24, line, _TMY3[1]) + record.whole(minute, 0, 59, line, _TMY3[1]) / 60
        t, dew, humidity, p = (record.number(row, c, line, n) for c, n in zip(columns, _TMY3[2:], strict=True))
        record.add(line, record.seconds(month, day, hours, line), t, dew, humidity, p * 100)
    name = f"station {station[0]} {station[1]}, {station[2]}".replace('"', "")
    return record.weather(name, _altitude(record, station[6], 1), "TMY3 file")


def _epw(text: str, path: Path) -> Weather:
    # Missing, by the data dictionary: dry bulb and dew point 99.9, humidity 999, pressure 999999.
    record = _Record(path, {"dry bulb": 99.9, "dew point": 99.9, "humidity": 999.0, "pressure": 999999.0})
    place = next(csv.reader(text.splitlines()[:1]))
    if len(place) < 10:
        raise record.fault("is no LOCATION line", 1, "LOCATION", ",".join(place), "ten fields")
    for line, row in _rows(text, path, 8):
        if len(row) < 10:
            raise record.fault("has too few fields", line, "data", f"{len(row)} fields", "10 or more")
        # Hour 1 is the hour that ends at 1:00, and the minute of hourly files is 60 or 0: the hour alone counts.
        hour = record.whole(row[3].strip(), 1, 24, line, "hour")
        minute = record.whole(row[4].strip(), 0, 60, line, "minute")
        hours = hour - 1 + minute / 60 if 0 < minute < 60 else float(hour)
        t, dew, humidity, p = (
            record.number(row, c, line, n) for c, n in enumerate(("dry bulb", "dew point", "humidity", "pressure"), 6)
        )
        record.add(line, record.seconds(row[1].strip(), row[2].strip(), hours, line), t, dew, humidity, p)
    name = f"station {place[5]} {place[1]}, {place[2]}"
    return record.weather(name, _altitude(record, place[9], 1), "EPW file")


def _compact(text: str, path: Path) -> Weather:
    record = _Record(path, {})
    notes: dict[str, str] = {}
    skip = 0
    header: list[str] = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("#"):
            key, _, value = line[1:].partition(":")
            notes[key.strip()] = value.strip()
        elif line.strip():
            header, skip = [cell.strip() for cell in line.split(",")], number
            break
    absent = [name for name in COMPACT if name not in header]
    if absent:
        raise InputError("a column is missing", file=str(path), line=skip, field=absent[0], allowed=", ".join(COMPACT))
    place = [header.index(name) for name in COMPACT]
    for line_number, row in _rows(text, path, skip):
        if len(row) < len(header):
            raise record.fault("has too few fields", line_number, "row", ",".join(row), f"{len(header)}")
        month, day, hour = (row[c].strip() for c in place[:3])
        hours = float(record.whole(hour, 0, 24, line_number, "hour"))
        t, dew, p = (record.number(row, c, line_number, n) for c, n in zip(place[3:], COMPACT[3:], strict=True))
        record.add(line_number, record.seconds(month, day, hours, line_number), t, dew, math.nan, p * 100)
    altitude = _number_or(notes.get("altitude_m", ""), math.nan)
    if not math.isnan(altitude):
        altitude = _altitude(record, notes["altitude_m"], 1)
    return record.weather(notes.get("station", path.name), altitude, "weather year", notes.get("from", ""))
