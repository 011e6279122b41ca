"""Logger files into the record: how a logger's file is read, and all of its readings or none."""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.sensing.loggers import Decision, Fault, Mapping, fits, load_mapping, read_in_pieces, recognise, to_toml
from nestwright.sensing.loggers.reading import Part
from nestwright.sensing.loggers.readings import LISTED, settled
from nestwright.workshop.arriving import (
    announce,
    begin,
    discard,
    move_all,
    one_at_a_time,
    settle,
    settle_held,
    store_arriving,
)
from nestwright.workshop.changes import Act, act, now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.moments import DAY
from nestwright.workshop.readings import (
    Moments,
    Stored,
    Values,
    channels_of,
    keep_channel,
    keep_logger,
    refuse_other,
    store_readings,
)
from nestwright.workshop.tables import logger

__all__ = ["ImportedFile", "accepted", "how_to_read", "import_file", "import_in_pieces", "kept_mapping"]

AHEAD = DAY
"""ms that a reading may lie after now: a day, the largest error of a zone."""
AT_ONCE = 3_000_000
"""Values of a file that are written in one transaction, some seconds of it."""
READING = 0.7
"""Share of the work on a large file that is done once it is read; the rest is moving it to its place."""


@dataclass(frozen=True)
class ImportedFile:
    """What became of a file.

    `rows` with anything on them, `rows_kept` of them with a value; `stored` by channel; `faults` lists the first 1000
    bad rows and cells, `counts` counts all, with "merged" (equal values of one instant), "conflicts"
    (different ones, the later kept) and "future" (rows over a day after now, left out). `first`, `last`: UTC ms.
    """

    logger: str
    rows: int
    rows_kept: int
    stored: dict[str, Stored]
    faults: tuple[Fault, ...]
    counts: dict[str, int]
    first: int
    last: int

    @property
    def total(self) -> Stored:
        return sum(self.stored.values(), Stored(0, 0, 0))

    def to_dict(self) -> dict[str, Any]:
        return {
            "logger": self.logger,
            "rows": self.rows,
            "rows_kept": self.rows_kept,
            "channels": {
                name: {"new": s.added, "there_already": s.same, "differing": s.differing}
                for name, s in self.stored.items()
            },
            "bad": self.counts.get("faults", 0),
            "bad_listed": [{"line": f.line, "channel": f.channel, "reason": f.reason} for f in self.faults],
            "counts": dict(self.counts),
        }


def kept_mapping(connection: Connection, name: str) -> Mapping | None:
    """The mapping kept with a logger; None for a new logger, or one without."""
    text = connection.execute(select(logger.c.mapping).where(logger.c.name == name)).scalar()
    return load_mapping(str(text), f"mapping of {name}") if text else None


def how_to_read(path: Path, kept: Mapping | None, zone: str | None = None) -> tuple[Mapping, bool]:
    """How a file is to be read, and whether that is as the logger's earlier files.

    The kept mapping is used where the file has its columns, else the file is recognised anew. A file without a header
    is recognised in any case and must come out alike. Raises InputError as `recognise`.
    """
    if kept is not None and kept.header_line and fits(kept, path):
        return kept, True
    of_logger = kept.zone if kept is not None and kept.zone != "told" and not zone else ""
    found = recognise(path, zone or of_logger or None)
    if of_logger:  # nobody said it this time
        why = "as for the earlier files of this logger"
        told = (
            replace(d, reason=why) if d.what == "zone" and d.reason == "as you said" else d for d in found.decisions
        )
        found = replace(found, decisions=tuple(told))
    if kept is not None and not kept.header_line and _form(found) == _form(kept):
        return kept, True
    return found, False


def _form(mapping: Mapping) -> tuple[Any, ...]:
    columns = {(c.at, c.quantity) for c in recognised_columns(mapping)}
    return mapping.separator, mapping.decimal, mapping.time_at, mapping.form, mapping.header_line, frozenset(columns)


def recognised_columns(mapping: Mapping) -> tuple[Any, ...]:
    """Columns whose quantity is known: others may be left out of a mapping that was kept."""
    return tuple(c for c in mapping.columns if c.quantity != "other")


def accepted(mapping: Mapping) -> Mapping:
    """The mapping with all that was asked taken as confirmed."""
    return replace(
        mapping,
        decisions=tuple(
            Decision(d.what, d.value, f"{d.reason}; confirmed", "sure") if d.confidence == "asked" else d
            for d in mapping.decisions
        ),
    )


def import_file(
    done: Act, path: Path, name: str, mapping: Mapping, progress: Callable[[int, int], None] | None = None
) -> ImportedFile:
    """Read a logger's file piece by piece into the record, in the transaction of `done`.

    Parameters
    ----------
    done : act of a transaction that writes; when this fails all of it is taken back.
    path, mapping, progress : as `read_in_pieces`.
    name : of the logger, made when it is new; the mapping is kept with it.

    Raises
    ------
    InputError
        As `read_in_pieces`; no usable reading at all; a channel that was another quantity before.

    Notes
    -----
    Of several values of one instant the later one of the file is kept, except across pieces of 16 MB: there, as with
    readings of an earlier file, what is in the record stays, and the other is counted as differing.
    """
    tally = _Tally(mapping)
    return _in_one(done, path, name, tally, (tally.take(part) for part in read_in_pieces(path, mapping, progress)))


