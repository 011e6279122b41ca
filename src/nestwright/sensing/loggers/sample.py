"""A sample of a logger's file: its first lines, and some from its middle and its end."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from nestwright.errors import InputError
from nestwright.sensing.loggers.layout import Layout, layout_of
from nestwright.sensing.loggers.stream import LONGEST, encoding_of, head_of, open_bytes
from nestwright.sensing.loggers.table import cells_of

__all__ = ["Sample", "decoded", "sample_of"]

_LINES = 3000
_ROWS = 500


@dataclass(frozen=True)
class Sample:
    """Encoding with reason and confidence, lines of the top, their layout, and rows of cells from all the file."""

    encoding: tuple[str, str, str]
    lines: tuple[str, ...]
    layout: Layout
    rows: tuple[tuple[str, ...], ...]

    def column(self, at: int) -> list[str]:
        """Cells of one column, with empty ones left out."""
        return [row[at] for row in self.rows if at < len(row) and row[at]]


def decoded(head: bytes, encoding: str) -> list[str]:
    """Lines of the first bytes of a file; whatever cannot be decoded becomes a replacement mark."""
    text = head.decode(encoding, "replace").removeprefix("\ufeff")
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", " " if "\n" in text else "\n")
    return [line[:LONGEST] for line in text.split("\n")[:_LINES]]


def sample_of(path: str | Path) -> Sample:
    """Raises InputError when the file cannot be read or no line of its top looks like a reading."""
    head = head_of(path)
    encoding = encoding_of(head)
    lines = decoded(head, encoding[0])
    layout = layout_of(lines[:300]) or layout_of(lines)
    if layout is None:
        shown = next((line.strip() for line in lines if line.strip()), "")
        shown = "".join(c if c.isprintable() else "?" for c in shown)
        raise InputError(
            "no line looks like a reading", file=str(path), found=repr(shown[:60]),
            allowed="lines with a date and time and one or more numbers, below a header",
        )  # fmt: skip
    width = len(layout.rows[0])
    rows = list(layout.rows[:_ROWS])
    for line in _further(path, encoding[0]):
        cells = tuple(cells_of(line, layout.separator))
        if len(cells) == width:
            rows.append(cells)
    return Sample(encoding, tuple(lines), layout, tuple(rows))


def _further(path: str | Path, encoding: str, places: int = 4, size: int = 1 << 14) -> list[str]:
    if encoding.startswith("utf-16"):
        return []
    source, raw, whole = open_bytes(path)
    with raw:
        if source is not raw or whole < 1 << 18:
            return []
        lines: list[str] = []
        for k in range(1, places + 1):
            raw.seek(whole * k // places - size)
            lines += raw.read(size).decode(encoding, "replace").splitlines()[1:-1]
        return lines
