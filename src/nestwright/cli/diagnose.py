"""`nestwright diagnose`: is something wrong with a colony, since when, and what is the likeliest cause?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.fitting import CLIMATE_HELP
from nestwright.cli.options import ColonyFile, whole
from nestwright.cli.record import InWorkshop
from nestwright.wording.diagnosis import FIRST, RESCUE, next_steps, since_text, size_text, weight_text

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.model import Colony
    from nestwright.colony.results import Diagnosis


FURTHER = {"nothing": "nothing further wrong"}
"""What a cause is called beside a loss that the record tells."""


def diagnose(
    file: ColonyFile,
    climate: Annotated[Path | None, typer.Option("--climate", help=CLIMATE_HELP, show_default=False)] = None,
    history: Annotated[
        int,
        typer.Option(
            "--history",
            parser=whole("--history", 0, 60),
            metavar="DAYS",
            help="Days of the record on which to weigh the causes, too, 0 to 60.",
        ),
    ] = 0,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Draw the weights as the record grew, as .svg or .png.", show_default=False),
    ] = None,
    workshop: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Weigh what may be wrong with a colony by how well each cause explains its record.

    Prints the causes, the likeliest first, since when, what cannot be told yet, and the one observation that would
    tell the two likeliest apart.
    """
    from nestwright.cli.fitting import progress_bar
    from nestwright.cli.pictures import check_picture_name, write_picture
    from nestwright.errands.fitting import colony_and_climate, workshop_read

    if picture is not None:
        check_picture_name(picture)
        history = history or 8
    colony, _, _ = colony_and_climate(file, climate, 1, workshop=workshop)
    from nestwright.colony.diagnosis import diagnose as weigh
    from nestwright.colony.diagnosis import nothing_to_weigh
    from nestwright.colony.losses import garden_gone, known_losses

    losses = known_losses(colony)
    if nothing_to_weigh(colony) and not json and picture is None:
        print_nothing(colony, losses, gone=garden_gone(colony))
        return
    with progress_bar(json) as bar:
        task = bar.add_task("weighing the causes", total=1.0)
        result = weigh(colony, history=history, progress=lambda share: bar.update(task, completed=float(share)))
    written = []
    if picture is not None:
        from nestwright.charts.evidence import evidence_chart

        written.append(write_picture(evidence_chart(result), picture))
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    from nestwright.cli.climate import say_written

    print_diagnosis(result, losses, gone=garden_gone(colony), today=workshop_read(file, workshop)[1])
    say_written(written)


def print_nothing(colony: Colony, losses: Sequence[str] = (), *, gone: bool = False) -> None:
    """Print that a record holds nothing to weigh, and what to write into it first."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain

    out = console()
    out.print(f"[bold]{plain(colony.name)}[/bold], {plain(colony.species)}")
    for line in losses:
        out.print(plain(line))
    out.print("No observation in the record: there is nothing to weigh")
    out.print(heading("What to do next"))
    out.print(RESCUE if gone else FIRST)
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


def print_diagnosis(
    result: Diagnosis, losses: Sequence[str] = (), *, gone: bool = False, today: date | None = None
) -> None:
    """Print a diagnosis: what is lost by the record, verdict, causes with their weights, the next look, its grounds."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain, table
    from nestwright.wording.ranges import span_of_days
    from nestwright.wording.values import in_words

    out = console()
    if losses:
        # beside what the record tells nothing further need be wrong; that nothing is would be false
        result = replace(result, causes=tuple(replace(c, says=FURTHER.get(c.name, c.says)) for c in result.causes))
    out.print(f"[bold]{plain(result.colony)}[/bold], {plain(result.species)}")
    for line in losses[:-1]:
        out.print(plain(line))
    if losses:
        out.print(f"{plain(losses[-1])}; what follows are further causes")
    out.print(f"Record of {span_of_days(result.days)} from {result.start}")
    verdict = f"beside that: {result.verdict}" if losses else result.verdict
    out.print(heading(verdict[:1].upper() + verdict[1:]))
    rows = [
        [cause.says, weight_text(cause.weight), since_text(cause, result.start), size_text(cause), cause.note]
        for cause in result.causes
        if cause.weight >= 0.01
    ]
    out.print(table(["cause", "weight", "since (8 in 10)", "how much (8 in 10)", ""], rows, left=(0, 2, 3, 4)))
    rest = [cause.says for cause in result.causes if cause.weight < 0.01]
    if rest:
        out.print(f"Under 1 % each: {', '.join(rest)}")
    out.print("[dim]A weight is the cause's chance among those listed, after the record.[/dim]")
    out.print(heading("What to do next"))
    for line in [RESCUE] if gone else next_steps(result, today):
        out.print(line)
    out.print(heading("What this rests on"))
    values = ", ".join(map(in_words, result.judgements))
    out.print("Chances beforehand and usual sizes of a fault are judgement (data/diagnosis.toml).")
    if values:
        out.print(f"Values that the record told little about, and that are judgement: {values}")
    for note in result.notes:
        if note not in losses:
            out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print("One cause at a time is weighed; a diagnosis is no look at the colony. " + CAUTIONS["law"])
