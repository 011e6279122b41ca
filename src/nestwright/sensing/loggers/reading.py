"""Readings out of a logger's file by its mapping: good rows kept, every other one listed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.errors import InputError, nearest_name
from nestwright.sensing.loggers.cells import values_of
from nestwright.sensing.loggers.dates import instants_of
from nestwright.sensing.loggers.mapping import Mapping
from nestwright.sensing.loggers.mapping_file import fits
from nestwright.sensing.loggers.readings import LISTED, Channel, Conflict, Fault, Jump, Readings, settled
from nestwright.sensing.loggers.stream import Piece, pieces_of
from nestwright.sensing.loggers.table import cells_of, table_of
from nestwright.sensing.loggers.zones import Clock

__all__ = ["Part", "read_in_pieces", "read_readings"]


@dataclass
class Part:
    """Readings of one piece of a file, in the order of its lines.

    `line` int64 and `time` int64 ms UTC, shape (n,); `value` float64, shape (k, n), a row a column of the mapping, in
    canonical units, nan for none. The lists hold at most 1000 entries in all parts of a file; `counts` counts all.
    `done` of `size` bytes of the file are read.
    """

    line: NDArray[np.int64]
    time: NDArray[np.int64]
    value: NDArray[np.float64]
    rows: int
    faults: list[Fault]
    jumps: list[Jump]
    shifted: list[int]
    counts: dict[str, int]
    done: int
    size: int


@dataclass
class _State:
    """What one piece must know of those before."""

    mapping: Mapping
    file: str
    header_line: int
    first_line: int
    clock: Clock | None = None
    last: int | None = None
    listed: dict[str, int] = field(default_factory=dict)
    first_fault: Fault | None = None

    def room(self, what: str, count: int) -> int:
        """How many of `count` further entries may still be listed."""
        had = self.listed.get(what, 0)
        taken = max(0, min(count, LISTED - had))
        self.listed[what] = had + taken
        return taken


def read_in_pieces(
    path: str | Path, mapping: Mapping, progress: Callable[[int, int], None] | None = None, *, size: int = 1 << 24
) -> Iterator[Part]:
    """Readings piece by piece, each some 16 MB of the file, so that a file of any length fits.

    Parameters
    ----------
    path : str or Path
        The file.
    mapping : Mapping
        From `recognise`, or kept from an earlier file; columns are found anew by their headers.
    progress : callable, optional
        Called after each piece with the bytes read and the bytes of the file.
    size : int
        Bytes a piece.

    Raises
    ------
    InputError
        When the file cannot be read or lacks a column of the mapping.
    """
    fit = fits(mapping, path)
    if not fit:
        raise InputError(
            "lacks a column that the mapping of its logger names", file=str(path), field="header",
            found=", ".join(fit.found)[:120] or "no such header", allowed=", ".join(repr(m) for m in fit.missing),
            nearest=nearest_name(fit.missing[0], fit.found) if fit.missing else "",
        )  # fmt: skip
    columns = tuple(replace(c, at=at) for c, at in zip(mapping.columns, fit.at, strict=True))
    mapping = replace(mapping, time_at=fit.time_at, columns=columns)
    state = _State(mapping, str(path), fit.header_line, fit.first_line)
    for piece in pieces_of(path, mapping.encoding, size):
        part = _part(piece, state)
        if progress is not None:
            progress(part.done, part.size)
        yield part


def _part(piece: Piece, state: _State) -> Part:
    mapping = state.mapping
    table = table_of(piece.data, mapping.separator, mapping.width)
    skip = min(max(0, state.first_line - piece.first_line), len(table))
    table = table[skip:]
    first = piece.first_line + skip
    texts = _time_texts(table, mapping)
    filled = table.select(_any_filled(mapping)).to_series().to_numpy() if len(table) else np.zeros(0, np.bool_)
    instants = instants_of(texts, mapping.form, mapping.order)
    good = instants.good.copy()
    if mapping.zone == "told":
        good &= instants.told
    cut = _cut_off(piece, mapping) if piece.cut else ""
    if cut and len(good):
        good[-1] = False
    at = np.flatnonzero(good)
    time, shifted, twice = _to_utc(instants.local[at], instants.offset[at], instants.told[at], state)
    counts = {"shifted": int(shifted.sum()), "twice": int(twice.sum()), "missing": 0, "faults": 0, "ignored": 0}
    counts["broken"] = int(piece.broken)
    faults: list[Fault] = []
    bad = np.flatnonzero(filled & ~good)
    if len(bad):
        ignored = _ignored(texts, table, bad, mapping)
        counts["ignored"] = int(ignored.sum())
        bad = bad[~ignored]
    _list_rows(bad, piece, skip, first, texts, instants.good, cut, len(table), state, faults)
    counts["faults"] += len(bad) + len(piece.junk)
    junk = [Fault(line, "", reason, text) for line, reason, text in piece.junk if line >= state.first_line]
    faults += junk[: state.room("faults", len(junk))]
    value = np.full((len(mapping.columns), len(at)), np.nan)
    for k, column in enumerate(mapping.columns):
        cells = table[:, column.at]
        if len(at) < len(cells):
            cells = cells.gather(at)
        read = values_of(cells, column.quantity, column.unit, mapping.decimal, mapping.thousands)
        value[k] = read.value
        counts["missing"] += int(read.missing.sum())
        for where, reason in ((read.odd, "is no number"), (read.far, "cannot be: outside the plausible range")):
            wrong = np.flatnonzero(where)
            counts["faults"] += len(wrong)
            shown = wrong[: state.room("faults", len(wrong))]
            faults += [Fault(first + int(at[j]), column.channel, reason, str(cells[int(j)])[:200]) for j in shown]
    faults.sort(key=lambda f: f.line)
    if faults and state.first_fault is None:
        state.first_fault = faults[0]
    line = first + at
    wrong = np.flatnonzero(shifted)
    listed = [int(line[j]) for j in wrong[: state.room("shifted", len(wrong))]]
    rows = int(filled.sum()) + len(junk) - counts["ignored"]
    jumps = _jumps(time, line, state, counts)
    return Part(line, time, value, rows, faults, jumps, listed, counts, piece.done, piece.size)


def _any_filled(mapping: Mapping) -> Any:
    import polars as pl

    # empty cells are null, blanks are not: a row of blanks and separators is an empty row
    return pl.any_horizontal((pl.col(str(k)).str.strip_chars() != "").fill_null(False) for k in range(mapping.width))


def _time_texts(table: Any, mapping: Mapping) -> Any:
    import polars as pl

    parts = [pl.col(str(k)).str.strip_chars() for k in mapping.time_at]
    whole = parts[0] if len(parts) == 1 else pl.concat_str(parts, separator=" ")
    return table.select(whole.alias("time")).to_series()


def _to_utc(
    local: NDArray[np.int64], offset: NDArray[np.int64], told: NDArray[np.bool_], state: _State
) -> tuple[NDArray[np.int64], NDArray[np.bool_], NDArray[np.bool_]]:
    if state.clock is None:
        steps = np.diff(local[:100_000])
        steps = steps[steps != 0]
        middle = int(np.median(steps)) if len(steps) else 0
        state.clock = Clock("" if state.mapping.zone == "told" else state.mapping.zone, middle < 0, abs(middle))
    none = np.zeros(len(local), np.bool_)
    if told.all():
        return local - offset, none, none.copy()
    utc, shifted, twice = state.clock.to_utc(local)
    return np.where(told, local - offset, utc), shifted & ~told, twice & ~told


def _jumps(time: NDArray[np.int64], line: NDArray[np.int64], state: _State, counts: dict[str, int]) -> list[Jump]:
    if not len(time):
        counts["jumps"] = 0
        return []
    assert state.clock is not None  # set with the first instant
    step = np.diff(time, prepend=time[0] if state.last is None else state.last)
    wrong = np.flatnonzero(step > 0 if state.clock.newest_first else step < 0)
    state.last = int(time[-1])
    counts["jumps"] = len(wrong)
    return [Jump(int(line[j]), float(step[j]) / 1000) for j in wrong[: state.room("jumps", len(wrong))]]


def _ignored(texts: Any, table: Any, bad: NDArray[np.int64], mapping: Mapping) -> NDArray[np.bool_]:
    """Which of the rows without a time are remarks, rules, or the header once more (two files in one)."""
    import polars as pl

    first = table[:, 0].gather(bad).str.strip_chars().fill_null("")
    out = first.str.starts_with("#") | first.str.contains(r"^[-=_*+~ ]+$")
    if mapping.header:
        names = [mapping.header[k] if k < len(mapping.header) else "" for k in mapping.time_at]
        again = (texts.gather(bad) == " ".join(names).strip()).fill_null(False)
        out = pl.select(out | again).to_series()
    return np.asarray(out.to_numpy(), dtype=np.bool_)


def _list_rows(
    bad: NDArray[np.int64],
    piece: Piece,
    skip: int,
    first: int,
    texts: Any,
    dated: NDArray[np.bool_],
    cut: str,
    length: int,
    state: _State,
    faults: list[Fault],
) -> None:
    shown = bad[: state.room("faults", len(bad))]
    if not len(shown):
        return
    lines = piece.data.split(b"\n")
    for j in shown.tolist():
        text = lines[skip + j].decode("utf-8", "replace").strip()[:200]
        found = texts[j]
        if cut and j == length - 1:
            reason = cut
        elif dated[j]:
            reason = "does not tell its offset from UTC, as the other times do"
        else:
            reason = f"no date and time: {str(found)[:40]!r}" if found else "no date and time"
        faults.append(Fault(first + j, "", reason, text))


def _cut_off(piece: Piece, mapping: Mapping) -> str:
    """Why the last line, which has no line end, is not whole; "" when it looks whole."""
    tail = (piece.before + piece.data)[-40_000:].decode("utf-8", "replace").rstrip("\n").split("\n")
    last = cells_of(tail[-1], mapping.separator)
    before = [cells_of(line, mapping.separator) for line in tail[-21:-1] if line.strip()][-10:]
    before = [cells for cells in before if len(cells) == max(len(b) for b in before)]
    if not before:
        return ""
    if len(last) < min(len(cells) for cells in before):
        return "the file breaks off in this line"

    def decimals(cell: str) -> int:
        return len(cell.rpartition(mapping.decimal)[2]) if mapping.decimal in cell else 0

    # A value that lost its last figures looks like a value.
    if len(before) > 2 and decimals(last[-1]) < min(decimals(cells[-1]) for cells in before):
        return "the file seems to break off in this line: its last value has fewer figures than those before"
    return ""


def read_readings(path: str | Path, mapping: Mapping, progress: Callable[[int, int], None] | None = None) -> Readings:
    """All readings of a file, sorted by time, each instant of a channel once.

    Parameters
    ----------
    path, mapping, progress
        As `read_in_pieces`.

    Returns
    -------
    Readings
        Of several rows of one instant the last is kept; equal ones are counted as merged, others as conflicts.

    Raises
    ------
    InputError
        When the file cannot be read, lacks a column of the mapping, or has no reading at all.
    """
    parts: list[Part] = []
    counts: dict[str, int] = {}
    kept = 0
    for part in read_in_pieces(path, mapping, progress):
        parts.append(part)
        kept += int((~np.isnan(part.value)).any(axis=0).sum())
        for key, count in part.counts.items():
            counts[key] = counts.get(key, 0) + count
    rows = sum(part.rows for part in parts)
    faults = [fault for part in parts for fault in part.faults]
    if not kept:
        fault = faults[0] if faults else None
        raise InputError(
            "has no reading that can be used", file=str(path), line=fault.line if fault else 0,
            found=f"{rows} rows" + (f"; the first fault: {fault.reason}" if fault else ""),
            allowed="rows with a date and time and a number",
        )  # fmt: skip
    time = np.concatenate([part.time for part in parts])
    channels: list[Channel] = []
    conflicts: list[Conflict] = []
    counts |= {"merged": 0, "conflicts": 0}
    for k, column in enumerate(mapping.columns):
        value = np.concatenate([part.value[k] for part in parts])
        at, one, merged, differ, listed = settled(column.channel, time, value)
        channels.append(Channel(column.channel, column.quantity, column.canonical, at, one))
        conflicts += listed
        counts["merged"] += merged
        counts["conflicts"] += differ
    return Readings(
        tuple(channels),
        rows,
        kept,
        tuple(faults),
        tuple(conflicts[:LISTED]),
        tuple(j for part in parts for j in part.jumps),
        tuple(s for part in parts for s in part.shifted),
        counts,
        _remarks(mapping, counts),
    )


def _remarks(mapping: Mapping, counts: dict[str, int]) -> tuple[str, ...]:
    told: list[str] = []
    if mapping.zone == "" and mapping.form in ("date", "serial"):
        told.append("the time zone of the clock is not known: its times were taken as UTC")
    if counts["shifted"]:
        told.append(
            f"{counts['shifted']} times stand in an hour that the zone skips in spring and were shifted by it; "
            "if the clock does not follow summer time, give its zone as UTC+01:00 or the like"
        )
    if counts["twice"]:
        told.append(f"{counts['twice']} times stand in an hour that comes twice in autumn; told apart by their order")
    if counts["jumps"]:
        told.append(f"the clock runs back in {counts['jumps']} places")
    if counts["conflicts"]:
        told.append(f"{counts['conflicts']} values differ from a later one of the same instant, which was kept")
    if counts["broken"]:
        told.append("the packed file breaks off; what could be unpacked was read")
    if counts["ignored"]:
        told.append(f"{counts['ignored']} lines of remarks or repeated headers were passed over")
    return tuple(told)
