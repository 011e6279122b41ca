"""`nestwright workshop`: the folder with the record, its history, and taking back."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, group, moment, workshop_of

if TYPE_CHECKING:
    from nestwright.workshop.changes import Step

__all__ = ["commands"]

commands = group("Make a workshop, show it, its history, and take back what was just recorded.")


@commands.command()
def new(
    folder: Annotated[Path, typer.Argument(help="The folder to make, or one with files of yours.", show_default=False)],
    zone: Annotated[
        str, typer.Option("--zone", help="Time zone of its days, as Europe/Lisbon; default: this computer's.")
    ] = "",
    json: AsJson = False,
) -> None:
    """Make a workshop: folders for habitats, rooms, colonies, photos, papers and parts, and an empty record."""
    from nestwright.cli.output import print_json
    from nestwright.workshop.folder import create_workshop

    made = create_workshop(folder, zone or _zone_here())
    if json:
        print_json({"folder": str(folder), "zone": made.zone.key})
        return
    print(f"A workshop in {folder}, days and times in {made.zone.key}.")
    print(
        "Next: put designs into habitats/, add a colony (`nestwright colony add`), record a visit (`nestwright visit`)."
    )


@commands.command()
def show(folder: InWorkshop = None, json: AsJson = False) -> None:
    """What the record holds: how many of each."""
    from sqlalchemy import func, select

    from nestwright.cli.output import console, print_json, table
    from nestwright.workshop.database import reading
    from nestwright.workshop.tables import RECORD, SERIES

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        held = {
            t.name: int(connection.execute(select(func.count()).select_from(t)).scalar() or 0)
            for t in (*RECORD, *SERIES)
            if t.name not in ("workshop", "rollup")
        }
    if json:
        print_json({"folder": str(workshop.folder), "zone": workshop.zone.key, "rows": held})
        return
    out = console()
    out.print(f"Workshop {workshop.folder}, days and times in {workshop.zone.key}", soft_wrap=True)
    out.print(
        table(["what", "rows"], [[k, f"{n:,}"] for k, n in sorted(held.items()) if n])
        if any(held.values())
        else "Empty."
    )


@commands.command()
def history(
    most: Annotated[int, typer.Option("--last", min=1, max=100_000, help="How many acts.")] = 20,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """What was recorded last, the newest first, each with the number by which it can be taken back."""
    from nestwright.cli.output import console, print_json, table
    from nestwright.wording.visits import visit_line
    from nestwright.workshop.changes import steps
    from nestwright.workshop.database import reading
    from nestwright.workshop.told_steps import visits_told

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = steps(connection, most)
        told = {step: visit_line(entry) for step, entry in visits_told(connection, found).items()}
    if json:
        print_json({"steps": [s.to_dict() | {"told": told.get(s.step, "")} for s in found]})
        return
    if not found:
        print("Nothing was recorded yet.")
        return
    said = {s.step: f"{s.act}: {told[s.step]}" if s.step in told else s.act for s in found}
    rows = [[str(s.step), moment(s.at, workshop), said[s.step], _undone(s)] for s in found]
    console().print(table(["step", "when", "what", ""], rows, left=(1, 2, 3)))


@commands.command()
def undo(
    step: Annotated[
        int | None, typer.Argument(help="Number of the act in the history; default: the last.", show_default=False)
    ] = None,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """Take back what was recorded last, or one act of the history. The taking back can itself be taken back."""
    from nestwright.cli.output import print_json
    from nestwright.errors import InputError
    from nestwright.workshop.changes import last_step
    from nestwright.workshop.changes import undo as take_back
    from nestwright.workshop.database import writing

    workshop = workshop_of(folder)
    with writing(workshop.engine) as connection:
        if step is None:
            last = last_step(connection)
            if last is None:
                raise InputError("there is nothing to take back", file=str(workshop.folder))
            step = last.step
        what = take_back(connection, step)
    if json:
        print_json({"step": step, "act": what})
        return
    print(f"Taken back: {what} (step {step})")


def _zone_here() -> str:
    """The computer's own time zone by name; UTC where it does not tell."""
    import os

    named = os.environ.get("TZ", "").removeprefix(":")
    link = Path("/etc/localtime")
    if not named and link.is_symlink():
        named = str(link.resolve()).partition("zoneinfo/")[2]
    if not named and Path("/etc/timezone").is_file():
        named = Path("/etc/timezone").read_text().strip()
    from nestwright.errors import InputError
    from nestwright.workshop.folder import zone_of

    try:
        return zone_of(named).key
    except InputError:
        return "UTC"


def _undone(step: Step) -> str:
    if step.undone_by == step.step:
        return "cannot be taken back"
    return f"taken back by {step.undone_by}" if step.undone_by else ""
