"""`nestwright dryrun`: an empty build's loggers against its design."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.climate.dry_run_results import DryRun

STARTS = ("auto", "filled", "settled")


def dryrun(
    habitat: Annotated[Path, typer.Argument(help="The habitat file of the design.", show_default=False)],
    logs: Annotated[
        list[Path],
        typer.Argument(
            help="CSV files of the loggers: time, then chamber.temperature_degC, chamber.humidity_pct, "
            "chamber.co2_ppm; the room may stand in them as room.",
            show_default=False,
        ),
    ],
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

    design = read_habitat(habitat)
    record = read_logs(logs)
    air = None if room is None else read_room(room)
    result = run_dry(design, record, air, start=start, quiet=json)
    if picture is not None:
        from nestwright.charts.dry_run import dry_run_chart
        from nestwright.charts.save import picture_bytes
        from nestwright.files import write_whole

        write_whole(picture, picture_bytes(dry_run_chart(result), picture.suffix.lower()))
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
    else:
        from nestwright.cli.dryrun_text import print_dry_run

        print_dry_run(result)
        if picture is not None:
            print(f"\nWritten: {picture}")


def run_dry(design: Any, record: Any, air: Any, *, start: str = "auto", quiet: bool = False) -> DryRun:
    """Run the fit, with a bar on a terminal's error output. A model that finds no rest is the input's."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    from nestwright.climate.dry_run import dry_run
    from nestwright.climate.proof import NotSettled

    bar = Progress(
        TextColumn("{task.description}"),
        BarColumn(),
        TimeRemainingColumn(),
        console=Console(stderr=True),
        transient=True,
        disable=quiet,
    )
    with bar:
        task = bar.add_task("fitting the build", total=1.0)
        try:
            return dry_run(
                design, record, air, start=start, progress=lambda share: bar.update(task, completed=float(share))
            )
        except NotSettled as reason:
            raise InputError("the design cannot be run in this room", found=str(reason)) from None
