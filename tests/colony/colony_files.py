"""Colony files of the tests: a head, what is read from it with more below, and the first fault of such a file."""

import tomllib
from pathlib import Path

import pytest

from nestwright.colony.file import colony_from_dict, read_colony
from nestwright.colony.model import Colony
from nestwright.errors import InputError

HEAD = """\
format = 1
name = "Window sill"
species = "Acromyrmex echinatior"
start = 2025-11-03
"""


def colony(text: str, head: str = HEAD) -> Colony:
    """The colony of a file with this text below its head."""
    return colony_from_dict(tomllib.loads(head + text))


def written(folder: Path, text: str = "", head: str = HEAD, table: str | bytes = "") -> Path:
    """A colony file, with a table of visits beside it where one is given."""
    if table:
        (folder / "visits.csv").write_bytes(table.encode() if isinstance(table, str) else table)
    path = folder / "colony.toml"
    path.write_text(head + text, encoding="utf-8")
    return path


def fault(path: Path) -> InputError:
    """The first error of a colony file."""
    with pytest.raises(InputError) as caught:
        read_colony(path)
    return caught.value


def tells(error: InputError, file: Path, line: int, field: str, piece: str) -> None:
    """An error says this, at this place."""
    assert piece in str(error)
    assert (error.line, error.field) == (line, field)
    assert error.file == str(file)
