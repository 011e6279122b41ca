"""`nestwright plan`: the next bells and chambers for a colony."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nestwright.colony.results import Plan

__all__ = ["plan"]

CLIMATE_HELP = (
    "The garden's climate: a logger CSV, the table of `climate --year --out`, or the JSON of `climate --json`."
)


def plan(
    file: Annotated[Path, typer.Argument(help="The colony file.", show_default=False)],
    days: Annotated[int, typer.Option("--days", min=7, max=730, help="Days to look ahead.")] = 120,
    handling: Annotated[
        float | None,
        typer.Option(
            "--handling",
            min=0,
            max=365,
            help="Days outside the band that one change of housing is worth avoiding; else a judgement of the data.",
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
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Plan the next bells and chambers so that the garden's fill stays in the card's band with few changes.

    Prints each change with its day, size, whether it passes the opening, and when to begin making it; then what else
    was tried and by how much it is worse.
    """
    from nestwright.cli.fitting import colony_and_climate
    from nestwright.cli.pictures import check_picture_name

    if picture is not None:
        check_picture_name(picture)
    volumes = check_sizes(sizes)
    colony, ahead, _ = colony_and_climate(file, climate, days)

    from nestwright.cli.fitting import fit_colony, progress_bar
    from nestwright.colony.forecast import Scenario
    from nestwright.colony.plan import check
    from nestwright.colony.plan import plan as search
    from nestwright.data import plan_values

    counted = plan_values()["handling_days"].value if handling is None else handling
    check(colony, days, counted, volumes)
    posterior = fit_colony(colony, quiet=json)
    with progress_bar(json) as bar:
        task = bar.add_task("trying plans", total=1.0)
        result = search(
            posterior,
            days,
            handling_days=counted,
            sizes=volumes,
            scenario=Scenario(climate=ahead),
            progress=lambda share: bar.update(task, completed=float(share)),
        )
    if picture is not None:
        draw_plan(result, picture)
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    from nestwright.cli.plan_text import print_plan

    print_plan(result)
    if picture is not None:
        print(f"\nWritten: {picture}")


def check_sizes(text: str | None) -> tuple[float, ...] | None:
    """Usable volumes, mL, of a text such as "60 mL, 150 mL". Raises InputError."""
    if text is None:
        return None
    from nestwright.errors import InputError
    from nestwright.units import UnitProblem, parse_quantity

    out = []
    for part in text.split(","):
        try:
            out.append(parse_quantity(part.strip(), "volume") * 1e6)
        except UnitProblem:
            raise InputError(
                "is no list of volumes", field="--sizes", found=repr(text)[:80], allowed="as '60 mL, 150 mL, 1.2 L'"
            ) from None
    if len(out) > MOST_SIZES:
        raise InputError("are too many sizes", field="--sizes", found=str(len(out)), allowed=f"at most {MOST_SIZES}")
    return tuple(sorted(set(out)))


MOST_SIZES = 40


def draw_plan(result: Plan, path: Path) -> None:
    """Draw a plan to `path`."""
    from nestwright.charts.bells import plan_chart
    from nestwright.charts.save import picture_bytes
    from nestwright.files import write_whole

    write_whole(path, picture_bytes(plan_chart(result), path.suffix.lower()))
