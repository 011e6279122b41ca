"""Lines into cells: a few of them as lists, many of them as a table of texts."""

from __future__ import annotations

import csv
import io
import re
from typing import Any

__all__ = ["SEPARATORS", "cells_of", "table_of"]

SEPARATORS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|", "spaces": "  ", "space": " "}
"""Names of separators. "spaces" is two or more in a row, "space" one or more (a tab counts as one)."""
_UNIT = "\x1f"
_RUN = {"spaces": re.compile(r"[ \t]{2,}"), "space": re.compile(r"[ \t]+")}


def cells_of(line: str, separator: str) -> list[str]:
    """Cells of one line, without quote marks and blanks around them. `separator` is a name of SEPARATORS."""
    if separator in _RUN:
        return [c.strip('"').strip() for c in _RUN[separator].split(line.strip())]
    mark = SEPARATORS[separator]
    if '"' not in line:
        return [c.strip() for c in line.split(mark)]
    try:
        return [c.strip().strip('"').strip() for c in next(csv.reader(io.StringIO(line), delimiter=mark), [])]
    except csv.Error:
        return [c.strip().strip('"').strip() for c in line.split(mark)]


def table_of(data: bytes, separator: str, width: int) -> Any:
    """Lines of UTF-8, each ended by a newline, as a polars frame of `width` columns of text "0", "1", ...

    One row a line, blank lines too, so that row n is line n of the piece. Missing cells are null, cells beyond
    `width` are left out.
    """
    import polars as pl

    mark = SEPARATORS[separator]
    if separator in _RUN:
        data, mark = _runs(data.replace(b'"', b""), separator), _UNIT
    elif b'"' in data:
        data, mark = _unquoted(data, mark, separator)
    guard = mark.join(["0"] * max(width, 1)).encode() + b"\n"  # leading blank lines would be skipped without it
    frame = pl.read_csv(
        guard + data,
        has_header=False,
        separator=mark,
        quote_char=None,
        encoding="utf8-lossy",
        infer_schema=False,
        truncate_ragged_lines=True,
        new_columns=[str(k) for k in range(max(width, 1))],
    )
    return frame[1:]


def _runs(data: bytes, separator: str) -> bytes:
    """Runs of blanks as one mark, none at the ends of lines."""
    one = b"  " if separator == "spaces" else b" "
    data = b"\n" + data.replace(b"\t", one)
    while one + b" " in data:
        data = data.replace(one + b" ", one)
    for end in (b"\n" + one, one + b"\n"):
        while end in data:
            data = data.replace(end, b"\n")
    return data[1:].replace(one, _UNIT.encode())


def _unquoted(data: bytes, mark: str, separator: str) -> tuple[bytes, str]:
    # Where every cell of every line is quoted the quotes tell the cells.
    between, lines = f'"{mark}"'.encode(), data.count(b"\n")
    closed = data.count(b'"\n') == (b"\n" + data).count(b'\n"') == lines
    # (a cell that is a separator and nothing else would be taken for the gap between two)
    if closed and data.count(b'"') == 2 * (data.count(between) + lines) and between + between[1:] not in data:
        return data.replace(between, _UNIT.encode()).replace(b'"', b""), _UNIT
    # Where no quote hides a separator the quotes can simply go.
    if not _hidden(data, mark):
        return data.replace(b'"', b""), mark
    if mark == ",":  # what they hide is mostly decimal commas
        held = re.sub(rb'(?<=\d),(?=\d+")', b"\x1e", data)
        if not _hidden(held, mark):
            held = held.replace(b'"', b"").replace(b",", _UNIT.encode())
            return held.replace(b"\x1e", b","), _UNIT
    # Every line is taken apart.
    taken = [
        _UNIT.join(cells_of(line, separator)).replace("\n", " ") if '"' in line else line.replace(mark, _UNIT)
        for line in data.decode("utf-8", "replace").split("\n")
    ]
    return "\n".join(taken).encode(), _UNIT


def _hidden(data: bytes, mark: str) -> bool:
    return mark.encode() in b"".join(re.findall(rb'"[^"\n]*"', data))