def import_in_pieces(
    workshop: Workshop,
    words: str,
    path: Path,
    name: str,
    mapping: Mapping,
    progress: Callable[[int, int], None] | None = None,
    *,
    size: int = 1 << 24,
    at_once: int = AT_ONCE,
) -> ImportedFile:
    """As `import_file`, in transactions of its own, none of them long: others write meanwhile, and none sees a part.

    Parameters
    ----------
    words : of the act, for the history.
    size : bytes of the file a piece.
    at_once : values up to which a file is read first and then written in one transaction; those of a larger one wait
        hidden in the record until it is whole (`arriving`).

    Raises InputError as `import_file`, and when another import of a large file is running. Interrupted, it removes what
    it has written; killed, nothing of it shows, and the next import removes it.
    """
    share = 1.0

    def told(at: int, whole: int) -> None:
        if progress is not None:
            progress(round(share * at), whole)

    with contextlib.suppress(InputError):  # while another one runs, a small file is welcome
        settle(workshop)
    tally, engine = _Tally(mapping), workshop.engine
    with reading(engine) as connection:
        _agree(connection, name, mapping)
    parts = read_in_pieces(path, mapping, told, size=size)
    held: list[list[tuple[Moments, Values]]] = []
    for part in parts:
        held.append(tally.take(part))
        if sum(len(at) for piece in held for at, _ in piece) > at_once:
            break
    else:
        with writing(engine) as connection:
            return _in_one(act(connection, words), path, name, tally, held)
    share = READING
    with one_at_a_time(workshop):
        settle_held(engine)
        try:
            begin(engine, len(mapping.columns))
            twice = [Stored(0, 0, 0)] * len(mapping.columns)
            for piece in itertools.chain(held, (tally.take(part) for part in parts)):
                found = store_arriving(engine, piece)
                twice = [a + Stored(0, b.same, b.differing) for a, b in zip(twice, found, strict=True)]
            held.clear()
            tally.result(name, path, {})
            with writing(engine) as connection:
                done = act(connection, words)
                ids = _channels(done, name, mapping)
                first = announce(connection, ids)
        except BaseException:
            discard(engine)
            raise
        total = path.stat().st_size
        moved = move_all(
            engine, lambda s: progress(round((READING + (1 - READING) * s) * total), total) if progress else None
        )
    stored = {c.channel: a + b + moved[i] for c, a, b, i in zip(mapping.columns, twice, first, ids, strict=True)}
    return tally.result(name, path, stored)


def _in_one(
    done: Act, path: Path, name: str, tally: _Tally, pieces: Iterable[list[tuple[Moments, Values]]]
) -> ImportedFile:
    mapping = tally.mapping
    ids = _channels(done, name, mapping)
    stored = {c.channel: Stored(0, 0, 0) for c in mapping.columns}
    for piece in pieces:
        for column, channel_id, (at, value) in zip(mapping.columns, ids, piece, strict=True):
            stored[column.channel] += store_readings(done.connection, channel_id, at, value)
    return tally.result(name, path, stored)


def _channels(done: Act, name: str, mapping: Mapping) -> list[int]:
    logger_id = keep_logger(done, name, to_toml(mapping))
    return [keep_channel(done, logger_id, c.channel, c.quantity, c.canonical) for c in mapping.columns]


def _agree(connection: Connection, name: str, mapping: Mapping) -> None:
    """Raises InputError, before a long file is read, for a channel that was another quantity before."""
    known = {c.name: c for c in channels_of(connection, name)}
    for column in mapping.columns:
        if column.channel in known:
            refuse_other(known[column.channel], column.quantity, column.canonical)


class _Tally:
    """What was found in the pieces of a file, one after the other."""

    def __init__(self, mapping: Mapping) -> None:
        self.mapping = mapping
        self.faults: list[Fault] = []
        self.counts = {"merged": 0, "conflicts": 0, "future": 0}
        self.latest = now() + AHEAD
        self.rows = self.kept = 0
        self.first, self.last = int(np.iinfo(np.int64).max), int(np.iinfo(np.int64).min)

    def take(self, part: Part) -> list[tuple[Moments, Values]]:
        """Moments and values of each channel in a piece, each moment once."""
        counts = self.counts
        self.rows += part.rows
        late = part.time > self.latest
        value = np.where(late, np.nan, part.value) if late.any() else part.value
        counts["future"] += int(late.sum())
        counts["faults"] = counts.get("faults", 0) + int(late.sum())
        with_value = ~np.isnan(value).all(axis=0)
        self.kept += int(with_value.sum())
        self.faults += part.faults
        for n in np.flatnonzero(late)[: max(0, LISTED - len(self.faults))]:
            day = str(np.datetime64(int(part.time[n]), "ms"))
            self.faults.append(Fault(int(part.line[n]), "", "lies in the future", day[:16]))
        for key, count in part.counts.items():
            counts[key] = counts.get(key, 0) + count
        if with_value.any():
            self.first = min(self.first, int(part.time[with_value].min()))
            self.last = max(self.last, int(part.time[with_value].max()))
        out = []
        for column, of_channel in zip(self.mapping.columns, value, strict=True):
            at, one, merged, differ, _ = settled(column.channel, part.time, of_channel)
            counts["merged"] += merged
            counts["conflicts"] += differ
            out.append((at, one))
        return out

    def result(self, name: str, path: Path, stored: dict[str, Stored]) -> ImportedFile:
        """The whole file. Raises InputError when it has no reading that can be used."""
        if not self.kept:
            fault = self.faults[0] if self.faults else None
            raise InputError(
                "has no reading that can be used",
                file=str(path),
                line=fault.line if fault else 0,
                found=f"{self.rows} rows" + (f"; the first fault: {fault.reason}" if fault else ""),
                allowed="rows with a date and time and a number",
            )
        return ImportedFile(name, self.rows, self.kept, stored, tuple(self.faults), self.counts, self.first, self.last)
