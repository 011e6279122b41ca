"""`nestwright rescue`: how much donor garden a colony without garden needs, and its chance with it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from nestwright.colony.results import Rescue, RescueCase

Span = tuple["float | None", "float | None", "float | None"]
AMOUNTS = "amounts with their unit and commas between them, as '5 mL, 10 mL, 20 mL'"


def rescue(
    colony: Annotated[
        str, typer.Argument(help='The species, such as "Atta cephalotes", or a colony file.', show_default=False)
    ],
    workers: Annotated[
        int | None, typer.Option("--workers", help="Workers alive. Needed with a species.", show_default=False)
    ] = None,
    eggs: Annotated[int | None, typer.Option("--eggs", help="Eggs alive.", show_default=False)] = None,
    larvae: Annotated[int | None, typer.Option("--larvae", help="Larvae alive.", show_default=False)] = None,
    pupae: Annotated[int | None, typer.Option("--pupae", help="Pupae alive.", show_default=False)] = None,
    no_queen: Annotated[bool, typer.Option("--no-queen", help="There is no queen, or she is dead.")] = False,
    garden: Annotated[
        str | None,
        typer.Option(
            "--garden", help='Donor garden to try, "5 mL, 10 mL, 20 mL"; else seven amounts.', show_default=False
        ),
    ] = None,
    days: Annotated[int, typer.Option("--days", min=1, max=730, help="Days to look ahead.")] = 120,
    temperature: Annotated[
        str | None,
        typer.Option("--temperature", help='Of the garden, "24 degC"; else as the card.', show_default=False),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Draw chance by amount, as .svg or .png.", show_default=False)
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Say how much donor garden a colony that lost its garden needs, and how many workers hold it.

    For each amount: the chance that the colony pulls through, when the next own worker comes, and what there is at
    the end; without a queen, how long workers and garden last. A colony file gives ants, queen and what its record
    taught.
    """
    from nestwright.cli.pictures import check_picture_name

    if picture is not None:
        check_picture_name(picture)
    amounts = None if garden is None else parse_amounts(garden)
    warmth = None if temperature is None else parse_temperature(temperature)
    counts = {"--workers": workers, "--eggs": eggs, "--larvae": larvae, "--pupae": pupae}
    if colony.lower().endswith((".toml", ".csv")):
        result = from_file(Path(colony), counts, no_queen, amounts, days, warmth, json)
    else:
        result = from_species(colony, counts, no_queen, amounts, days, warmth)
    if picture is not None:
        draw_rescue(result, picture)
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    print_rescue(result)
    if picture is not None:
        print(f"\nWritten: {picture}")


def from_species(
    species: str,
    counts: dict[str, int | None],
    no_queen: bool,
    amounts: list[float] | None,
    days: int,
    temperature: float | None,
) -> Rescue:
    """The rescue of what came, by the species' card. Raises InputError."""
    from nestwright.data import load_species

    card = load_species(species)
    if counts["--workers"] is None:
        raise InputError("is needed with a species", field="--workers", allowed="the number of workers alive")
    from nestwright.colony.rescue import rescue as solve

    w, e, lv, pu = (count or 0 for count in counts.values())
    return solve(card.name, w, e, lv, pu, queen=not no_queen, amounts=amounts, days=days, temperature=temperature)


def from_file(
    file: Path,
    counts: dict[str, int | None],
    no_queen: bool,
    amounts: list[float] | None,
    days: int,
    temperature: float | None,
    quiet: bool,
) -> Rescue:
    """The rescue of a colony with a record. Raises InputError."""
    for flag, count in counts.items():
        if count is not None:
            allowed = "a species with counts, or a colony file, whose record tells them"
            raise InputError("stands beside a colony file", field=flag, found=str(count), allowed=allowed)
    from nestwright.cli.fitting import colony_and_climate, fit_colony

    colony, _, _ = colony_and_climate(file, None, days)
    posterior = fit_colony(colony, quiet=quiet)
    from nestwright.colony.rescue import rescue_colony

    queen = False if no_queen else None
    return rescue_colony(posterior, queen=queen, amounts=amounts, days=days, temperature=temperature)


def parse_amounts(text: str) -> list[float]:
    """Donor garden, mL, from "5 mL, 10 mL". Raises InputError."""
    from nestwright.units import UnitProblem, parse_quantity

    try:
        return [1e6 * parse_quantity(part, "volume") for part in text.split(",")]
    except UnitProblem as problem:
        raise InputError(
            problem.message, field="--garden", found=problem.found, allowed=AMOUNTS, nearest=problem.nearest
        ) from None


def parse_temperature(text: str) -> float:
    """degC from "24 degC". Raises InputError."""
    from nestwright.units import UnitProblem, parse_quantity

    try:
        return parse_quantity(text, "temperature") - 273.15
    except UnitProblem as problem:
        raise InputError(
            problem.message,
            field="--temperature",
            found=problem.found,
            allowed="5 to 40 degC, as '24 degC'",
            nearest=problem.nearest,
        ) from None


def draw_rescue(result: Rescue, path: Path) -> Path:
    """Draw chance by amount of donor garden to `path`."""
    from nestwright.charts.rescue import rescue_chart
    from nestwright.charts.save import picture_bytes
    from nestwright.files import write_whole

    write_whole(path, picture_bytes(rescue_chart(result), path.suffix.lower()))
    return path


