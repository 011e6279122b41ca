"""Room air from the CSV file of a logger that stood in the room."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.room_air import Room
from nestwright.climate.room_values import room_values
from nestwright.errors import InputError, nearest_name
from nestwright.physics import air

if TYPE_CHECKING:
    from nestwright.sensing.loggers import Column, Mapping, Part

__all__ = ["BadRow", "Columns", "Reading", "gaps", "logger_room", "read_logger"]

QUANTITIES = ("temperature", "humidity")
_ALLOWED = {
    "temperature": "a column named temperature, temp or temperature_degC",
    "humidity": "a column named humidity, RH or relative_humidity_pct",
}
_TOP = 60  # lines in which comments are looked for
_SHOWN = 20  # bad rows that are told one by one
_LISTED = 1000  # bad rows that are kept


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
    `relative_humidity` 0 to 1, shape (n,); the first thousand rows left out, and how many there are; how often two
    rows of one instant were merged; remarks on how it was read; and the `key = value` comments at its top."""

    start: datetime
    time: NDArray[np.float64]
    temperature: NDArray[np.float64]
    relative_humidity: NDArray[np.float64]
    bad: tuple[BadRow, ...] = ()
    left_out: int = 0
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
    path: str | Path, columns: Columns | None = None, *, day_first: bool | None = None, zone: str = ""
) -> Reading:
    """Read a logger's CSV, recognised as `nestwright.sensing.loggers` does.

    Parameters
    ----------
    path : str or Path
        Text, perhaps packed with gzip, with a header that names temperature and humidity.
    columns : Columns, optional
        Header names, where they are not among the common spellings.
    day_first : bool, optional
        Order of day and month; seen from the rows if not given.
    zone : str
        Name of the zone of the logger's clock, to take summer time out.

    Returns
    -------
    Reading
        Sorted by time, on one clock without summer time: that of `zone`, else the file's own. Rows that cannot be read
        are left out and listed; rows of one instant become their mean.

    Raises
    ------
    InputError
        When the file or its header cannot be read, or fewer than two rows are good.
    """
    from nestwright.sensing.loggers import confirm, read_in_pieces, recognise
    from nestwright.sensing.loggers.sample import sample_of

    file, asked = str(path), columns or Columns()
    mapping = recognise(path, zone or None)
    sample = sample_of(path)
    if asked.time:
        mapping = _with_time(mapping, asked.time, file, sample.column)
    if day_first is not None:
        mapping = confirm(mapping, order="dmy" if day_first else "mdy")
    found = [_column(mapping, quantity, asked, file) for quantity in QUANTITIES]
    chosen, several = [one for one, _ in found], [told for _, told in found if told]
    mapping = replace(mapping, columns=tuple(chosen))
    parts = list(read_in_pieces(path, mapping))
    time, line, (celsius, percent) = (
        np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in ("time", "line", "value")
    )
    kelvin, share = celsius + 273.15, percent / 100
    # a column that was named, not recognised, has told no unit: no room stays at or below 1 %
    if asked.humidity and "%" not in chosen[1].header and not np.nanmax(share, initial=0.0) > 0.0105:
        share = share * 100
    inside = _inside("accept_temperature", kelvin), _inside("accept_humidity", share)
    good = inside[0] & inside[1]
    rows = sum(p.rows for p in parts)
    bad = _bad(parts, line, (kelvin, share), inside)
    if len(np.unique(time[good])) < 2:
        raise InputError(
            "has too few readings", file=file, line=mapping.header_line,
            found=f"{len(np.unique(time[good]))} good of {rows} rows"
            + (f"; first fault: line {bad[0].line}, {bad[0].reason}" if bad else ""),
            allowed="two or more instants with a temperature and a humidity",
        )  # fmt: skip
    at, where, count = np.unique(time[good], return_inverse=True, return_counts=True)
    t, h = (np.bincount(where, column[good]) / count for column in (kelvin, np.minimum(share, 1.0)))
    own = 0
    if mapping.zone == "told" and not zone:
        own = _offset(" ".join(sample.layout.rows[0][k] for k in mapping.time_at), mapping.order)
    start = _on_its_clock(int(at[0]), zone or mapping.zone, own)
    return Reading(
        start, (at - at[0]) / 1000.0, t, h, bad, rows - int(good.sum()), int((count - 1).sum()),
        (*several, *_remarks(mapping, parts)), _comments(sample.lines),
    )  # fmt: skip


def _with_time(mapping: Mapping, name: str, file: str, column: Callable[[int], list[str]]) -> Mapping:
    """The mapping with the column of time that was asked for."""
    from nestwright.sensing.loggers.dates import kind_of, order_of

    at = _position(mapping, name, "time", file)
    if at in mapping.time_at:
        return mapping
    cells = column(at)
    kinds = [kind_of(cell) for cell in cells]
    kind = max(set(kinds), key=kinds.count, default="")
    form = "date" if kind in ("instant", "date") else kind
    if form not in ("date", "epoch s", "epoch ms", "serial"):
        raise InputError(
            "holds no dates", file=file, line=mapping.first_line, field=name, found=(cells or ["nothing"])[0][:40],
            allowed="a column with date and time",
        )  # fmt: skip
    order = order_of([c.split()[0] for c in cells if kind_of(c)])[0] if form == "date" else ""
    return replace(mapping, time_at=(at,), form=form, order=order)


