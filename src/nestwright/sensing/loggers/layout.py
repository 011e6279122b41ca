"""Separator, header and body of a logger's file, from its first lines."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from nestwright.sensing.loggers.cells import number_of
from nestwright.sensing.loggers.dates import kind_of
from nestwright.sensing.loggers.table import SEPARATORS, cells_of
from nestwright.sensing.loggers.words import Words, words

__all__ = ["Layout", "layout_of", "looks_numeric"]


@dataclass(frozen=True)
class Layout:
    """Name of the separator; index (from 0) of the header line, -1 for none, and of the first line of readings;
    header cells; a row of units below it; rows of cells; share of the lines that look like readings."""

    separator: str
    header_at: int
    first_at: int
    header: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    share: float
    known: int


def looks_numeric(cell: str) -> bool:
    """Whether a cell holds a number in any of the usual forms, perhaps with a unit."""
    return number_of(cell, ".", ",") is not None or number_of(cell, ",", ".") is not None


def _timely(cell: str, at: int) -> bool:
    kind = kind_of(cell)
    return bool(kind) and (kind != "serial" or at == 0)


def _is_row(cells: Sequence[str]) -> bool:
    times = [k for k, cell in enumerate(cells) if _timely(cell, k)]
    if not times:
        return False
    return any(looks_numeric(cell) for k, cell in enumerate(cells) if k not in times)


def layout_of(lines: Sequence[str]) -> Layout | None:
    """Layout of the first lines of a file; None when no line looks like a reading."""
    best: tuple[tuple[int, int, int, int], Layout] | None = None
    for rank, separator in enumerate(SEPARATORS):
        if not any(SEPARATORS[separator] in line for line in lines):
            continue
        split = [cells_of(line, separator) for line in lines]
        rows = [k for k, cells in enumerate(split) if _is_row(cells)]
        if not rows:
            continue
        width = Counter(len(split[k]) for k in rows).most_common(1)[0][0]
        rows = [k for k in rows if len(split[k]) == width]
        numbers = sum(looks_numeric(c) or not c for k in rows[:50] for c in split[k])
        strange = sum(
            bool(c) and not looks_numeric(c) and not kind_of(c) for k in rows[:50] for c in split[k]
        )  # halves of cells, where this is not the separator
        score = (len(rows), -strange, numbers if separator not in ("space", "spaces") else 0, -rank)
        if best is not None and score <= best[0]:
            continue
        filled = sum(bool(line.strip()) for line in lines[rows[0] :]) or 1
        header_at, header, units, known = _header(lines, split, rows, separator)
        layout = Layout(
            separator,
            header_at,
            rows[0],
            header,
            units,
            tuple(tuple(split[k]) for k in rows),
            len(rows) / filled,
            known,
        )
        best = (score, layout)
    return best[1] if best else None


def _header(
    lines: Sequence[str], split: Sequence[list[str]], at_rows: Sequence[int], separator: str
) -> tuple[int, tuple[str, ...], tuple[str, ...], int]:
    table = words()
    first, rows = at_rows[0], [split[k] for k in at_rows[:50]]
    width = len(rows[0])
    best: tuple[int, int, tuple[str, ...]] = (0, -1, ())
    for at in range(first - 1, max(-1, first - 12), -1):
        cells = _fitted(lines[at], split[at], rows, separator)
        if cells is None:
            continue
        known = sum(bool(table.quantity_of(c)) for c in cells)
        if known > best[0]:
            best = (known, at, cells)
    if best[1] < 0:  # words of no known language: the line right above, if it has as many cells
        at = next((k for k in range(first - 1, max(-1, first - 4), -1) if lines[k].strip()), -1)
        cells = _fitted(lines[at], split[at], rows, separator) if at >= 0 else None
        if cells is None or sum(bool(c) for c in cells) < 2:
            return -1, (), (), 0
        best = (0, at, cells)
    known, at, cells = best
    units: tuple[str, ...] = ()
    for below in range(at + 1, first):
        row = split[below]
        if abs(len(row) - width) <= 1 and any(_is_unit(c, table) for c in row):
            units = tuple((row + [""] * width)[:width])
    return at, cells, units, known


def _fitted(line: str, cells: list[str], rows: Sequence[list[str]], separator: str) -> tuple[str, ...] | None:
    """Header cells on the columns of the rows; None when this line cannot head them."""
    width = len(rows[0])
    if line.lstrip().startswith("#") and len(cells) > 1:
        cells = [cells[0].lstrip("# "), *cells[1:]]
    if separator == "space" and len(cells) != width:
        wide = cells_of(line, "spaces")
        # "Date Time" over a date and a clock that one blank divides
        if len(wide) == width - 1:
            wide = [wide[0], "", *wide[1:]]
        cells = wide
    while len(cells) > width and not cells[-1]:
        cells = cells[:-1]
    if not -2 <= len(cells) - width <= 1 or len(cells) < 2:
        return None
    if any(cell for row in rows[:50] for cell in row[len(cells) :]):
        return None  # values under no name: there is no telling which name belongs to which
    filled = [c for c in cells if c]
    if not filled or sum(looks_numeric(c) or bool(kind_of(c)) for c in filled) * 2 > len(filled):
        return None
    return tuple((cells + [""] * width)[: max(width, len(cells))])


def _is_unit(cell: str, table: Words) -> bool:
    text = re.sub(r"[\[\]()]", "", cell).strip().lower()
    return bool(text) and any(text in unit.spellings or text in unit.alone for unit in table.units.values())
