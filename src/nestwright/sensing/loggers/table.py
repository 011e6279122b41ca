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
_QUOTED = re.compile(r'"[^"]*"')


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
        run = re.compile(_RUN[separator].pattern.encode())
        data = run.sub(_UNIT.encode(), re.sub(rb"(?m)^[ \t]+|[ \t]+$", b"", data)).replace(b'"', b"")
        mark = _UNIT
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


def _unquoted(data: bytes, mark: str, separator: str) -> tuple[bytes, str]:
    # Where no quote hides a separator the quotes can simply go; otherwise every line is taken apart.
    if mark.encode() not in b"".join(re.findall(rb'"[^"\n]*"', data)):
        return data.replace(b'"', b""), mark
    lines = data.decode("utf-8", "replace").split("\n")
    taken = [
        _UNIT.join(cells_of(line, separator)).replace("\n", " ") if '"' in line else line.replace(mark, _UNIT)
        for line in lines
    ]
    return "\n".join(taken).encode(), _UNIT
