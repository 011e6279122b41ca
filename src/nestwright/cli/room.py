"""`nestwright room`: a room's year from a weather file, a logger's file, a room file or fixed values."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from nestwright.errors import InputError

_ENDS = {"lowest": "lowest", "p5": "5 %", "median": "median", "p95": "95 %", "highest": "highest"}


def room(
    spec: Annotated[
        str,
        typer.Argument(
            metavar="SPEC",
            help='A weather file (EPW, TMY3), a logger CSV, a room file, or fixed air such as "21 degC, 45 %".',
            show_default=False,
        ),
    ],
    out: Annotated[
        Path | None, typer.Option("--out", help="Write the room as CSV, to be used as a room.", show_default=False)
    ] = None,
    set_point: Annotated[
        str | None,
        typer.Option("--set-point", help='Heating set-point under a weather year, "20 degC".', show_default=False),
    ] = None,
    humidity_class: Annotated[
        int | None,
        typer.Option("--class", help="Moisture class 1 to 5 of ISO 13788 under a weather year.", show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the summary as JSON.")] = False,
) -> None:
    """Build a room's air over the year and say what it is like.

    From a weather file with a heating set-point and a moisture class, or from the file of a logger that stood
    in the room. What --out writes is a room for the other commands.
    """
    if out is not None and out.suffix.lower() != ".csv":
        raise InputError("a room is written as CSV", field="--out", found=str(out), allowed="a name that ends in .csv")

    from nestwright.climate.rooms import read_room, room_summary, write_room

    air = read_room(spec, set_point=_kelvin(set_point), humidity_class=humidity_class)
    summary = room_summary(air)
    if out is not None:
        write_room(air, out)
    if json:
        from nestwright.cli.output import print_json

        print_json({**summary, "written": None if out is None else str(out)})
    else:
        print_room(summary)
        if out is not None:
            print(f"\nWritten: {out}")


def _kelvin(text: str | None) -> float | None:
    if text is None:
        return None
    from nestwright.units import UnitProblem, parse_quantity

    try:
        return parse_quantity(text, "temperature")
    except UnitProblem as p:
        raise InputError(p.message, field="--set-point", found=p.found, allowed=p.allowed, nearest=p.nearest) from None


def _gaps(summary: dict[str, Any]) -> str:
    if not summary["gaps"]:
        return "no gap over 3 h"
    return (
        f"{summary['gaps']} {'gap' if summary['gaps'] == 1 else 'gaps'} over 3 h, {summary['gap_hours']:.1f} h in all"
    )


def print_room(summary: dict[str, Any]) -> None:
    """Print what a room's air is like."""
    from nestwright.cli.output import console, figure, heading, plain, table

    out = console()
    out.print(f"[bold]{plain(summary['name'])}[/bold]")
    out.print(plain(summary["source"]))
    start = f" from {summary['start']}" if summary["start"] else ""
    out.print(f"{figure(summary['hours'], 0)} h{start}, {summary['knots']} knots, {_gaps(summary)}")
    out.print(f"{figure(summary['pressure_hPa'], 0)} hPa, {figure(summary['co2_ppm'], 0)} ppm CO2")
    out.print()
    rows = [
        [name, *(figure(summary[key][end], decimals) for end in _ENDS)]
        for name, key, decimals in (
            ("temperature, °C", "temperature_degC", 1),
            ("relative humidity, %", "relative_humidity_pct", 0),
        )
    ]
    out.print(table(["", *_ENDS.values()], rows))
    if summary["notes"]:
        out.print(heading("Notes"))
        for note in summary["notes"]:
            out.print(plain(note))
