"""`nestwright dryrun`: an empty build's loggers against its design."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.record import InWorkshop, acting, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.climate.dry_run_log import Record
    from nestwright.climate.dry_run_results import DryRun
    from nestwright.workshop.builds import Made

STARTS = ("auto", "filled", "settled")


def dryrun(
    habitat: Annotated[
        Path,
        typer.Argument(help="The habitat file of the design, or the serial of a build.", show_default=False),
    ],
    logs: Annotated[
        list[Path] | None,
        typer.Argument(
            help="CSV files of the loggers: time, then chamber.temperature_degC, chamber.humidity_pct, "
            "chamber.co2_ppm; the room may stand in them as room. For a build: none, for the loggers placed in it.",
            show_default=False,
        ),
    ] = None,
    room: Annotated[
        str | None,
        typer.Option(
            "--room",
            help='The room\'s air, if not in the readings: a logger CSV, a room file, or "21 degC, 45 %".',
            show_default=False,
        ),
    ] = None,
    start: Annotated[
        str,
        typer.Option(
            "--start",
            help="filled: the block was filled and all closed at the first reading; settled: long before it; "
            "auto: as the first humidity tells.",
        ),
    ] = "auto",
    begin: Annotated[
        str | None,
        typer.Option("--from", help="For a build: first day or moment of its readings.", show_default=False),
    ] = None,
    end: Annotated[str | None, typer.Option("--to", help="For a build: the last.", show_default=False)] = None,
    folder: InWorkshop = None,
    picture: Annotated[
        Path | None,
        typer.Option(
            "--picture", help="Draw measured beside designed and fitted, as .svg or .png.", show_default=False
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Fit the openings and the block of an empty build to its loggers, and say whether it behaves as designed.

    Prints the verdict with its chance, the part that explains a difference best, each part's factor on the
    design with an 80 % interval, the air change from each decay of tracer, and the margin of each limit before
    and after. A release of CO2 shows in the readings by itself; its decay is read from the peak.
    """
    from nestwright.cli.pictures import check_picture_name

    if start not in STARTS:
        from nestwright.errors import nearest_name

        raise InputError(
            "no such start", field="--start", found=repr(start[:40]), allowed=", ".join(STARTS),
            nearest=nearest_name(start, STARTS),
        )  # fmt: skip
    if picture is not None:
        check_picture_name(picture)

    from nestwright.climate.dry_run_log import read_logs
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat

    made = find_made(habitat, folder)
    if made is None:
        for flag, given in (("--from", begin), ("--to", end)):
            if given is not None:
                raise InputError("belongs to a build's readings", field=flag, allowed="with the serial of a build")
        design = read_habitat(habitat)
    else:
        design = read_habitat(workshop_of(folder).folder / str(made.values["habitat"]))
    record = recorded(made, folder, begin, end) if made is not None and not logs else read_logs(logs or [])
    air = None if room is None else read_room(room)
    result = run_dry(design, record, air, start=start, quiet=json)
    if picture is not None:
        from nestwright.charts.dry_run import dry_run_chart
        from nestwright.charts.save import picture_bytes
        from nestwright.files import write_whole

        write_whole(picture, picture_bytes(dry_run_chart(result), picture.suffix.lower()))
    kept = "" if made is None else keep(made, folder, result)
    if json:
        from nestwright.cli.output import print_json

        print_json(result.to_dict() | ({"kept": kept} if kept else {}))
    else:
        from nestwright.cli.dryrun_text import print_dry_run

        print_dry_run(result)
        if made is not None:
            print(f"\nKept with build {made.serial}: {kept}")
        if picture is not None:
            print(f"\nWritten: {picture}")


def find_made(name: Path, folder: Path | None) -> Made | None:
    """The build of a serial; None for a habitat file. Raises InputError for neither."""
    if name.exists() or name.suffix == ".toml" or len(name.parts) != 1:
        return None
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading

    try:
        workshop = workshop_of(folder)
    except InputError:
        if folder is not None:
            raise
        allowed = "a habitat file, or the serial of a build in the workshop that you stand in"
        raise InputError("there is no such file", file=str(name), allowed=allowed) from None
    with reading(workshop.engine) as connection:
        return find_build(connection, str(name))


def recorded(made: Made, folder: Path | None, begin: str | None, end: str | None) -> Record:
    """Readings of the loggers placed in a build. Raises InputError."""
    from nestwright.workshop.database import reading
    from nestwright.workshop.dry_runs import dry_run_record
    from nestwright.workshop.moments import moment_of

    workshop = workshop_of(folder)
    low = 0 if begin is None else moment_of(begin, workshop.zone, "--from")
    high = 2**62 if end is None else moment_of(end, workshop.zone, "--to", end=True)
    if low >= high:
        raise InputError("ends before it begins", field="--to", found=str(end), allowed=f"after {begin}")
    with reading(workshop.engine) as connection:
        return dry_run_record(connection, workshop, made, low, high)


def keep(made: Made, folder: Path | None, result: DryRun) -> str:
    """Keep a dry run with its build: the file under the workshop."""
    from nestwright.cli.output import as_json
    from nestwright.workshop.dry_runs import keep_dry_run

    workshop = workshop_of(folder)
    passed = result.verdict == "as designed" if result.sure else None
    with acting(workshop, f"dry run of build {made.serial}") as done:
        return keep_dry_run(done, workshop, made, as_json(result.to_dict()), passed)


def run_dry(design: Any, record: Any, air: Any, *, start: str = "auto", quiet: bool = False) -> DryRun:
    """Run the fit, with a bar on a terminal's error output. A model that finds no rest is the input's."""
    from nestwright.cli.progress import progress_bar
    from nestwright.climate.dry_run import dry_run
    from nestwright.climate.proof import NotSettled

    with progress_bar(quiet) as bar:
        task = bar.add_task("making the model ready (the first time this takes a minute)", total=1.0)

        def told(share: float) -> None:
            bar.update(task, completed=share, description="fitting the build")

        try:
            return dry_run(design, record, air, start=start, progress=told)
        except NotSettled as reason:
            raise InputError("the design cannot be run in this room", found=str(reason)) from None
