"""`nestwright diagnose`: is something wrong with a colony, since when, and what is the likeliest cause?"""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.results import Cause, Diagnosis

SIZES = {
    "share of her laying lost": ("% of her laying lost", 100.0),
    "share of the intake lost": ("% of the intake lost", 100.0),
    "share of the garden lost a day, for a week": ("% of the garden lost a day, for a week", 100.0),
    "relative humidity": ("% RH below the limit", 100.0),
    "K": ("K outside the band", 1.0),
    "g/day": ("g/day of drip", 1.0),
    "of the stated volume": ("% of the stated volume", 100.0),
}
"""Unit of a fault's size to its words and factor on screen."""


def diagnose(
    file: Annotated[Path, typer.Argument(help="The colony file.", show_default=False)],
    climate: Annotated[
        Path | None,
        typer.Option(
            "--climate",
            help="The garden's climate: a logger CSV, the table of `climate --year --out`, or `climate --json`.",
            show_default=False,
        ),
    ] = None,
    history: Annotated[
        int, typer.Option("--history", min=0, max=60, help="Days of the record on which to weigh the causes, too.")
    ] = 0,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Draw the weights as the record grew, as .svg or .png.", show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Weigh what may be wrong with a colony by how well each cause explains its record.

    Prints the causes, the likeliest first, since when, what cannot be told yet, and the one observation that would
    tell the two likeliest apart.
    """
    from nestwright.cli.fitting import colony_and_climate, progress_bar
    from nestwright.cli.pictures import check_picture_name

    if picture is not None:
        check_picture_name(picture)
        history = history or 8
    colony, _, _ = colony_and_climate(file, climate, 1)
    from nestwright.colony.diagnosis import diagnose as weigh

    with progress_bar(json) as bar:
        task = bar.add_task("weighing the causes", total=1.0)
        result = weigh(colony, history=history, progress=lambda share: bar.update(task, completed=float(share)))
    written = []
    if picture is not None:
        from nestwright.charts.evidence import evidence_chart
        from nestwright.charts.save import picture_bytes
        from nestwright.files import write_whole

        write_whole(picture, picture_bytes(evidence_chart(result), picture.suffix.lower()))
        written.append(picture)
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    from nestwright.cli.climate import say_written

    print_diagnosis(result)
    say_written(written)


def print_diagnosis(result: Diagnosis) -> None:
    """Print a diagnosis: verdict, the causes with their weights, the next look, what it rests on."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain, table

    out = console()
    out.print(f"[bold]{plain(result.colony)}[/bold], {plain(result.species)}")
    out.print(f"Record of {result.days} days from {result.start}")
    out.print(heading(result.verdict[:1].upper() + result.verdict[1:]))
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
    if result.next_look and result.tells is not None and result.look_day is not None:
        pair = f"{result.causes[0].says!r} and {result.causes[1].says!r}"
        day = result.start + timedelta(days=int(result.look_day))
        out.print(heading("What would tell most"))
        if result.tells < 0.05:
            out.print(f"No single look in the next two weeks tells {pair} apart.")
        else:
            worth = f"{result.tells:.1f} bit of 1" if result.tells >= 0.1 else "under 0.1 bit of 1"
            out.print(f"To tell {pair} apart: {result.next_look} on {day} ({worth})")
    out.print(heading("What this rests on"))
    values = ", ".join(name.replace("_", " ") for name in result.judgements)
    out.print("Chances beforehand and usual sizes of a fault are judgement (data/diagnosis.toml).")
    if values:
        out.print(f"Values that the record told little about, and that are judgement: {values}")
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print("One cause at a time is weighed; a diagnosis is no look at the colony. " + CAUTIONS["law"])


def weight_text(weight: float) -> str:
    """A weight in whole percent that never rounds up to all nor down to none."""
    return "over 99 %" if weight > 0.99 else f"{100 * weight:.0f} %"


def since_text(cause: Cause, start: date) -> str:
    """Since when, as a date or a span of dates."""
    if cause.since is None:
        return ""
    first, middle, last = (start + timedelta(days=int(d)) for d in cause.since)
    return str(middle) if first == last else f"{middle} ({first} to {last})"


def size_text(cause: Cause) -> str:
    """How large the fault is, in the unit of its cause."""
    from nestwright.cli.output import significant

    if cause.size is None:
        return ""
    unit, factor = SIZES.get(cause.size_unit, (cause.size_unit, 1.0))
    low, middle, high = (significant(factor * x, 2) for x in cause.size)
    return f"{middle} ({low} to {high}) {unit}"
