"""The proof of a build on the terminal: the room that is meant, and each limit as built."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.wording.as_built import built_rows

if TYPE_CHECKING:
    from nestwright.errands.as_built import Standing

__all__ = ["print_built", "room_of"]


def print_built(told: dict[str, Any]) -> None:
    """Print each limit's margin as designed and as built."""
    from nestwright.cli.output import console, heading, plain, table

    dry, out = told["dry_run"], console()
    if dry is None:
        return
    if dry["limits"]:
        out.print(heading(f"As built, by the dry run of {dry['date']}"))
        out.print(table(["limit", "margin designed", "margin as built, 80 %", "holds"], built_rows(told), left=(0, 3)))
        out.print("[dim]By the build's own factors alone; the interval above is what else is uncertain.[/dim]")
    for note in dry["notes"]:
        out.print(f"Note: {plain(note)}")


def room_of(room: str | None, build: Standing | None) -> str:
    """The room that is meant. Raises InputError where none is told or known."""
    if room is not None:
        return room
    if build is not None and build.room:
        return build.room
    allowed = '--room "21 degC, 45 %", a room file, a logger CSV or a weather file'
    if build is not None:
        allowed += "; or a room's file as the place where the build stands"
    raise InputError("is missing", field="--room", allowed=allowed)
