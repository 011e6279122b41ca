"""What the commands of the record share: the workshop that is meant, one act in one transaction, days and places."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.once import Commands
from nestwright.workshop.typed import checked, day_of, line_of_text, lines_of_text, moment

if TYPE_CHECKING:
    from nestwright.workshop.changes import Act
    from nestwright.workshop.folder import Workshop

__all__ = [
    "AsJson",
    "InWorkshop",
    "Note",
    "OnDay",
    "acting",
    "checked",
    "day_of",
    "group",
    "line_of_text",
    "lines_of_text",
    "moment",
    "option_place",
    "tell",
    "workshop_of",
]

InWorkshop = Annotated[
    Path | None,
    typer.Option("--workshop", help="The workshop's folder; else the one that you stand in.", show_default=False),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]

OnDay = Annotated[str | None, typer.Option("--date", help="Day, as 2026-01-31; default: today.", show_default=False)]
Note = Annotated[str, typer.Option("--note", help="Anything worth telling.", show_default=False)]


def group(says: str) -> typer.Typer:
    """A group of commands with one look."""
    return Commands(no_args_is_help=True, help=says)


def workshop_of(folder: Path | None) -> Workshop:
    """The workshop that is meant. Raises InputError when there is none."""
    from nestwright.workshop.folder import find_workshop

    return find_workshop(folder)


@contextmanager
def acting(workshop: Workshop, words: str) -> Iterator[Act]:
    """One act of the user: written whole, with its history, or not at all."""
    from nestwright.workshop.changes import act
    from nestwright.workshop.database import writing

    with writing(workshop.engine) as connection:
        yield act(connection, words)


def option_place(path: str = "") -> Callable[[str], dict[str, Any]]:
    """Where a fault lies: in an option of the command line."""
    return lambda name: {"file": path, "line": 0, "field": f"--{name.replace('_', '-')}" if name else ""}


def tell(json: bool, result: dict[str, Any], words: str) -> None:
    """Print a result in words, or as JSON."""
    from nestwright.cli.output import print_json

    if json:
        print_json(result)
    else:
        print(words)
