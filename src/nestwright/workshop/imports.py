"""Logger files into the record: how a logger's file is read, and all of its readings in one transaction or none."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from sqlalchemy import Connection, select

from nestwright.errors import InputError
from nestwright.sensing.loggers import Decision, Fault, Mapping, fits, load_mapping, read_in_pieces, recognise, to_toml
from nestwright.sensing.loggers.readings import LISTED, settled
from nestwright.workshop.changes import Act, now
from nestwright.workshop.readings import Stored, keep_channel, keep_logger, store_readings
from nestwright.workshop.tables import logger

__all__ = ["ImportedFile", "accepted", "how_to_read", "import_file", "kept_mapping"]


AHEAD = 86_400_000
"""ms that a reading may lie after now: a day, the largest error of a zone."""


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
    logger_id = keep_logger(done, name, to_toml(mapping))
    ids = [keep_channel(done, logger_id, c.channel, c.quantity, c.canonical) for c in mapping.columns]
    stored = {c.channel: Stored(0, 0, 0) for c in mapping.columns}
    faults: list[Fault] = []
    counts = {"merged": 0, "conflicts": 0, "future": 0}
    latest = now() + AHEAD
    rows = kept = 0
    first, last = np.iinfo(np.int64).max, np.iinfo(np.int64).min
    for part in read_in_pieces(path, mapping, progress):
        rows += part.rows
        late = part.time > latest
        value = np.where(late, np.nan, part.value) if late.any() else part.value
        counts["future"] += int(late.sum())
        counts["faults"] = counts.get("faults", 0) + int(late.sum())
        with_value = ~np.isnan(value).all(axis=0)
        kept += int(with_value.sum())
        faults += part.faults
        for n in np.flatnonzero(late)[: max(0, LISTED - len(faults))]:
            day = str(np.datetime64(int(part.time[n]), "ms"))
            faults.append(Fault(int(part.line[n]), "", "lies in the future", day[:16]))
        for key, count in part.counts.items():
            counts[key] = counts.get(key, 0) + count
        if with_value.any():
            first = min(first, int(part.time[with_value].min()))
            last = max(last, int(part.time[with_value].max()))
        for column, channel_id, of_channel in zip(mapping.columns, ids, value, strict=True):
            at, one, merged, differ, _ = settled(column.channel, part.time, of_channel)
            counts["merged"] += merged
            counts["conflicts"] += differ
            stored[column.channel] += store_readings(done.connection, channel_id, at, one)
    if not kept:
        fault = faults[0] if faults else None
        raise InputError(
            "has no reading that can be used",
            file=str(path),
            line=fault.line if fault else 0,
            found=f"{rows} rows" + (f"; the first fault: {fault.reason}" if fault else ""),
            allowed="rows with a date and time and a number",
        )
    return ImportedFile(name, rows, kept, stored, tuple(faults), counts, int(first), int(last))
