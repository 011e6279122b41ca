"""`nestwright forecast`: fit a colony's record and say what comes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.fitting import CLIMATE_HELP
from nestwright.cli.options import ColonyFile, whole
from nestwright.cli.record import InWorkshop
from nestwright.errands.forecast import Told

if TYPE_CHECKING:
    from nestwright.colony.model import Colony
    from nestwright.errands.garden_climate import Water

__all__ = ["forecast", "told_of"]


def forecast(
    file: ColonyFile,
    days: Annotated[
        int,
        typer.Option("--days", parser=whole("--days", 1, 1000), metavar="DAYS", help="Days to look ahead, 1 to 1000."),
    ] = 90,
    leaves: Annotated[
        str | None,
        typer.Option(
            "--leaves",
            help='Fresh leaves given from now on, such as "3 g/day"; else as many as the colony needs.',
            show_default=False,
        ),
    ] = None,
    climate: Annotated[Path | None, typer.Option("--climate", help=CLIMATE_HELP, show_default=False)] = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Draw garden and workers, as .svg or .png.", show_default=False),
    ] = None,
    pictures: Annotated[
        Path | None,
        typer.Option(
            "--pictures", help="A folder for every picture: growth, brood, dates, leaves.", show_default=False
        ),
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", help="Write the days to come as .csv or .parquet, or the result as .json.", show_default=False
        ),
    ] = None,
    workshop: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Fit a colony's record and forecast its garden, workers, leaves and waste.

    Prints where it stands, what the record taught, what to expect by date, when the bell is full and when the next
    part must be begun, each with the range in which 8 of 10 outcomes lie.
    """
    from nestwright.cli.fitting import check_leaves
    from nestwright.cli.forecast_out import check_folder, check_out_name, draw_all, draw_growth, write_out
    from nestwright.cli.pictures import check_picture_name
    from nestwright.errands.fitting import colony_and_climate, workshop_read

    if out is not None:
        check_out_name(out)
    if picture is not None:
        check_picture_name(picture)
    if pictures is not None:
        check_folder(pictures)
    given = check_leaves(leaves)
    colony, ahead, read = colony_and_climate(file, climate, days, workshop=workshop)

    from nestwright.colony.forecast import Scenario

    water = next((one.water for one in reversed(read) if one.water is not None), None)
    scenario = Scenario(leaves=given, climate=ahead)
    folder, today = workshop_read(file, workshop)
    sources = tuple(one.source for one in read)
    told = told_of(colony, days, scenario, climate=sources, water=water, quiet=json, keep=folder)
    told = replace(told, today=today)
    written = []
    if out is not None:
        written.append(write_out(told, out))
    if picture is not None:
        written.append(draw_growth(told.forecast, picture))
    if pictures is not None:
        written += draw_all(told.forecast, pictures)
    if json:
        from nestwright.cli.output import print_json

        print_json(told)
        return
    from nestwright.cli.climate import say_written
    from nestwright.cli.forecast_text import print_forecast

    print_forecast(told)
    say_written(written)


def told_of(
    colony: Colony,
    days: int,
    scenario: Any,
    *,
    climate: tuple[str, ...] = (),
    water: Water | None = None,
    quiet: bool = False,
    keep: Path | None = None,
) -> Told:
    """Fit a colony and forecast it, with a bar on the error output when that is a terminal; `keep` as `fit_colony`."""
    from nestwright.cli.fitting import fit_colony
    from nestwright.colony.fit import report
    from nestwright.colony.forecast import paths_of, read_paths
    from nestwright.colony.pace import pace_of

    posterior = fit_colony(colony, quiet=quiet, keep=keep)
    made, ends = report(posterior)
    table = paths_of(posterior.problem, ends, days, scenario)
    result = read_paths(posterior.problem, made, table, days, scenario)
    return Told(result, pace_of(table["garden"], float(posterior.problem.days)), climate, water, colony)