def print_rescue(result: Rescue) -> None:
    """Print a rescue: the answer, a table of amounts, what it rests on, and what is always to be minded."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain, table

    out = console()
    eggs, larvae, pupae = (f"{x:.0f}" for x in result.brood)
    queen = "queen" if result.queen else "no queen"
    out.print(f"[bold]{plain(result.species)}[/bold]: {queen}, {result.workers:.0f} workers")
    out.print(f"Brood: {eggs} eggs, {larvae} larvae, {pupae} pupae")
    out.print(f"\n{answer(result)}")
    out.print(heading(f"Donor garden over {result.days} days: middle, and the range of 8 in 10"))
    out.print(table(*table_of(result)))
    out.print("[dim]To tend it: workers at which each has as much as it can tend; what is beyond is lost.[/dim]")
    if any(c.held_by[1] > max(result.workers, 1) for c in result.cases):
        out.print("[dim]*: more than the workers that came can probably tend; give less, or in portions.[/dim]")
    out.print(heading("What it rests on"))
    out.print(f"Judgement that moves it: {', '.join(map(in_words, result.judgements)) or 'no single value'}")
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    out.print(CAUTIONS["law"])


def answer(result: Rescue) -> str:
    """The verdict in a sentence."""
    if not result.cases:
        return "No amounts were tried."
    best = max(result.cases, key=lambda c: c.pulls_through)
    if not result.queen:
        return (
            f"[bold]Without a queen it cannot go on.[/bold] With {best_lasting(result).garden:g} mL the last worker "
            f"dies after {in_days(best_lasting(result).workers_last, result.days)}, and the garden lasts "
            f"{in_days(best_lasting(result).garden_lasts, result.days)}."
        )
    if result.enough is None:
        return (
            f"[bold]None of the amounts gives nine chances in ten.[/bold] The best is {best.garden:g} mL: "
            f"{chance(best.pulls_through)}."
        )
    case = next(c for c in result.cases if c.garden == result.enough)
    return (
        f"[bold]{case.garden:g} mL is the least of these amounts with nine chances in ten[/bold] "
        f"({chance(case.pulls_through)}); to tend it takes {workers_for(case)}."
    )


def best_lasting(result: Rescue) -> RescueCase:
    """The amount with which the workers last longest, the least of several."""
    return max(result.cases, key=lambda c: (c.workers_last[1] or result.days + 1, -c.garden))


def workers_for(case: RescueCase) -> str:
    """How many workers tend an amount, rounded up."""
    low, middle, high = (whole_up(x) for x in case.held_by)
    if high == 0:
        return "no worker, the queen can do it alone"
    told = f"{middle} worker" if middle == 1 else f"{middle} workers"
    return told if low == high else f"{told} ({low} to {high})"


def whole_up(x: float) -> int:
    """A number of workers: up to the next whole one, at two figures."""
    import math

    n = math.ceil(x - 1e-9)
    step = 10 ** max(0, len(str(n)) - 2)
    return -(-n // step) * step


def table_of(result: Rescue) -> tuple[list[str], list[list[str]]]:
    """Column names and a row for each amount."""
    rows = []
    for c in result.cases:
        over = "*" if c.held_by[1] > max(result.workers, 1) else ""
        low, middle, high = map(whole_up, c.held_by)
        row = [f"{c.garden:g}{over}"]
        if result.queen:
            row.append(ranged_chance(c))
        row.append(ranged(low, middle, high))
        row.append(short_days(c.first_workers))
        if not result.queen:
            row += [short_days(c.workers_last), short_days(c.garden_lasts)]
        row += [ranged(*map(round, c.workers_at_end)), ranged(*(two(x) for x in c.garden_at_end))]
        rows.append(row)
    names = ["garden mL", "pulls through"] if result.queen else ["garden mL"]
    names += ["to tend it", "next worker, day"]
    names += [] if result.queen else ["workers last, days", "garden lasts, days"]
    return [*names, "workers at end", "garden at end mL"], rows


def two(x: float) -> str:
    """An amount at two figures, none below a tenth."""
    from nestwright.cli.output import significant

    return "0" if x < 0.1 else significant(x, 2)


def ranged(low: object, middle: object, high: object) -> str:
    """A middle with its range."""
    shown = [f"{x:.2g}" if isinstance(x, float) else str(x) for x in (low, middle, high)]
    return shown[1] if shown[0] == shown[2] else f"{shown[1]} ({shown[0]} to {shown[2]})"


def ranged_chance(case: RescueCase) -> str:
    low, high = case.interval
    ends = [f"{100 * x:.0f}" for x in (low, high)]
    return chance(case.pulls_through) if ends[0] == ends[1] else f"{chance(case.pulls_through)} ({' to '.join(ends)})"


def chance(share: float) -> str:
    """A chance in whole percent, never all and never none."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def short_days(days: Sequence[float | None]) -> str:
    """Days with their range; a dash where it does not come."""
    shown = ["-" if d is None else f"{d:.0f}" for d in days]
    return shown[1] if shown[0] == shown[2] else f"{shown[1]} ({shown[0]} to {shown[2]})"


def in_days(days: Sequence[float | None], horizon: int) -> str:
    """Days with their range, in words."""
    low, middle, high = (f"over {horizon}" if d is None else f"{d:.0f}" for d in days)
    return f"{middle} days" if low == high else f"{middle} days ({low} to {high})"


def in_words(name: str) -> str:
    """A value's name as the card tells it."""
    from nestwright.cli.species import GROWTH

    own = {"development": "length of the brood's stages", "noise": "wander of the garden"}
    return own.get(name) or (GROWTH[name][0] if name in GROWTH else name.replace("_", " "))
