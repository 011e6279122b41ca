"""A table that fits the terminal: words wrap, figures are never broken; columns that have no room are stacked."""

from __future__ import annotations

from typing import Any

from rich.cells import cell_len
from rich.padding import Padding
from rich.table import Column, Table
from rich.text import Text

__all__ = ["FittedTable"]

_BETWEEN = 2
_WORD = 16
"""Cells that a word of a column of text keeps at least; a longer one, such as a path, may go over two lines."""


class FittedTable(Table):
    def __rich_console__(self, console: Any, options: Any) -> Any:
        room = options.max_width - _BETWEEN * (len(self.columns) - 1)
        widths = [max(map(cell_len, lines)) for lines in map(_lines, self.columns)]
        if sum(widths) > room:
            for longest in (options.max_width, _WORD):
                least = [_least(column, longest) for column in self.columns]
                if sum(least) <= room:
                    break
            else:
                yield from self._stacked()
                return
            while sum(widths) > room:
                widest = max(range(len(widths)), key=lambda i: (widths[i] > least[i], widths[i]))
                widths[widest] -= 1
            for column, width in zip(self.columns, widths, strict=True):
                column.width = width
        yield from super().__rich_console__(console, options)

    def _stacked(self) -> Any:
        """Each row as its first cell, and below it every other with the name of its column."""
        names = [_plain(column.header) for column in self.columns]
        for row in zip(*(map(_plain, column.cells) for column in self.columns), strict=True):
            yield Text(row[0])
            for name, cell in zip(names[1:], row[1:], strict=True):
                if cell:
                    yield Padding(Text(f"{name}: {cell}" if name else cell), (0, 0, 0, _BETWEEN))


def _plain(cell: Any) -> str:
    return cell.plain if isinstance(cell, Text) else Text.from_markup(str(cell)).plain


def _lines(column: Column) -> list[str]:
    return [line for cell in (column.header, *column.cells) for line in _plain(cell).split("\n")]


def _least(column: Column, longest: int) -> int:
    """The width at which no line of a column breaks but between words; those of text longer than `longest` may."""
    if column.no_wrap:
        return max(map(cell_len, _lines(column)))
    words = [cell_len(word) for line in _lines(column) for word in line.split()]
    return min(max(words, default=0), longest if column.justify == "left" else max(words, default=0))
