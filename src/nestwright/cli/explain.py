"""`nestwright explain`: which unknown a proof or a forecast hangs on most, hence what to measure next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.climate import ROOM_HELP
from nestwright.cli.fitting import CLIMATE_HELP
from nestwright.cli.options import ColonyFile, whole
from nestwright.cli.progress import progress_bar
from nestwright.cli.record import InWorkshop, group
from nestwright.cli.where import OnCluster, place_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.sensitivity import Explained

commands = group("Say which unknown a proof or a forecast hangs on most, hence what to measure next.")

POINTS = (32, 64, 128, 256, 512, 1024)
Picture = Annotated[
    Path | None, typer.Option("--picture", help="Draw the shares, as .svg or .png.", show_default=False)
]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]


def _points(text: str) -> int:
    known = {str(n): n for n in POINTS}
    if str(text).strip() not in known:
        raise InputError(
            "is no number of points", field="--points", found=repr(str(text)[:40]), allowed=", ".join(known)
        )
    return known[str(text).strip()]


@commands.command()
def climate(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    room: Annotated[str, typer.Option("--room", help=ROOM_HELP, show_default=False)],
    limit: Annotated[
        str,
        typer.Option(
            "--limit", help='A limit by its name, such as "pot: temperature"; else the first to go.', show_default=False
        ),
    ] = "",
    points: Annotated[
        int,
        typer.Option(
            "--points",
            parser=_points,
            metavar="POINTS",
            help="Points that cover the ranges of all unknowns: 32, 64, up to 1024; each is about ten runs.",
        ),
    ] = 128,
    picture: Picture = None,
    cluster: OnCluster = None,
    json: Json = False,
) -> None:
    """Explain a limit's margin at rest: the share that each value has which the design does not state.

    The values are those that the proof's intervals rest on, all drawn over their ranges at once.
    """
    _check(picture)
    place = place_of(cluster)
    from nestwright.climate.explained import explain_proof
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat
    from nestwright.pieces import working_at

    habitat, air = read_habitat(file), read_room(room)
    with working_at(place), progress_bar(json) as bar:
        task = bar.add_task("running the habitat at other values", total=1.0)
        result = explain_proof(
            habitat, air, limit, base=points, progress=lambda share: bar.update(task, completed=share)
        )
    _show(result, picture, json)


@commands.command()
def forecast(
    file: ColonyFile,
    of: Annotated[str, typer.Option("--of", help="What is asked: garden or workers.")] = "garden",
    days: Annotated[
        int,
        typer.Option("--days", parser=whole("--days", 1, 1000), metavar="DAYS", help="Days ahead, 1 to 1000."),
    ] = 60,
    climate: Annotated[Path | None, typer.Option("--climate", help=CLIMATE_HELP, show_default=False)] = None,
    picture: Picture = None,
    workshop: InWorkshop = None,
    json: Json = False,
) -> None:
    """Explain a forecast: the share of its range that goes once an unknown is known.

    The unknowns are the values that the fit left free and what lives there today, as the record leaves them; the share
    that is chance is told beside.
    """
    _check(picture)
    from nestwright.cli.fitting import fit_colony
    from nestwright.colony.explained import ASKED, explain_forecast
    from nestwright.colony.forecast import Scenario
    from nestwright.errands.fitting import colony_and_climate, workshop_read
    from nestwright.errors import nearest_name

    if of not in ASKED:
        raise InputError(
            "cannot be explained", field="--of", found=repr(of[:40]), allowed=", ".join(ASKED),
            nearest=nearest_name(of[:40], ASKED),
        )  # fmt: skip
    colony, ahead, _ = colony_and_climate(file, climate, days, workshop=workshop)
    folder, _ = workshop_read(file, workshop)
    posterior = fit_colony(colony, quiet=json, keep=folder)
    _show(explain_forecast(posterior, days, of, Scenario(climate=ahead)), picture, json)


def _check(picture: Path | None) -> None:
    if picture is not None:
        from nestwright.cli.pictures import check_picture_name

        check_picture_name(picture)


def _show(result: Explained, picture: Path | None, json: bool) -> None:
    written = []
    if picture is not None:
        from nestwright.charts.explained import explained_chart
        from nestwright.cli.explain_text import called
        from nestwright.cli.pictures import write_picture

        written.append(
            write_picture(explained_chart(result, {one.name: called(one) for one in result.shares}), picture)
        )
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    from nestwright.cli.climate import say_written
    from nestwright.cli.explain_text import print_explained

    print_explained(result)
    say_written(written)
