"""`nestwright rescue`: how much donor garden a colony without garden needs, and its chance with it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.options import whole
from nestwright.cli.record import InWorkshop
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.colony.results import Rescue

MOST = 1_000_000
"""Ants of a kind; as in `colony.rescue_start`, which is not loaded for --help."""
AMOUNTS = "0 mL, or 0.001 mL to 1 m3, each; at most 40 of them, with unit and commas between, as '0 mL, 5 mL, 20 mL'"
WARMTH = "5 to 40 degC, as '24 degC'"


def rescue(
    colony: Annotated[
        str,
        typer.Argument(
            help='The species, such as "Atta cephalotes", or a colony: its file, or its name in the workshop.',
            show_default=False,
        ),
    ],
    workers: Annotated[
        int | None,
        typer.Option(
            "--workers",
            parser=whole("--workers", 0, MOST),
            metavar="N",
            help="Workers alive, 0 to 1000000. Needed with a species.",
            show_default=False,
        ),
    ] = None,
    eggs: Annotated[
        int | None,
        typer.Option("--eggs", parser=whole("--eggs", 0, MOST), metavar="N", help="Eggs alive.", show_default=False),
    ] = None,
    larvae: Annotated[
        int | None,
        typer.Option(
            "--larvae", parser=whole("--larvae", 0, MOST), metavar="N", help="Larvae alive.", show_default=False
        ),
    ] = None,
    pupae: Annotated[
        int | None,
        typer.Option("--pupae", parser=whole("--pupae", 0, MOST), metavar="N", help="Pupae alive.", show_default=False),
    ] = None,
    no_queen: Annotated[bool, typer.Option("--no-queen", help="There is no queen, or she is dead.")] = False,
    garden: Annotated[
        str | None,
        typer.Option(
            "--garden", help='Donor garden to try, "5 mL, 10 mL, 20 mL"; else seven amounts.', show_default=False
        ),
    ] = None,
    days: Annotated[
        int,
        typer.Option("--days", parser=whole("--days", 1, 730), metavar="DAYS", help="Days to look ahead, 1 to 730."),
    ] = 120,
    temperature: Annotated[
        str | None,
        typer.Option("--temperature", help='Of the garden, "24 degC"; else as the card.', show_default=False),
    ] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Draw chance by amount, as .svg or .png.", show_default=False)
    ] = None,
    folder: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Say how much donor garden a colony that lost its garden needs, and how many workers hold it.

    For each amount: the chance that the colony pulls through, when the next worker born here comes, and what there is
    at the end; without a queen, how long workers and garden last. The amount named is the least with nine chances
    in ten, else the least that does as well as any.
    A colony file gives ants, queen, garden and what its record taught; it may be that none is needed.
    """
    if picture is not None:
        from nestwright.cli.pictures import check_picture_name

        check_picture_name(picture)
    amounts = None if garden is None else parse_amounts(garden)
    warmth = None if temperature is None else parse_temperature(temperature)
    counts = {"--workers": workers, "--eggs": eggs, "--larvae": larvae, "--pupae": pupae}
    if is_of_file(colony) or in_record(colony, folder):
        result = from_file(Path(colony), folder, counts, no_queen, amounts, days, warmth, json)
    else:
        result = from_species(colony, counts, no_queen, amounts, days, warmth)
    # told first: what is printed is not lost should the picture fail
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
    else:
        from nestwright.cli.rescue_text import print_rescue

        print_rescue(result)
    if picture is not None:
        draw_rescue(result, picture)
        if not json:
            print(f"\nWritten: {picture}")


def is_of_file(name: str) -> bool:
    """Whether a file is meant, or what stands where one should; a folder that is called as a species is none."""
    from nestwright.data import species_names
    from nestwright.errands.fitting import is_file

    return name not in species_names() and is_file(Path(name))


def in_record(name: str, folder: Path | None) -> bool:
    """Whether a name is meant as that of a colony in the workshop. Raises InputError for a workshop not there."""
    from nestwright.data import species_names

    if folder is not None:
        return True
    if name in species_names():
        return False
    from nestwright.workshop.colonies import kept_colonies
    from nestwright.workshop.database import reading
    from nestwright.workshop.folder import find_workshop

    try:
        workshop = find_workshop()
    except InputError:
        return False
    with reading(workshop.engine) as connection:
        return name.casefold() in {kept.name.casefold() for kept in kept_colonies(connection)}


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
    with fields_as_options():
        return solve(card.name, w, e, lv, pu, queen=not no_queen, amounts=amounts, days=days, temperature=temperature)


def from_file(
    file: Path,
    folder: Path | None,
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
    from nestwright.cli.fitting import fit_colony
    from nestwright.errands.fitting import colony_and_climate

    colony, _, _ = colony_and_climate(file, None, days, workshop=folder)
    posterior = fit_colony(colony, quiet=quiet)
    from nestwright.colony.rescue import rescue_colony

    queen = False if no_queen else None
    with fields_as_options():
        return rescue_colony(posterior, queen=queen, amounts=amounts, days=days, temperature=temperature)


@contextmanager
def fields_as_options() -> Iterator[None]:
    """A fault in a figure of the computation, told by the option it came from."""
    try:
        yield
    except InputError as fault:
        if fault.field not in ("workers", "eggs", "larvae", "pupae", "garden", "days", "temperature"):
            raise
        raise InputError(
            fault.message, field=f"--{fault.field}", found=fault.found, allowed=fault.allowed, nearest=fault.nearest
        ) from None


def parse_amounts(text: str) -> list[float]:
    """Donor garden, mL, from "5 mL, 10 mL". Raises InputError."""
    from nestwright.colony.rescue_start import MOST_AMOUNTS
    from nestwright.units import UnitProblem, parse_quantity, shown, split_unit

    parts = [part.strip() for part in text.split(",")]
    if len(parts) > MOST_AMOUNTS:
        raise InputError("are too many amounts", field="--garden", found=str(len(parts)), allowed=AMOUNTS)
    made = []
    for part in parts:
        try:
            # none at all is an amount to try, though no volume of anything else
            none = split_unit(part, "volume")[0] == 0
            made.append(0.0 if none else 1e6 * parse_quantity(part, "volume"))
        except UnitProblem as problem:
            raise InputError(
                problem.message if part else "an amount is missing",
                field="--garden",
                found=shown(part) if part else shown(text),
                allowed=AMOUNTS,
                nearest=problem.nearest,
            ) from None
    return made


def parse_temperature(text: str) -> float:
    """degC from "24 degC". Raises InputError."""
    from nestwright.colony.rescue_start import check_run
    from nestwright.units import UnitProblem, parse_quantity, shown

    try:
        warmth = parse_quantity(text, "temperature") - 273.15
        check_run(1, warmth)
    except UnitProblem as problem:
        raise InputError(
            problem.message,
            field="--temperature",
            found=shown(text),
            allowed=WARMTH,
            nearest=problem.nearest,
        ) from None
    except InputError as fault:
        raise InputError(fault.message, field="--temperature", found=shown(text), allowed=WARMTH) from None
    return warmth


def draw_rescue(result: Rescue, path: Path) -> Path:
    """Draw chance by amount of donor garden to `path`."""
    from nestwright.charts.rescue import rescue_chart
    from nestwright.cli.pictures import write_picture

    return write_picture(rescue_chart(result), path)
