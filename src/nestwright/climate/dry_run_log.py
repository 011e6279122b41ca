"""Readings of a dry run: CSV files with a time and columns named `chamber.temperature_degC` and the like."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.room_values import within
from nestwright.climate.weather import read_text
from nestwright.errors import InputError, nearest_name

Array = NDArray[np.float64]

__all__ = ["QUANTITIES", "Record", "read_logs"]

QUANTITIES = {"temperature_degC": "temperature", "humidity_pct": "relative_humidity", "co2_ppm": "co2"}
"""Ending of a column to the quantity it holds."""
ROOM = "room"
_SHOWN = 20
_EPOCH = datetime(1970, 1, 1)
_MOST_ROWS = 2_000_000


@dataclass(frozen=True)
class Record:
    """Readings on one clock: `time` s from `start`, strictly rising, shape (n,); `channels` (chamber, quantity) to
    values in SI (K, 0 to 1, mole fraction), shape (n,), nan where there is none. Readings of the room stand under the
    chamber "room". `notes` name what was left out."""

    start: datetime
    time: Array
    channels: dict[tuple[str, str], Array]
    notes: tuple[str, ...] = ()
    names: dict[tuple[str, str], str] = field(default_factory=dict)
    """The file that each channel came from."""


def read_logs(paths: Sequence[str | Path]) -> Record:
    """Read the loggers of a dry run.

    Parameters
    ----------
    paths : CSV files with a header: `time` (in any form that `nestwright.sensing.loggers` reads), then
        `chamber.temperature_degC`, `chamber.humidity_pct`, `chamber.co2_ppm` in any order; the air under a bell is
        `chamber/bell`, the room is `room`. Empty cells are gaps. Lines that begin with # are comments. Comma or
        semicolon between columns (then also a decimal comma).

    Raises
    ------
    InputError
        When a file has no such columns, or fewer than ten rows can be read.
    """
    parts = [_one(str(path)) for path in paths]
    if not parts:
        raise InputError("no readings were named", allowed="one or more CSV files")
    start = min(instants[0] for instants, *_ in parts)
    seconds = [np.array([(i - start).total_seconds() for i in instants]) for instants, *_ in parts]
    time = np.unique(np.concatenate(seconds))
    channels: dict[tuple[str, str], Array] = {}
    names: dict[tuple[str, str], str] = {}
    notes: list[str] = []
    for path, at, (_, columns, told) in zip(paths, seconds, parts, strict=True):
        notes += told
        for key, values in columns.items():
            if key in channels:
                raise InputError("the same column stands in two files", file=str(path), field=f"{key[0]}, {key[1]}")
            channels[key], names[key] = _on(time, at, values), str(path)
    return Record(start, time, channels, tuple(notes), names)


def _on(time: Array, at: Array, values: Array) -> Array:
    """Values on the common clock; those of one instant become their mean."""
    good = np.isfinite(values)
    place = np.searchsorted(time, at[good])
    count = np.bincount(place, minlength=len(time))
    total = np.bincount(place, values[good], minlength=len(time))
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _one(path: str) -> tuple[list[datetime], dict[tuple[str, str], Array], list[str]]:
    text = read_text(Path(path))
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    numbered = [(n, line) for n, line in enumerate(lines, 1) if line.strip() and not line.startswith("#")]
    if not numbered:
        raise InputError("the file is empty", file=path)
    if len(numbered) > _MOST_ROWS:
        raise InputError("too many rows", file=path, found=str(len(numbered)), allowed=f"at most {_MOST_ROWS}")
    mark = ";" if numbered[0][1].count(";") else ","
    clean = "\n".join(line.replace("\0", "?") for _, line in numbered)
    try:
        rows = list(csv.reader(io.StringIO(clean), delimiter=mark))
    except csv.Error as error:
        raise InputError("cannot be read as CSV", file=path, found=str(error)) from None
    where = [n for n, _ in numbered]
    if len(rows) != len(where):
        raise InputError("a quoted cell runs over the end of its line", file=path, allowed="one row a line")
    header = [cell.strip() for cell in rows[0]]
    keys = _keys(header, path, where[0])
    instants, told = _instants([row[keys[0]].strip() if keys[0] < len(row) else "" for row in rows[1:]])
    notes = [f"{path}: {remark}" for remark in told]
    bad: list[str] = []
    kept: list[datetime] = []
    values: dict[tuple[str, str], list[float]] = {key: [] for key in keys[1].values()}
    for line, row, instant in zip(where[1:], rows[1:], instants, strict=True):
        if instant is None:
            bad.append(f"{path}:{line}: no date and time")
            continue
        kept.append(instant)
        for column, key in keys[1].items():
            cell = row[column].strip() if column < len(row) else ""
            value = _si(cell.replace(",", ".") if mark == ";" else cell, key[1])
            if cell and math.isnan(value):
                bad.append(f"{path}:{line}: {header[column]} is no such reading: {cell[:20]!r}")
            values[key].append(value)
    if len(set(kept)) < 10:
        raise InputError(
            "has too few readings", file=path, found=f"{len(set(kept))} good rows" + (f"; {bad[0]}" if bad else ""),
            allowed="ten or more",
        )  # fmt: skip
    notes += bad[:_SHOWN]
    if len(bad) > _SHOWN:
        notes.append(f"{path}: and {len(bad) - _SHOWN} more cells or rows that were not read")
    order = sorted(range(len(kept)), key=kept.__getitem__)
    return [kept[k] for k in order], {key: np.array(v)[order] for key, v in values.items()}, notes


def _instants(texts: list[str]) -> tuple[list[datetime | None], list[str]]:
    """Instants of a column, all on the clock of its first row, None for what cannot be read; remarks.

    Where the first row tells its offset from UTC a row that does not cannot be placed.
    """
    import polars as pl

    from nestwright.sensing.loggers.dates import ORDERS, dates_in, instant_of, instants_of, order_of

    column = pl.Series(texts, dtype=pl.String)
    order, reason, how = order_of(dates_in(column))
    read = instants_of(column, "date", order)
    first = int(read.good.argmax()) if read.good.any() else -1
    told = first >= 0 and bool(read.told[first])
    face = instant_of(texts[first], order) if told else None  # its offset; columns read at once come as UTC
    local = (read.local - read.offset + (face[1] or 0 if face else 0)).tolist()
    good = read.good & (read.told == told)
    made = [_EPOCH + timedelta(milliseconds=ms) if ok else None for ms, ok in zip(local, good.tolist(), strict=True)]
    return made, [f"dates taken as {ORDERS[order]}: {reason}"] if how == "asked" else []


def _keys(header: list[str], path: str, line: int) -> tuple[int, dict[int, tuple[str, str]]]:
    time = [n for n, name in enumerate(header) if name.lower() in ("time", "timestamp", "datetime", "date")]
    if not time:
        raise InputError(
            "has no column of time", file=path, line=line, found=", ".join(header)[:120], allowed="a column named time"
        )
    found: dict[int, tuple[str, str]] = {}
    for n, name in enumerate(header):
        if n == time[0] or not name:
            continue
        chamber, dot, ending = name.rpartition(".")
        if not dot or ending not in QUANTITIES or not chamber.strip():
            raise InputError(
                "a column is named by its chamber and its quantity", file=path, line=line, field=name[:60],
                allowed="chamber." + ", chamber.".join(QUANTITIES), nearest=nearest_name(ending, QUANTITIES),
            )  # fmt: skip
        key = (chamber.strip(), QUANTITIES[ending])
        if key in found.values():
            raise InputError("the same column stands here twice", file=path, line=line, field=name[:60])
        found[n] = key
    if not found:
        raise InputError("has no column of readings", file=path, line=line, allowed="chamber." + ", ".join(QUANTITIES))
    return time[0], found


def _si(cell: str, quantity: str) -> float:
    try:
        value = float(cell)
    except ValueError:
        return math.nan
    if quantity == "temperature":
        value += 273.15
        return value if within("accept_temperature", value) else math.nan
    if quantity == "relative_humidity":
        return value / 100 if within("accept_humidity", value / 100) else math.nan
    return value * 1e-6 if 0 < value <= 500_000 else math.nan
