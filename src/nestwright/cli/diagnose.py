"""`nestwright diagnose`: is something wrong with a colony, since when, and what is the likeliest cause?"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.fitting import CLIMATE_HELP
from nestwright.cli.options import ColonyFile, whole
from nestwright.cli.record import InWorkshop

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.model import Colony
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

TELLS = 0.1
"""Bits below which a look tells hardly anything."""
FURTHER = {"nothing": "nothing further wrong"}
"""What a cause is called beside a loss that the record tells."""
RESCUE = (
    "`nestwright rescue FILE` says how much donor garden the colony needs. If it is not so, write into the file what "
    "garden there is, and run this again."
)
FIRST = (
    "Record first: the garden in mL or as fill, with the day; a count or guess of the workers; whether eggs, larvae "
    "and pupae were seen or looked for in vain. After two or three such visits, a week apart, run this again."
)
WEEKLY = (
    "Go on recording once a week: the garden in mL or as fill, a count or guess of the workers, and at each visit "
    "whether eggs, larvae and pupae were seen or looked for in vain; then run this again."
)


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
    from nestwright.cli.fitting import colony_and_climate, progress_bar
    from nestwright.cli.pictures import check_picture_name, write_picture

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

    print_diagnosis(result, losses, gone=garden_gone(colony))
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


def print_diagnosis(result: Diagnosis, losses: Sequence[str] = (), *, gone: bool = False) -> None:
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
    for line in [RESCUE] if gone else next_steps(result):
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


def next_steps(result: Diagnosis) -> list[str]:
    """What to do: the look that tells the two likeliest causes apart; where none does, what to go on recording."""
    if not result.next_look or result.tells is None or result.look_day is None:
        if result.causes[0].name == "nothing":
            return [f"Hardly a doubt is left that nothing is wrong. {WEEKLY}"]
        return [f"Among these causes hardly a doubt is left. Look for yourself before you act. {WEEKLY}"]
    pair = f"{result.causes[0].says!r} and {result.causes[1].says!r}"
    day = result.start + timedelta(days=int(result.look_day))
    if result.tells >= TELLS:
        return [f"To tell {pair} apart: {result.next_look} on {day}{doubt_text(result)}"]
    return [
        f"No single look in the next two weeks tells {pair} apart. The one that tells most: "
        f"{result.next_look} on {day}.",
        f"{WEEKLY} Several looks together tell what one cannot.",
    ]


def doubt_text(result: Diagnosis) -> str:
    """What a look is worth, as the share of the doubt between the two likeliest causes that it takes away on average.

    The doubt is the entropy of the two weights (Shannon 1948), which `tells`, in bits, can at most be.
    """
    share = result.causes[0].weight / (result.causes[0].weight + result.causes[1].weight)
    doubt = -sum(p * math.log2(p) for p in (share, 1 - share) if p > 0)
    if doubt <= 0 or result.tells is None:
        return ""
    return f" (likely to take away about {10 * round(10 * min(result.tells / doubt, 1)):.0f} % of the doubt)"


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
