"""A batch of live readings into the record, in one transaction: new channels are made, doubles merge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

import numpy as np
from sqlalchemy import Connection, Engine, func, select

from nestwright.sensing.live.messages import Reading
from nestwright.sensing.live.values import live_value
from nestwright.workshop.changes import Act, act
from nestwright.workshop.database import writing
from nestwright.workshop.readings import HOUR, Stored, channels_of, keep_channel, keep_logger, store_readings
from nestwright.workshop.tables import logger, reading

__all__ = ["Memory", "Parcel", "Written", "store_parcels"]

Key = tuple[str, str]
_SET_BACK = 1000
"""Milliseconds by which a later message must seem to come earlier before the clock counts as set back."""


@dataclass(frozen=True)
class Parcel:
    """Readings that came together. `whole`: if one of them cannot be kept, none is."""

    readings: tuple[Reading, ...]
    whole: bool = False


@dataclass(frozen=True)
class Written:
    """What became of a batch, and for each parcel why readings of it were refused."""

    stored: Stored
    refused: tuple[tuple[str, ...], ...]


@dataclass
class Memory:
    """What one run remembers from batch to batch: loggers whose clock is noted, and for each channel the last time of
    arrival, UTC ms, as it was and as it was written."""

    noted: set[str] = field(default_factory=set)
    latest: dict[Key, tuple[int, int]] = field(default_factory=dict)


def store_parcels(engine: Engine, parcels: Sequence[Parcel], memory: Memory) -> Written:
    """Write a batch; it is committed when this returns.

    A reading of a channel that is of another quantity or unit is refused, and so is a new logger beyond the number of
    data/live.toml. A logger whose clock was off is noted with it, once in a run.

    Raises InputError like `writing`; then nothing was written.
    """
    if not any(p.readings for p in parcels):
        return Written(Stored(0, 0, 0), tuple(() for _ in parcels))
    with writing(engine) as connection:
        there = channels_of(connection)
        known = {(c.logger, c.name): (c.quantity, c.unit) for c in there}
        ids = {(c.logger, c.name): c.id for c in there}
        loggers = set(connection.execute(select(logger.c.name)).scalars())
        good, refused = _sorted_out(parcels, known, loggers)
        new = {key: known[key] for key in good if key not in ids}
        if new:
            words = "new channels: " + ", ".join(f"{a}.{b}" for a, b in list(new)[:5]) + (" …" if len(new) > 5 else "")
            done = act(connection, words)
            for key, (quantity, unit) in new.items():
                ids[key] = keep_channel(done, keep_logger(done, key[0]), key[1], quantity, unit)
        stored = Stored(0, 0, 0)
        for key, readings in good.items():
            stored += _store(connection, ids[key], _apart(connection, ids[key], key, readings, memory))
        off = {r.logger: r for readings in good.values() for r in readings if r.clock_off is not None}
        fresh = {name: r for name, r in off.items() if name not in memory.noted}
        if fresh:
            done = act(connection, "clock of " + ", ".join(list(fresh)[:5]))
            for name, one in fresh.items():
                _note_clock(done, name, one)
    memory.noted.update(fresh)
    return Written(stored, refused)


def _sorted_out(
    parcels: Sequence[Parcel], known: dict[Key, tuple[str, str]], loggers: set[str]
) -> tuple[dict[Key, list[Reading]], tuple[tuple[str, ...], ...]]:
    """Readings to keep by channel, and refusals by parcel; new channels are added to `known`."""
    good: dict[Key, list[Reading]] = {}
    refused = []
    room = int(live_value("most_loggers"))
    for parcel in parcels:
        reasons: list[str] = []
        taken: list[Reading] = []
        planned: dict[Key, tuple[str, str]] = {}
        for one in parcel.readings:
            key, kind = (one.logger, one.channel), (one.quantity, one.unit)
            before = known.get(key) or planned.get(key)
            if before is not None and before != kind:
                reasons.append(
                    f"{one.logger}.{one.channel} is {' '.join(before)} in the record and came as {' '.join(kind)}"
                )
            elif before is None and one.logger not in loggers and len(loggers) >= room:
                reasons.append(f"{one.logger} would be a new logger, and there are {room} already")
            else:
                planned.setdefault(key, kind)
                taken.append(one)
        if not (reasons and parcel.whole):
            known.update(planned)
            loggers.update(key[0] for key in planned)
            for one in taken:
                good.setdefault((one.logger, one.channel), []).append(one)
        refused.append(tuple(reasons))
    return good, tuple(refused)


def _apart(
    connection: Connection, channel: int, key: Key, readings: Sequence[Reading], memory: Memory
) -> list[Reading]:
    """Times of arrival of one channel told apart, 1 ms from one to the next: the record has one value a moment."""
    out = []
    for one in readings:
        if not one.timed:
            came, last = memory.latest.get(key, (0, 0))
            if not came:
                # an earlier run may have written times that still lie ahead
                near = select(func.max(reading.c.at)).where(
                    reading.c.channel_id == channel, reading.c.at >= one.at, reading.c.at < one.at + HOUR
                )
                last = int(connection.execute(near).scalar() or 0)
            # a clock that was set back is followed
            at = one.at if one.at < came - _SET_BACK else max(one.at, last + 1)
            memory.latest[key] = (one.at, at)
            one = one if at == one.at else replace(one, at=at)
        out.append(one)
    return out


def _store(connection: Connection, channel: int, readings: Sequence[Reading]) -> Stored:
    at = np.array([r.at for r in readings], dtype=np.int64)
    value = np.array([r.value for r in readings])
    order = np.argsort(at, kind="stable")
    at, value = at[order], value[order]
    stored = Stored(0, 0, 0)
    # what is there is read from the first to the last: one old reading must not read weeks
    ends = np.flatnonzero(np.diff(at) > HOUR) + 1
    for a, v in zip(np.split(at, ends), np.split(value, ends), strict=True):
        stored += store_readings(connection, channel, a, v)
    merged = len(at) - stored.added - stored.same - stored.differing
    return Stored(stored.added, stored.same + merged, stored.differing)


def _note_clock(done: Act, name: str, one: Reading) -> None:
    found = done.connection.execute(select(logger.c.id, logger.c.note).where(logger.c.name == name)).one()
    day = datetime.fromtimestamp(one.at / 1000, UTC).strftime("%Y-%m-%d %H:%M")
    said = f"Clock: {one.clock_off:+.0f} s off at {day} UTC; times of arrival were kept."
    lines = [line for line in str(found[1]).split("\n") if line and not line.startswith("Clock: ")]
    done.change(logger, int(found[0]), {"note": "\n".join([*lines, said])})
