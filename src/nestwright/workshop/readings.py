"""Readings of loggers: stored raw, merged with what is there, and read back whole or by the hour."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy import Connection, Table, func, select

from nestwright.errors import InputError, nearest_name
from nestwright.workshop.changes import Act
from nestwright.workshop.tables import channel, logger

Moments = NDArray[np.int64]
Values = NDArray[np.float64]

__all__ = [
    "ARRIVING",
    "HOUR",
    "Channel",
    "Hours",
    "Series",
    "Stored",
    "arriving_channels",
    "channels_of",
    "find_channel",
    "find_logger",
    "keep_channel",
    "keep_logger",
    "mean_of_hours",
    "newest_of",
    "read_hours",
    "read_own",
    "read_raw",
    "refuse_other",
    "span_of",
    "store_own",
    "store_readings",
]

HOUR = 3_600_000
"""Milliseconds in an hour."""
ARRIVING = -1
"""Number of the hidden logger that readings of a large file wait under (`arriving`); its channels are negative too."""
ROWS = 64
"""Rows of one statement of inserting; more are no faster."""


@dataclass(frozen=True)
class Channel:
    """One quantity of one logger. `wanted_error`: standard uncertainty that is good enough, in its unit, or None."""

    id: int
    logger: str
    name: str
    quantity: str
    unit: str
    wanted_error: float | None = None

    def to_dict(self) -> dict[str, Any]:
        return {k: v for k, v in self.__dict__.items() if k != "id"}


@dataclass(frozen=True)
class Stored:
    """What became of a batch: rows that were new, that were there already, that were there with another value (which
    stays: the record is not overwritten)."""

    added: int
    same: int
    differing: int

    def __add__(self, other: Stored) -> Stored:
        return Stored(self.added + other.added, self.same + other.same, self.differing + other.differing)


@dataclass(frozen=True)
class Series:
    """Raw readings: `at` UTC ms (n,), sorted; `value` (n,) in the channel's unit."""

    at: Moments
    value: Values


@dataclass(frozen=True)
class Hours:
    """Readings by the hour: `hour` since 1970 UTC (n,), how many, least, most and mean of each (n,)."""

    hour: Moments
    n: Moments
    low: Values
    high: Values
    mean: Values


def keep_logger(done: Act, name: str, mapping: str | None = None) -> int:
    """The row of a logger by its name, made when it is new; `mapping` (TOML) is kept with it where given."""
    row = done.connection.execute(select(logger.c.id).where(logger.c.name == name)).scalar()
    if row is None:
        return done.add(logger, _numbered(done.connection, logger) | {"name": name, "mapping": mapping or ""})
    if mapping is not None:
        done.change(logger, int(row), {"mapping": mapping})
    return int(row)


def keep_channel(done: Act, logger_id: int, name: str, quantity: str, unit: str) -> int:
    """The row of a channel, made when it is new. Raises InputError when it was of another quantity or unit before."""
    found = done.connection.execute(
        select(channel.c.id, channel.c.quantity, channel.c.unit).where(
            channel.c.logger_id == logger_id, channel.c.name == name
        )
    ).first()
    if found is None:
        values = {"logger_id": logger_id, "name": name, "quantity": quantity, "unit": unit}
        return done.add(channel, _numbered(done.connection, channel) | values)
    refuse_other(Channel(int(found[0]), "", name, found[1], found[2]), quantity, unit)
    return int(found[0])


def refuse_other(there: Channel, quantity: str, unit: str) -> None:
    """Raises InputError when a channel that is there is of another quantity or unit."""
    if (there.quantity, there.unit) != (quantity, unit):
        raise InputError(
            "was another quantity before",
            field=there.name,
            found=f"{quantity} {unit}",
            allowed=f"{there.quantity} {there.unit}, or another name for the logger",
        )