def _position(mapping: Mapping, name: str, quantity: str, file: str) -> int:
    if name.strip() in mapping.header:
        return mapping.header.index(name.strip())
    raise InputError(
        "has no such column", file=file, line=mapping.header_line or mapping.first_line, field=quantity,
        found=", ".join(mapping.header)[:120] or "no header", allowed=repr(name),
        nearest=nearest_name(name, mapping.header),
    )  # fmt: skip


def _column(mapping: Mapping, quantity: str, asked: Columns, file: str) -> tuple[Column, str]:
    """The column of a quantity, and a remark where several could be it."""
    from nestwright.sensing.loggers import Column
    from nestwright.sensing.loggers.words import words

    name, unit = getattr(asked, quantity), asked.temperature_unit if quantity == "temperature" else ""
    found = [one for one in mapping.columns if one.quantity == quantity and mapping.header]
    told = ""
    if name:
        at = _position(mapping, name, quantity, file)
        usual = words().quantities[quantity].canonical
        new = Column(at, mapping.header[at], quantity, words().unit_of(name, quantity) or usual, quantity)
        column = next((one for one in found if one.at == at), new)
    elif found:
        column = found[0]
        told = f"several columns of {quantity}: took {column.header!r}" if len(found) > 1 else ""
    else:
        raise InputError(
            f"no column of {quantity} was found in the header", file=file,
            line=mapping.header_line or mapping.first_line, field=quantity,
            found=", ".join(mapping.header)[:120] or "no header", allowed=_ALLOWED[quantity],
        )  # fmt: skip
    return replace(column, unit=unit or column.unit), told


def _inside(name: str, values: NDArray[np.float64]) -> NDArray[np.bool_]:
    at = room_values()[name]
    with np.errstate(invalid="ignore"):
        return np.asarray((values >= at.low) & (values <= at.high))


def _bad(
    parts: list[Part], line: NDArray[np.int64], values: tuple[Any, Any], inside: tuple[Any, Any]
) -> tuple[BadRow, ...]:
    """The rows that were left out, in their order, each once."""
    made: dict[int, str] = {}
    for part in parts:
        for fault in part.faults:
            reason = f"{fault.channel} {fault.reason}: {fault.text[:30]!r}" if fault.channel else fault.reason
            made.setdefault(fault.line, reason)
    for quantity, value, good in zip(QUANTITIES, values, inside, strict=True):
        for k in np.flatnonzero(~good)[:_LISTED].tolist():
            nothing = math.isnan(value[k])
            made.setdefault(int(line[k]), f"no {quantity}" if nothing else f"{quantity} out of range of a room")
    return tuple(BadRow(n, made[n]) for n in sorted(made)[:_LISTED])


def _remarks(mapping: Mapping, parts: list[Part]) -> tuple[str, ...]:
    """What was taken without being told, and what is odd."""
    order = {"dmy": "day first", "mdy": "month first"}.get(mapping.order, "year first")
    told = []
    unusual = {c.channel for c in mapping.columns if c.unit != c.canonical}
    for decision in mapping.decisions:
        if decision.confidence == "asked" and decision.what == "order":
            told.append(f"dates taken as {order}: {decision.reason}")
        elif decision.what in [c.channel for c in mapping.columns] and (
            decision.confidence == "asked" or (decision.confidence == "likely" and decision.what in unusual)
        ):
            told.append(f"{decision.what} taken as {decision.value}: {decision.reason}")

    def count(name: str) -> int:
        return sum(part.counts.get(name, 0) for part in parts)

    if count("jumps"):
        told.append("rows were not in order of time: sorted")
    if count("shifted"):
        told.append(f"{count('shifted')} times stand in an hour that the zone skips in spring: shifted by it")
    if count("broken"):
        told.append("the packed file breaks off; what could be unpacked was read")
    return tuple(told)


def _offset(text: str, order: str) -> int:
    """UTC offset in ms that a time tells; 0 for none."""
    from nestwright.sensing.loggers.dates import instant_of

    found = instant_of(text, order)
    return 0 if found is None else found[1] or 0


def _on_its_clock(at: int, zone: str, own: int) -> datetime:
    """A moment, UTC ms, on the clock of a zone without its summer time; `own` is the offset of a file that tells it."""
    from nestwright.sensing.loggers.zones import fixed_offset

    moment = datetime.fromtimestamp(0, UTC) + timedelta(milliseconds=at)
    if zone in ("", "told"):
        shift = timedelta(milliseconds=own)
    elif (fixed := fixed_offset(zone)) is not None:
        shift = timedelta(milliseconds=fixed)
    else:
        there = moment.astimezone(ZoneInfo(zone))
        shift = (there.utcoffset() or timedelta()) - (there.dst() or timedelta())
    return (moment + shift).replace(tzinfo=None)


def _comments(lines: tuple[str, ...]) -> dict[str, str]:
    pairs = [line[1:].partition("=") for line in lines[:_TOP] if line.startswith("#")]
    return {key.strip(): value.strip() for key, equals, value in pairs if equals}


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
        source += f"; {reading.left_out} {'row' if reading.left_out == 1 else 'rows'} not read"
    notes = [f"line {b.line}: {b.reason}" for b in reading.bad[:_SHOWN]]
    if reading.left_out > _SHOWN:
        notes.append(f"and {reading.left_out - _SHOWN} more rows that were not read")
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
