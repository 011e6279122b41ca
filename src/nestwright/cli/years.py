"""`nestwright years`: many habitats in many rooms, each over the room's whole record."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.progress import progress_bar
from nestwright.cli.where import OnCluster, place_of

if TYPE_CHECKING:
    from nestwright.climate.years import YearRow, Years


def years(
    files: Annotated[list[Path], typer.Argument(help="Habitat files.", show_default=False)],
    room: Annotated[
        list[str], typer.Option("--room", help="A room, as for climate; may be given again.", show_default=False)
    ],
    cluster: OnCluster = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Prove every habitat over the record of every room: does it hold, what goes first, by how much.

    One row a habitat and room, as `climate --year` tells it at more length. Works on all cores of this computer, or
    with --cluster on another's: the result is the same. Ctrl-C ends it with the rows that are done.
    """
    from nestwright.climate.rooms import read_room
    from nestwright.climate.years import prove_years
    from nestwright.habitat.file import read_habitat
    from nestwright.pieces import working_at

    place = place_of(cluster)
    habitats, rooms = [read_habitat(file) for file in files], [read_room(text) for text in room]
    with working_at(place), progress_bar(json) as bar:
        task = bar.add_task("running the years", total=1.0)
        result = prove_years(habitats, rooms, lambda share: bar.update(task, completed=share))
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    print_years(result)


def years_row(row: YearRow) -> list[str]:
    """One habitat and room as cells."""
    from nestwright.cli.output import figure, share_text, significant
    from nestwright.wording.proof import REFILL_YEARS, refill_days

    if row.trouble:
        return [row.habitat, row.room, "unknown", row.trouble, "", "", "", ""]
    verdict = ("holds" if row.holds else "does not hold") + ("" if row.sure else ", not surely")
    between = f"{figure(row.margin, 1, sign=True)} ({figure(row.margin_low, 1, sign=True)} to " + (
        f"{figure(row.margin_high, 1, sign=True)})"
    )
    water = None if row.water_rate is None else row.water_rate * 86400e3
    refill = refill_days(row.refill_time)
    lasts = f"over {REFILL_YEARS} years" if refill == math.inf else significant(refill, none="never")
    return [
        row.habitat, row.room, verdict, row.first_limit, between,
        "" if row.held_share is None else share_text(row.held_share * 100), significant(water),
        lasts,
    ]  # fmt: skip


HEAD = ["habitat", "room", "verdict", "first limit to go", "margin", "hours held", "water g/day", "refill days"]


def print_years(result: Years) -> None:
    """Print a row for every habitat and room, and what the verdicts rest on."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain, table

    out = console()
    out.print(table(HEAD, [years_row(row) for row in result.rows], left=(0, 1, 2, 3)))
    if result.left_out:
        out.print(f"Stopped: {result.left_out} of {len(result.rows) + result.left_out} were not done.")
    told = "Margin: at the worst hour, in tolerances of the limit; in brackets what the uncertain inputs leave of it."
    out.print(f"[dim]{told}[/dim]")
    if result.judgements:
        out.print(f"Rests on judgement: {plain(', '.join(result.judgements))}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])