def _numbered(connection: Connection, table: Table) -> dict[str, Any]:
    """The number 1 for the first row: beside hidden ones, which are below 0, the database would give it 0."""
    return {} if connection.execute(select(func.max(table.c.id))).scalar() != -1 else {"id": 1}


def channels_of(connection: Connection, logger_name: str | None = None) -> list[Channel]:
    """Channels of one logger, or of all, by name."""
    query = select(channel, logger.c.name.label("of")).join(logger).where(channel.c.id > 0)
    query = query.order_by(logger.c.name, channel.c.name)
    if logger_name is not None:
        query = query.where(logger.c.name == logger_name)
    return [
        Channel(r["id"], r["of"], r["name"], r["quantity"], r["unit"], r["wanted_error"])
        for r in connection.execute(query).mappings()
    ]


def find_logger(connection: Connection, name: str) -> int:
    """The row of a logger. Raises InputError with the nearest name."""
    query = select(logger.c.name, logger.c.id).where(logger.c.id > 0)
    known = {str(n): int(i) for n, i in connection.execute(query)}
    if name in known:
        return int(known[name])
    raise InputError(
        "is no logger of this workshop",
        field="logger",
        found=repr(name),
        allowed=", ".join(sorted(known)) or "none yet: import a file with `nestwright readings import`",
        nearest=nearest_name(name, known),
    )


def find_channel(connection: Connection, name: str) -> Channel:
    """A channel told as LOGGER.CHANNEL, or as CHANNEL or LOGGER alone where that is clear. Raises InputError."""
    every = channels_of(connection)
    found = [c for c in every if name in (f"{c.logger}.{c.name}", c.name, c.logger)]
    exact = [c for c in found if f"{c.logger}.{c.name}" == name]
    if len(exact or found) == 1:
        return (exact or found)[0]
    known = [f"{c.logger}.{c.name}" for c in (found or every)]
    raise InputError(
        "could be several channels" if found else "is no channel of this workshop",
        field="channel",
        found=repr(name),
        allowed=", ".join(known[:20]) or "none yet: import a file with `nestwright readings import`",
        nearest="" if found else nearest_name(name, known),
    )


def store_readings(connection: Connection, channel_id: int, at: Moments, value: Values) -> Stored:
    """Add readings of one channel; what is there at the same moment stays as it is, and the hours are summed anew.

    Parameters
    ----------
    at : (n,) int64
        UTC ms.
    value : (n,)
        Raw, in the channel's unit; rows that are not finite are left out.
    """
    return _store(connection, channel_id, at, value, read_raw)


def store_own(connection: Connection, channel_id: int, at: Moments, value: Values) -> Stored:
    """As `store_readings`, beside the channel's own rows only: what is arriving for it is left out of sight."""
    return _store(connection, channel_id, at, value, read_own)


def _store(connection: Connection, channel_id: int, at: Moments, value: Values, known_by: Any) -> Stored:
    good = np.isfinite(value)
    at, value = np.asarray(at, dtype=np.int64)[good], np.asarray(value, dtype=float)[good]
    at, first = np.unique(at, return_index=True)
    value = value[first]
    if not len(at):
        return Stored(0, 0, 0)
    low, high = int(at[0]), int(at[-1])
    there = known_by(connection, channel_id, low, high + 1)
    place = np.searchsorted(there.at, at)
    known = np.zeros(len(at), dtype=bool)
    if len(there.at):
        known = there.at[np.minimum(place, len(there.at) - 1)] == at
        differing = int((there.value[place[known]] != value[known]).sum())
    else:
        differing = 0
    new_at, new_value = at[~known], value[~known]
    if len(new_at):
        _insert(connection, channel_id, new_at, new_value)
        _sum_hours(connection, channel_id, new_at, new_value)
    return Stored(len(new_at), int(known.sum()) - differing, differing)


