"""Readings of a large file on their way into the record, in many short transactions, hidden until the file is whole.

They wait under a logger and channels with negative numbers, which nothing lists. When the whole file is read one
transaction says to which channels they belong; from then on `readings.read_raw` and `read_hours` give both, and they
are moved piece by piece. So whoever reads sees all of a file or nothing of it, whenever the import is killed, and
whoever writes waits for one piece at most. The next import takes up what a killed one left: it moves what is whole and
removes what is not.
"""

from __future__ import annotations

import itertools
import json
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager

from sqlalchemy import Connection, Engine, delete, func, insert, select, text, update

from nestwright.errors import InputError
from nestwright.workshop.database import reading as reading_of
from nestwright.workshop.database import refused, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.readings import (
    ARRIVING,
    HOUR,
    Moments,
    Stored,
    Values,
    arriving_channels,
    read_own,
    store_own,
)
from nestwright.workshop.tables import channel, logger, reading, rollup

__all__ = ["announce", "begin", "discard", "move_all", "one_at_a_time", "settle", "settle_held", "store_arriving"]

AT_ONCE = 250_000
"""Rows moved or removed in one transaction: some half a second."""
TURNS, PAUSE = 4, 0.15
"""Transactions until others get their turn, and for how long, s."""
CACHE = 65_536
"""KiB of the database held in memory meanwhile; in the usual 2 MB each page would be written many times."""


@contextmanager
def one_at_a_time(workshop: Workshop) -> Iterator[None]:
    """Hold the right to import a large file, which ends with the process. Raises InputError when another has it.

    The lock is that of a small database of its own: it holds on every system on which the record does.
    """
    place = workshop.folder / ".importing"
    with refused(place), closing(sqlite3.connect(place, timeout=0, isolation_level=None)) as link:
        try:
            link.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error):
                raise
            raise InputError(
                "another import is running", file=str(workshop.database), allowed="wait until it has ended"
            ) from None
        yield


def begin(engine: Engine, channels: int) -> None:
    """Make the hidden rows that readings wait under: channels -1, -2, ... of logger -1."""
    with writing(engine) as connection:
        connection.execute(insert(logger).values(id=ARRIVING, name="\x1farriving"))
        rows = [{"id": -k, "logger_id": ARRIVING, "name": str(k), "quantity": "other"} for k in range(1, channels + 1)]
        connection.execute(insert(channel), rows)


def store_arriving(engine: Engine, values: Sequence[tuple[Moments, Values]]) -> list[Stored]:
    """Readings of one piece of the file, a pair for each channel in the order of `begin`."""
    with writing(engine) as connection:
        return [store_own(connection, -k, at, value) for k, (at, value) in enumerate(values, 1)]


def announce(connection: Connection, targets: Sequence[int]) -> list[Stored]:
    """Say to which channels the readings belong, in the order of `begin`: with this transaction the file is whole.

    A first piece of each goes with it, of which this tells what became: a channel with readings withstands an undo.
    """
    told = json.dumps({str(target): -k for k, target in enumerate(targets, 1)})
    connection.execute(update(logger).where(logger.c.id == ARRIVING).values(mapping=told))
    return [_move(connection, target, -k)[1] for k, target in enumerate(targets, 1)]


def move_all(engine: Engine, progress: Callable[[float], None] | None = None) -> dict[int, Stored]:
    """Move what is whole to where it belongs; by channel what became of it. What is there already stays."""
    with writing(engine) as connection:
        pairs = arriving_channels(connection)
        left = all_rows = _count(connection)
    moved = {target: Stored(0, 0, 0) for target in pairs}
    for target, source in pairs.items():
        for turn in itertools.count(1):
            _let_others(turn)
            with writing(engine) as connection:
                n, stored = _move(connection, target, source)
            if not n:
                break
            moved[target] += stored
            left -= n
            if progress is not None:
                progress(1.0 - left / max(all_rows, 1))
    _remove_hidden(engine)
    return moved


def discard(engine: Engine) -> None:
    """Remove what is not whole, piece by piece."""
    with writing(engine) as connection:
        sources = connection.execute(select(channel.c.id).where(channel.c.logger_id == ARRIVING)).scalars().all()
    for source in sources:
        for turn in itertools.count(1):
            _let_others(turn)
            with writing(engine) as connection:
                end = _end(connection, int(source))
                if end is None:
                    break
                _remove(connection, int(source), end)
    _remove_hidden(engine)


