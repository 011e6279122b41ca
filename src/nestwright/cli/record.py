"""What the commands of the record share: the workshop that is meant, one act in one transaction, days and places."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.errors import InputError

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
    return typer.Typer(add_completion=False, rich_markup_mode=None, no_args_is_help=True, help=says)


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


def checked(read: Callable[[Any], Any], value: Any, field: str) -> Any:
    """A value of an option read; None for none. Raises InputError with the option's name."""
    from nestwright.units import UnitProblem

    if value is None:
        return None
    try:
        return read(value)
    except UnitProblem as problem:
        raise InputError(
            problem.message, field=field, found=problem.found, allowed=problem.allowed, nearest=problem.nearest
        ) from None


def day_of(text: str | None, workshop: Workshop, field: str = "--date") -> date:
    """A day as 2026-01-31; today in the workshop's zone for none. Raises InputError, also for one that is to come."""
    from nestwright.colony.texts import parse_day

    today = datetime.now(workshop.zone).date()
    if text is None or text == "today":
        return today
    day: date = checked(parse_day, text, field)
    if day > today:
        raise InputError("is still to come", field=field, found=f"{day}", allowed=f"until today, {today}")
    return day


def line_of_text(text: str, field: str, *, needed: bool = True) -> str:
    """A text of one line without characters that cannot be seen, up to 200. Raises InputError."""
    from nestwright.letters import one_line
    from nestwright.units import shown

    plain = text.strip()
    if (needed and not plain) or len(plain) > 200:
        found = shown(text) if len(plain) <= 200 else f"{len(plain)} characters"
        raise InputError("is empty" if not plain else "is too long", field=field, found=found, allowed="1 to 200")
    return str(checked(one_line, plain, field))


def lines_of_text(text: str, field: str = "--note") -> str:
    """A note of up to 2000 characters, line breaks too. Raises InputError."""
    from nestwright.letters import several_lines

    if len(text) > 2000:
        raise InputError("is too long", field=field, found=f"{len(text)} characters", allowed="up to 2000")
    return str(checked(several_lines, text, field))


def moment(at: int | None, workshop: Workshop) -> str:
    """A moment, UTC ms, as it is shown: in the workshop's zone, to the minute."""
    if at is None:
        return ""
    return datetime.fromtimestamp(at / 1000, workshop.zone).strftime("%Y-%m-%d %H:%M")


def tell(json: bool, result: dict[str, Any], words: str) -> None:
    """Print a result in words, or as JSON."""
    from nestwright.cli.output import print_json

    if json:
        print_json(result)
    else:
        print(words)