def _insert(connection: Connection, channel_id: int, at: Moments, value: Values) -> None:
    """Insert rows through the driver, many to a statement: half the time of one by one."""
    raw: Any = connection.connection.driver_connection
    row = f"({int(channel_id)}, ?, ?)"
    whole = len(at) // ROWS * ROWS
    flat: list[Any] = [None] * (2 * whole)
    flat[0::2], flat[1::2] = at[:whole].tolist(), value[:whole].tolist()
    step = 2 * ROWS
    many = f"INSERT INTO reading (channel_id, at, value) VALUES {', '.join([row] * ROWS)}"
    raw.executemany(many, (flat[k : k + step] for k in range(0, 2 * whole, step)))
    rest = zip(at[whole:].tolist(), value[whole:].tolist(), strict=True)
    raw.executemany(f"INSERT INTO reading (channel_id, at, value) VALUES {row}", rest)


def _sum_hours(connection: Connection, channel_id: int, at: Moments, value: Values) -> None:
    """Add new readings (rising) to the sums of their hours."""
    raw: Any = connection.connection.driver_connection
    raw.executemany(
        f"INSERT INTO rollup (channel_id, hour, n, low, high, total) VALUES ({int(channel_id)}, ?, ?, ?, ?, ?) "
        "ON CONFLICT DO UPDATE SET n = n + excluded.n, low = min(low, excluded.low), high = max(high, excluded.high), "
        "total = total + excluded.total",
        zip(*(c.tolist() for c in _summed(at, value)), strict=True),
    )