def settle(workshop: Workshop) -> None:
    """Take up what a killed import left: all of a file that is whole, nothing of another. Raises InputError while an
    import is running."""
    if _left(workshop.engine) is not None:
        with one_at_a_time(workshop):
            settle_held(workshop.engine)


def settle_held(engine: Engine) -> None:
    """As `settle`, for the one who has the right to import."""
    left = _left(engine)
    if left is not None:
        if left:
            move_all(engine)
        else:
            discard(engine)


def _left(engine: Engine) -> str | None:
    """What the hidden logger tells: None for no such logger, "" while its file is not whole."""
    with reading_of(engine) as connection:
        found = connection.execute(select(logger.c.mapping).where(logger.c.id == ARRIVING)).scalar()
    return None if found is None else str(found)


def _let_others(turn: int) -> None:
    """A pause now and then: who waits for the database looks ten times a second whether it is free, and would never
    find it so between two transactions that follow each other at once."""
    if turn % TURNS == 0:
        time.sleep(PAUSE)


def _count(connection: Connection) -> int:
    return int(connection.execute(select(func.sum(rollup.c.n)).where(rollup.c.channel_id < 0)).scalar() or 0)


def _end(connection: Connection, source: int) -> int | None:
    """The end of the hour in which the next piece of a channel ends, UTC ms; None for none left."""
    of_channel = select(reading.c.at).where(reading.c.channel_id == source).order_by(reading.c.at)
    last = connection.execute(of_channel.offset(AT_ONCE).limit(1)).scalar()
    if last is None:
        last = connection.execute(select(func.max(reading.c.at)).where(reading.c.channel_id == source)).scalar()
    return None if last is None else (int(last) // HOUR + 1) * HOUR


def _move(connection: Connection, target: int, source: int) -> tuple[int, Stored]:
    """Move the next piece of a channel: rows taken, and what became of them."""
    end = _end(connection, source)
    if end is None:
        return 0, Stored(0, 0, 0)
    connection.exec_driver_sql(f"PRAGMA cache_size = -{CACHE}")
    of_source = (reading.c.channel_id == source, reading.c.at < end)
    first = int(connection.execute(select(func.min(reading.c.at)).where(*of_source)).scalar() or 0) // HOUR * HOUR
    of_target = (reading.c.channel_id == target, reading.c.at >= first, reading.c.at < end)
    if connection.execute(select(reading.c.at).where(*of_target).limit(1)).first() is not None:
        series = read_own(connection, source, None, end)
        n, stored = len(series.at), store_own(connection, target, series.at, series.value)
    else:  # whole hours into none: their sums hold as they are
        both = {"target": target, "source": source, "end": end, "hour": end // HOUR}
        connection.execute(
            text(
                "INSERT INTO reading (channel_id, at, value) SELECT :target, at, value FROM reading "
                "WHERE channel_id = :source AND at < :end ORDER BY at"
            ),
            both,
        )
        connection.execute(
            text(
                "INSERT INTO rollup (channel_id, hour, n, low, high, total) SELECT :target, hour, n, low, high, total "
                "FROM rollup WHERE channel_id = :source AND hour < :hour ORDER BY hour"
            ),
            both,
        )
        hours = select(func.sum(rollup.c.n)).where(rollup.c.channel_id == source, rollup.c.hour < end // HOUR)
        n = int(connection.execute(hours).scalar() or 0)
        stored = Stored(n, 0, 0)
    _remove(connection, source, end)
    return n, stored


def _remove(connection: Connection, source: int, end: int) -> None:
    connection.execute(delete(reading).where(reading.c.channel_id == source, reading.c.at < end))
    connection.execute(delete(rollup).where(rollup.c.channel_id == source, rollup.c.hour < end // HOUR))


def _remove_hidden(engine: Engine) -> None:
    with writing(engine) as connection:
        connection.execute(delete(channel).where(channel.c.logger_id == ARRIVING))
        connection.execute(delete(logger).where(logger.c.id == ARRIVING))
