"""`nestwright size`: free sizes that give the largest worst margin."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer


def size(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    free: Annotated[
        list[str],
        typer.Option(
            "--free", help='A free value and its bounds, "vent.crown.count=4..40"; up to four.', show_default=False
        ),
    ],
    room: Annotated[
        list[str],
        typer.Option("--room", help="A room in which the habitat must hold; may be given again.", show_default=False),
    ],
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Find the free sizes, one to four, that give the largest worst margin in the rooms named.

    Says when no choice within the bounds holds every limit, which limit forbids it, and between which two
    limits the sizes trade.
    """
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn

    from nestwright.climate.rooms import read_room
    from nestwright.climate.size import parse_free
    from nestwright.climate.size import size as solve

    values = [parse_free(text) for text in free]
    rooms = [read_room(text) for text in room]
    shown = Progress(
        SpinnerColumn("line"),
        TextColumn("{task.description}"),
        console=Console(stderr=True),
        transient=True,
        disable=json,
    )
    with shown:
        task = shown.add_task("searching", total=None)
        result = solve(file, values, rooms, progress=lambda *told: shown.update(task, description=_told(told)))
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
    else:
        print_size(result)


def _told(told: tuple[Any, ...]) -> str:
    return "searching: " + " ".join(f"{item:.3g}" if isinstance(item, float) else str(item) for item in told)


def print_size(result: Any) -> None:
    """Print the sizes found."""
    from nestwright.cli.output import print_json

    print_json(result)