def _summed(at: Moments, value: Values) -> list[Any]:
    """Hours of rising readings: hour, how many, least, most and sum."""
    hours, first = np.unique(at // HOUR, return_index=True)
    n = np.diff(np.append(first, len(at)))
    return [
        hours,
        n,
        np.minimum.reduceat(value, first),
        np.maximum.reduceat(value, first),
        np.add.reduceat(value, first),
    ]


def arriving_channels(connection: Connection) -> dict[int, int]:
    """Channels for which readings of a whole file are arriving, and the hidden channel of each."""
    told = _single(connection, f"SELECT mapping FROM logger WHERE id = {ARRIVING}")
    return {int(k): int(v) for k, v in json.loads(told).items()} if told else {}


def with_arriving(connection: Connection, channel_id: int) -> list[int]:
    """The channel itself, and the one behind which readings of a file are on their way into it."""
    hidden = arriving_channels(connection).get(channel_id)
    return [channel_id] if hidden is None else [channel_id, hidden]


def read_raw(connection: Connection, channel_id: int, low: int | None = None, high: int | None = None) -> Series:
    """Raw readings from `low` on and before `high`, UTC ms."""
    return _raw(connection, with_arriving(connection, channel_id), low, high)


def read_own(connection: Connection, channel_id: int, low: int | None = None, high: int | None = None) -> Series:
    """As `read_raw`, without what is arriving for the channel."""
    return _raw(connection, [channel_id], low, high)


def _raw(connection: Connection, channels: Sequence[int], low: int | None, high: int | None) -> Series:
    where = f"channel_id IN ({', '.join(str(int(c)) for c in channels)})"
    where += ("" if low is None else f" AND at >= {int(low)}") + ("" if high is None else f" AND at < {int(high)}")
    order = "at" if len(channels) == 1 else "at, channel_id DESC"
    query = f"SELECT at, value FROM reading WHERE {where} ORDER BY {order}"
    at, value = _columns(connection, query, (np.int64, float))
    if len(channels) > 1:  # of two readings of one moment the record's own stays, which comes first
        at, first = np.unique(at, return_index=True)
        value = value[first]
    return Series(at, value)


def read_hours(connection: Connection, channel_id: int, low: int | None = None, high: int | None = None) -> Hours:
    """Readings by the hour, for the hours that begin from `low` on and before `high`, UTC ms."""
    every = with_arriving(connection, channel_id)
    parts = [_hours(connection, one, low, high) for one in every]
    if len(parts) > 1:
        parts = _without_doubles(connection, every, parts)
    hour, n, least, most, total = (np.concatenate(column) for column in zip(*parts, strict=True))
    order = np.argsort(hour, kind="stable")
    return Hours(hour[order], n[order], least[order], most[order], total[order] / np.maximum(n[order], 1))


def _without_doubles(connection: Connection, channels: list[int], parts: list[list[Any]]) -> list[list[Any]]:
    """Hours of two channels as of one: an hour that both have is summed anew, each of its moments once."""
    both = np.intersect1d(parts[0][0], parts[1][0])
    if not len(both):
        return parts
    series = _raw(connection, channels, int(both[0]) * HOUR, (int(both[-1]) + 1) * HOUR)
    inside = np.isin(series.at // HOUR, both)
    alone = [[column[~np.isin(part[0], both)] for column in part] for part in parts]
    return [*alone, _summed(series.at[inside], series.value[inside])]


def _hours(connection: Connection, channel_id: int, low: int | None, high: int | None) -> list[Any]:
    where = f"channel_id = {int(channel_id)}"
    where += "" if low is None else f" AND hour >= {-(-int(low) // HOUR)}"
    where += "" if high is None else f" AND hour < {-(-int(high) // HOUR)}"
    query = f"SELECT hour, n, low, high, total FROM rollup WHERE {where} ORDER BY hour"
    return _columns(connection, query, (np.int64, np.int64, float, float, float))


def _columns(connection: Connection, query: str, kinds: Sequence[type]) -> list[Any]:
    """Columns of a query as arrays, through the driver: rows are many and plain."""
    raw: Any = connection.connection.driver_connection
    rows = np.fromiter(raw.execute(query), dtype=[(f"c{i}", kind) for i, kind in enumerate(kinds)])
    return [np.ascontiguousarray(rows[f"c{i}"]) for i in range(len(kinds))]


def mean_of_hours(connection: Connection, channel_id: int, after: int) -> float:
    """Mean of all readings in the hours (since 1970 UTC) after `after`; nan for none."""
    every = with_arriving(connection, channel_id)
    if len(every) > 1:
        hours = read_hours(connection, channel_id, (after + 1) * HOUR)
        return float((hours.mean * hours.n).sum() / hours.n.sum()) if len(hours.n) else math.nan
    # summed by the database: the row that comes back is one, and the page of many loggers asks many
    where = f"channel_id = {int(channel_id)} AND hour > {int(after)}"
    found = _single(connection, f"SELECT sum(total) / sum(n) FROM rollup WHERE {where}")
    return math.nan if found is None else float(found)


def newest_of(connection: Connection, channel_id: int) -> int:
    """Moment of the newest reading, UTC ms; 0 for none."""
    return _end(connection, "max", with_arriving(connection, channel_id))


def _end(connection: Connection, which: str, channels: Sequence[int]) -> int:
    """The "min" or "max" moment of channels; each by itself is one step down the tree."""
    every = (_single(connection, f"SELECT {which}(at) FROM reading WHERE channel_id = {int(c)}") for c in channels)
    there = [int(at) for at in every if at is not None]
    return (min if which == "min" else max)(there, default=0)


def _single(connection: Connection, query: str) -> Any:
    """The first value of a query, through the driver: pages ask hundreds of these."""
    raw: Any = connection.connection.driver_connection
    found = raw.execute(query).fetchone()
    return None if found is None else found[0]


def span_of(connection: Connection, channel_id: int) -> tuple[int, int, int]:
    """First and last moment, UTC ms, and how many readings; zeros for none."""
    every = with_arriving(connection, channel_id)
    if len(every) > 1:
        n = read_hours(connection, channel_id).n.sum()
    else:
        n = _single(connection, f"SELECT sum(n) FROM rollup WHERE channel_id = {int(channel_id)}") or 0
    # both ends in one query would read every row
    return _end(connection, "min", every), _end(connection, "max", every), int(n)
