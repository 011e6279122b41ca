"""`nestwright climate`: prove one habitat in one room."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.progress import progress_bar
from nestwright.cli.record import InWorkshop, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.climate.results import Proof, YearProof
    from nestwright.habitat.model import Habitat

ROOM_HELP = 'Fixed air such as "21 degC, 45 %", a room file, a logger CSV, or a weather file.'


def climate(
    file: Annotated[Path, typer.Argument(help="The habitat file, or the serial of a build.", show_default=False)],
    room: Annotated[str | None, typer.Option("--room", help=ROOM_HELP, show_default=False)] = None,
    year: Annotated[bool, typer.Option("--year", help="Run through the room's whole record.")] = False,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the run as .csv or .parquet (with --year).", show_default=False)
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", help="Draw the year (with --year) or the section, as .svg or .png.", show_default=False
        ),
    ] = None,
    forecast: Annotated[
        Path | None,
        typer.Option(
            "--forecast",
            help="The JSON of `nestwright forecast`: when does growth break a limit?",
            show_default=False,
        ),
    ] = None,
    folder: InWorkshop = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Prove a habitat's climate in a room.

    Prints the air of each chamber, water, drip and heat, and for each limit its value, band, margin and
    verdict, with the judgement values that it rests on. With --year it runs through the room's record and
    adds the hours held and the worst weeks. With --forecast the garden grows as forecast, and the day is told
    on which it first breaks a limit. For a build of the workshop the margins are told as built too, with what its
    newest dry run found; its room is then that in which it stands, unless --room names another.
    """
    from nestwright.cli.pictures import check_picture_name

    if out is not None:
        from nestwright.cli.year_table import check_table_name

        if not year:
            raise InputError("a table is written for a run only", field="--out", allowed="--out together with --year")
        check_table_name(out)
    if picture is not None:
        check_picture_name(picture)
    if forecast is not None and (year or picture is not None):
        raise InputError("growth is proved day by day at rest", field="--forecast", allowed="without --year, --picture")

    from nestwright.cli.as_built import room_of
    from nestwright.cli.dryrun import find_made
    from nestwright.climate.rooms import read_room
    from nestwright.errands.as_built import as_built, standing
    from nestwright.habitat.file import read_habitat

    made = find_made(file, folder)
    if made is not None and forecast is not None:
        raise InputError("is proved for a habitat file", field="--forecast", allowed="the file of the build's habitat")
    build = None if made is None else standing(made, workshop_of(folder))
    habitat = read_habitat(file if build is None else build.file)
    air = read_room(room_of(room, build))
    if forecast is not None:
        _show_growing(habitat, air, forecast, json)
        return
    if year:
        result = run_year(habitat, air, quiet=json)
        result = replace(result, mean=_with_unmade(result.mean, habitat))
        written = []
        if out is not None:
            from nestwright.cli.year_table import write_table

            written.append(write_table(result, out))
        if picture is not None:
            from nestwright.cli.pictures import draw_year

            written.append(draw_year(result, picture))
        _show_year(result, None if build is None else as_built(build, habitat, air, result.mean), written, json)
        return

    from nestwright.climate.proof import prove

    proof = _with_unmade(prove(habitat, air), habitat)
    built = None if build is None else as_built(build, habitat, air, proof)
    written = []
    if picture is not None:
        from nestwright.cli.pictures import draw_section

        written.append(draw_section(habitat, proof, picture))
    if json:
        from nestwright.cli.output import print_json

        print_json(proof.to_dict() | (built or {}))
    else:
        from nestwright.cli.proof_text import print_proof

        print_proof(proof, built)
        say_written(written)


def _with_unmade(proof: Proof, habitat: Habitat) -> Proof:
    """A proof with a note where its design cannot be made as it stands: air and water take no heed of what fits."""
    from nestwright.parts.listing import parts_of

    try:
        parts_of(habitat)
    except InputError as error:
        line = f" (line {error.line} of its file)" if error.line else ""
        note = f"it cannot be made as it stands{line}: {error.message}; nestwright check says what would fit"
        return replace(proof, notes=(*proof.notes, note))
    return proof


def run_year(habitat: Any, air: Any, *, quiet: bool = False) -> YearProof:
    """Run a habitat through a room's record, with a bar on the error output when that is a terminal."""
    from nestwright.climate.proof import prove_year

    with progress_bar(quiet) as bar:
        task = bar.add_task("running the year", total=1.0)
        return prove_year(habitat, air, progress=lambda share: bar.update(task, completed=float(share)))


def say_written(paths: list[Path]) -> None:
    """Say which files were written."""
    for path in paths:
        print(f"\nWritten: {path}")


def _show_year(result: YearProof, built: dict[str, Any] | None, written: list[Path], json: bool) -> None:
    if json:
        from nestwright.cli.output import print_json

        print_json(result.to_dict() | (built or {}))
        return
    from nestwright.cli.proof_text import print_year

    print_year(result, built)
    say_written(written)


def _show_growing(habitat: Any, air: Any, forecast: Path, json: bool) -> None:
    from nestwright.cli.growing import prove_forecast

    result = prove_forecast(habitat, air, forecast, quiet=json)
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
    else:
        from nestwright.cli.growing_text import print_growing

        print_growing(result)
