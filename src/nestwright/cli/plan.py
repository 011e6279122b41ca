"""`nestwright plan`: the next bells and chambers for a colony."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.fitting import CLIMATE_HELP
from nestwright.cli.options import ColonyFile, number, whole
from nestwright.cli.record import InWorkshop
from nestwright.errors import InputError

__all__ = ["plan"]

MOST_SIZES = 40


def plan(
    file: ColonyFile,
    days: Annotated[
        int,
        typer.Option("--days", parser=whole("--days", 7, 730), metavar="DAYS", help="Days to look ahead, 7 to 730."),
    ] = 120,
    handling: Annotated[
        float | None,
        typer.Option(
            "--handling",
            parser=number("--handling", 0, 365),
            metavar="DAYS",
            help="Days outside the band that one change of housing is worth avoiding, 0 to 365; else a judgement of "
            "the data.",
            show_default=False,
        ),
    ] = None,
    sizes: Annotated[
        str | None,
        typer.Option(
            "--sizes",
            help='Usable volumes of the bells to choose from, such as "60 mL, 150 mL"; else any size.',
            show_default=False,
        ),
    ] = None,
    climate: Annotated[Path | None, typer.Option("--climate", help=CLIMATE_HELP, show_default=False)] = None,
    picture: Annotated[
        Path | None, typer.Option("--picture", help="Draw fill and changes, as .svg or .png.", show_default=False)
    ] = None,
    workshop: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Plan the next bells and chambers so that the garden's fill stays in the card's band with few changes.

    Prints each change with its day, size, whether it passes the opening, and when to begin making it; then what else
    was tried and by how much it is worse.
    """
    from nestwright.cli.pictures import check_picture_name, write_picture
    from nestwright.errands.fitting import colony_and_climate, workshop_read

    if picture is not None:
        check_picture_name(picture)
    volumes = check_sizes(sizes)
    colony, ahead, _ = colony_and_climate(file, climate, days, workshop=workshop)

    from nestwright.cli.fitting import fit_colony, progress_bar
    from nestwright.colony.forecast import Scenario
    from nestwright.colony.losses import known_losses
    from nestwright.colony.plan import check, check_room
    from nestwright.colony.plan import plan as search
    from nestwright.data import plan_values

    counted = plan_values()["handling_days"].value if handling is None else handling
    check(colony, days, counted, volumes)
    check_room(colony)
    folder, today = workshop_read(file, workshop)
    posterior = fit_colony(colony, quiet=json, keep=folder)
    with progress_bar(json) as bar:
        task = bar.add_task("trying plans", total=1.0)
        result = search(
            posterior,
            days,
            handling_days=counted,
            sizes=volumes,
            scenario=Scenario(climate=ahead),
            progress=lambda share: bar.update(task, completed=float(share)),
            gone_by=0 if today is None else colony.days_since(today),
        )
    losses = known_losses(colony)
    result = replace(result, notes=(*losses, *result.notes))
    written = []
    if picture is not None:
        from nestwright.charts.bells import plan_chart

        written.append(write_picture(plan_chart(result), picture))
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    from nestwright.cli.climate import say_written
    from nestwright.cli.plan_text import print_plan

    print_plan(result, losses, today)
    say_written(written)


def check_sizes(text: str | None) -> tuple[float, ...] | None:
    """Usable volumes, mL, of a text such as "60 mL, 150 mL". Raises InputError."""
    if text is None:
        return None
    from nestwright.units import UnitProblem, parse_quantity

    out = []
    for part in text.split(","):
        try:
            out.append(parse_quantity(part.strip(), "volume") * 1e6)
        except UnitProblem as problem:
            raise InputError(
                problem.message,
                field="--sizes",
                found=repr(part.strip())[:80],
                allowed="volumes of 0.001 mL to 1000 L with commas between them, as '60 mL, 150 mL, 1.2 L'",
                nearest=problem.nearest,
            ) from None
    if len(out) > MOST_SIZES:
        raise InputError("are too many sizes", field="--sizes", found=str(len(out)), allowed=f"at most {MOST_SIZES}")
    return tuple(sorted(set(out)))
