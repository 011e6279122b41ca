"""Room air from the CSV file of a logger that stood in the room."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.instants import read_instants, time_zone
from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values, within
from nestwright.climate.weather import read_text
from nestwright.errors import InputError, nearest_name
from nestwright.physics import air

__all__ = ["BadRow", "Columns", "Reading", "gaps", "logger_room", "read_logger"]

_NUMBER = re.compile(
    r"([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,2})?)\s*(°\s*[CFcf]|deg\s*[CF]|[CF]|%|%\s*RH)?", re.ASCII
)
_NAMES = {
    "time": r"(date[ _/-]*time|time ?stamp|date|time|datum|zeit|uhrzeit|zeitpunkt|zeitstempel|fecha|hora|heure|when)\b",
    "temperature": r"(air |room |raum)?(temp|t\b|celsius|fahrenheit|deg ?[cf]\b)",
    "humidity": r"(air |room )?(rel[a-z.]* *)?(humid|feuchte|luftfeuchte|(hum|h|rh|rf|hr)\b|r\.h|hygro)",
}
_ALLOWED = {
    "time": "a column named time, date, datetime or timestamp",
    "temperature": "a column named temperature, temp or temperature_degC",
    "humidity": "a column named humidity, RH or relative_humidity_pct",
}
_HEAD = 60  # rows in which the header is looked for
_SHOWN = 20  # bad rows that are listed one by one


@dataclass(frozen=True)
class Columns:
    """Header names to use instead of the common spellings; "" for the common ones. Units: "degC", "degF" or ""."""

    time: str = ""
    temperature: str = ""
    humidity: str = ""
    temperature_unit: str = ""


@dataclass(frozen=True)
class BadRow:
    """A row that was left out: line of the file and why."""

    line: int
    reason: str


@dataclass(frozen=True)
class Reading:
    """What a logger file holds: `time` s from `start`, strictly rising, shape (n,); `temperature` K and
    `relative_humidity` 0 to 1, shape (n,); rows left out; how often two rows of one instant were merged;
    remarks on how it was read; and the `key = value` comments at its top."""

    start: datetime
    time: NDArray[np.float64]
    temperature: NDArray[np.float64]
    relative_humidity: NDArray[np.float64]
    bad: tuple[BadRow, ...] = ()
    merged: int = 0
    remarks: tuple[str, ...] = ()
    comments: dict[str, str] = field(default_factory=dict)


def gaps(time: NDArray[np.float64]) -> tuple[int, float]:
    """How many gaps a record has, and their hours.

    `time` s, shape (n,), rising. A gap is a step longer than `bridge` of `data/room.toml` (3 h) and than one and a
    half of the usual step.
    """
    step = np.diff(time)
    long = step[(step > room_values()["bridge"].value) & ((step > 1.5 * np.median(step)) | (step > 86400.0))]
    return len(long), float(long.sum() / 3600)


def read_logger(
    path: str | Path, columns: Columns | None = None, *, day_first: bool | None = None, zone: str = "", line: int = 0
) -> Reading:
    """Read a logger's CSV.

    Parameters
    ----------
    path : str or Path
        Text with a header that has time, temperature and humidity; comma, semicolon or tab between the columns,
        decimal point or comma, lines above the header allowed.
    columns : Columns, optional
        Header names, where they are not among the common spellings.
    day_first : bool, optional
        Order of day and month; seen from the rows if not given.
    zone : str
        IANA name of the zone of the logger's clock, to take summer time out.

    Returns
    -------
    Reading
        Sorted by time. Rows that cannot be read are left out and listed; rows of one instant become their mean.

    Raises
    ------
    InputError
        When the file or its header cannot be read, or fewer than two rows are good.
    """
    file = str(path)
    tz = time_zone(zone) if zone else None
    text = read_text(path)
    if not text.strip():
        raise InputError("the file is empty", file=file)
    rows = _rows(text, file)
    comments = {
        key.strip(): value.strip()
        for _, row in rows[:_HEAD]
        if row and row[0].startswith("#")
        for key, equals, value in [",".join(row)[1:].partition("=")]
        if equals
    }
    rows = [(n, row) for n, row in rows if any(cell.strip() for cell in row) and not row[0].startswith("#")]
    at, place, remarks = _header(rows, columns or Columns(), file)
    header = rows[at][1]
    body = rows[at + 1 :]
    fahrenheit = _is_fahrenheit(header[place["temperature"][0]], columns)
    instants, told = read_instants(
        [" ".join(_cell(row, c) for c in place["time"]).strip() for _, row in body], day_first=day_first, zone=tz
    )
    good: list[tuple[datetime, float, float]] = []
    bad: list[BadRow] = []
    percent = _in_percent(body, place["humidity"][0], header[place["humidity"][0]])
    for (number, row), instant in zip(body, instants, strict=True):
        reason, t, h = _readings(row, place, fahrenheit, percent)
        if instant is None:
            shown = " ".join(_cell(row, c) for c in place["time"])
            reason = f"no date and time: {shown[:30]!r}"
        if reason:
            bad.append(BadRow(number, reason))
        elif instant is not None:
            good.append((instant, t, min(h, 1.0)))
    reading = _sorted(good, tuple(bad), (*remarks, *told), comments)
    if reading is None:
        first = f"; first fault: line {bad[0].line}, {bad[0].reason}" if bad else ""
        raise InputError(
            "has too few readings", file=file, line=rows[at][0],
            found=f"{len({g[0] for g in good})} good of {len(body)} rows{first}",
            allowed="two or more instants with a temperature and a humidity",
        )  # fmt: skip
    return reading


def _rows(text: str, file: str) -> list[tuple[int, list[str]]]:
    head = text[:4000]
    # The separator that most lines of the top share; a comma last, since it may be a decimal comma.
    counts = {mark: head.count(mark) for mark in ";\t,"}
    lines = max(2, min(10, head.count("\n")))
    mark = next((m for m in ";\t" if counts[m] >= lines), ",")
    reader = csv.reader(io.StringIO(text.replace("\0", "\ufffd"), newline=""), delimiter=mark)
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            rows.append((reader.line_num, row))
    except csv.Error as error:
        raise InputError("cannot be read as CSV", file=file, line=reader.line_num, found=str(error)) from None
    return rows


def _cell(row: Sequence[str], column: int) -> str:
    return row[column].strip() if column < len(row) else ""


def _plain(name: str) -> str:
    return name.strip().strip('"').lower().replace("_", " ")


def _header(
    rows: Sequence[tuple[int, list[str]]], columns: Columns, file: str
) -> tuple[int, dict[str, list[int]], tuple[str, ...]]:
    best: tuple[int, int, str] = (-1, 0, "time")
    for at, (_, row) in enumerate(rows[:_HEAD]):
        place, missing = _match(row, columns)
        if not missing:
            several = [k for k, found in place.items() if k != "time" and len(found) > 1]
            told = tuple(f"several columns of {k}: took {row[place[k][0]].strip()!r}" for k in several)
            return at, place, told
        if len(place) > best[0]:
            best = (len(place), at, missing[0])
    _, at, lacking = best
    line, shown = rows[at] if rows else (1, [])
    asked = getattr(columns, lacking)
    raise InputError(
        "has no such column" if asked else f"no column of {lacking} was found in the header",
        file=file, line=line, field=lacking, found=", ".join(c.strip() for c in shown)[:120] or "nothing",
        allowed=repr(asked) if asked else _ALLOWED[lacking],
        nearest=nearest_name(asked, [c.strip() for c in shown]) if asked else "",
    )  # fmt: skip


def _match(row: Sequence[str], columns: Columns) -> tuple[dict[str, list[int]], list[str]]:
    place: dict[str, list[int]] = {}
    for key, pattern in _NAMES.items():
        asked = getattr(columns, key)
        if asked:
            found = [c for c, cell in enumerate(row) if cell.strip() == asked.strip()][:1]
        else:
            found = [c for c, cell in enumerate(row) if re.match(pattern, _plain(cell))]
        if found:
            place[key] = found
    if len(place.get("time", [])) > 1:
        place["time"] = _date_and_clock(row, place["time"])
    return place, [key for key in _NAMES if key not in place]


def _date_and_clock(row: Sequence[str], found: list[int]) -> list[int]:
    # "Date" and "Time" in two columns belong together; of several whole ones the first counts.
    names = {c: _plain(row[c]) for c in found}
    date = [c for c in found if re.fullmatch(r"(date|datum|fecha)( \W.*)?", names[c])]
    clock = [c for c in found if re.fullmatch(r"(time|zeit|uhrzeit|hora|heure)( \W.*)?", names[c])]
    return [date[0], clock[0]] if date and clock else found[:1]


def _is_fahrenheit(name: str, columns: Columns | None) -> bool:
    if columns and columns.temperature_unit:
        return columns.temperature_unit == "degF"
    return bool(re.search(r"fahrenheit|(?:°|deg|º|\ufffd)\s*f\b|[\[(_ ]f[\])]?\s*$", _plain(name)))


def _value(cell: str) -> tuple[float, str]:
    match = _NUMBER.fullmatch(cell.strip())
    if match is None:
        return math.nan, ""
    return float(match[1].replace(",", ".")), (match[2] or "").strip().upper()[-1:]


def _in_percent(body: Sequence[tuple[int, list[str]]], column: int, name: str) -> bool:
    if "%" in name or "pct" in name.lower() or "percent" in name.lower():
        return True
    values = [v for v, _ in (_value(_cell(row, column)) for _, row in body) if math.isfinite(v)]
    # No room stays at or below 1 %: then it is a share of 0 to 1.
    return not values or max(values) > 1.05


def _readings(
    row: Sequence[str], place: dict[str, list[int]], fahrenheit: bool, percent: bool
) -> tuple[str, float, float]:
    shown = {key: _cell(row, place[key][0]) for key in ("temperature", "humidity")}
    (t, unit), (h, _) = _value(shown["temperature"]), _value(shown["humidity"])
    for key, value in (("temperature", t), ("humidity", h)):
        if not math.isfinite(value):
            return (f"{key} is no number: {shown[key][:30]!r}" if shown[key] else f"no {key}"), 0.0, 0.0
    kelvin = ((t - 32) * 5 / 9 if unit == "F" or (fahrenheit and unit != "C") else t) + 273.15
    h = h / 100 if percent else h
    if not within("accept_temperature", kelvin):
        return f"temperature out of range: {shown['temperature'][:30]!r}", 0.0, 0.0
    if not within("accept_humidity", h):
        return f"humidity out of range: {shown['humidity'][:30]!r}", 0.0, 0.0
    return "", kelvin, h


def _sorted(
    good: list[tuple[datetime, float, float]],
    bad: tuple[BadRow, ...],
    remarks: tuple[str, ...],
    comments: dict[str, str],
) -> Reading | None:
    if len({g[0] for g in good}) < 2:
        return None
    told = remarks
    if any(b[0] < a[0] for a, b in pairwise(good)):
        told = (*told, "rows were not in order of time: sorted")
    start = min(g[0] for g in good)
    seconds = np.array([(g[0] - start).total_seconds() for g in good])
    time, where, count = np.unique(seconds, return_inverse=True, return_counts=True)
    values = np.array([g[1:] for g in good], dtype=np.float64)
    t, h = (np.bincount(where, column) / count for column in values.T)
    return Reading(start, time, t, h, bad, int((count - 1).sum()), told, comments)


def logger_room(
    path: str | Path, reading: Reading, *, name: str = "", pressure: float | None = None, co2: float | None = None
) -> Room:
    """The room that a logger recorded: one knot a reading, linear between them, through gaps too.

    `pressure` Pa and `co2` mole fraction where they are known; otherwise those of the file's comments, or 101325 Pa
    and the value of `data/room.toml`. Its source names gaps, its notes the rows left out.
    """
    values = room_values()
    file = Path(path).name
    count, hours = gaps(reading.time)
    source = reading.comments.get("source") or f"logger file {file}, {len(reading.time)} readings"
    if count and " gap" not in source:  # a file that was written from a room tells of its gaps itself
        source += f"; {count} {'gap' if count == 1 else 'gaps'} over 3 h, {hours:.1f} h in all, drawn through"
    if reading.bad:
        source += f"; {len(reading.bad)} {'row' if len(reading.bad) == 1 else 'rows'} not read"
    notes = [f"line {b.line}: {b.reason}" for b in reading.bad[:_SHOWN]]
    if len(reading.bad) > _SHOWN:
        notes.append(f"and {len(reading.bad) - _SHOWN} more rows that were not read")
    if reading.merged:
        notes.append(f"readings of an instant that was there already, taken into its mean: {reading.merged}")
    kept = {key: _comment(reading.comments, key) for key in ("pressure_Pa", "co2_ppm")}
    at = values["accept_pressure"]
    if pressure is None:
        stated = kept["pressure_Pa"]
        pressure = stated if at.low <= stated <= at.high else at.value
    if co2 is None:
        stated = kept["co2_ppm"] * 1e-6
        co2 = stated if 0 <= stated <= 0.05 else values["co2"].value
    return Room(
        name=name or reading.comments.get("name", "") or Path(path).stem,
        time=reading.time,
        temperature=reading.temperature,
        vapour_pressure=np.asarray(reading.relative_humidity * air.saturation_pressure(reading.temperature)),
        pressure=pressure,
        co2=co2,
        o2=values["o2"].value,
        start=reading.start.isoformat(),
        source=source,
        notes=(*reading.remarks, *notes),
    )


def _comment(comments: dict[str, str], key: str) -> float:
    try:
        return float(comments.get(key, "nan"))
    except ValueError:
        return math.nan
