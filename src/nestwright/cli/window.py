"""`nestwright window`: the room air at which a habitat holds its limits."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from nestwright.climate.results import WindowMap

SIDES = {"cold": "too cold", "warm": "too warm", "dry": "too dry", "damp": "too damp"}


def window(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    room: Annotated[
        str | None, typer.Option("--room", help="A room whose hours are laid over the map.", show_default=False)
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Draw the map, as .svg or .png.", show_default=False)
    ] = None,
    points: Annotated[int, typer.Option("--points", min=5, max=200, help="Points along each side of the map.")] = 60,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Map the room temperatures and humidities at which a habitat holds its limits.

    Says which limit ends the window on each side, and with --room which share of its hours lies inside.
    """
    from nestwright.cli.pictures import check_picture_name, draw_window

    if out is not None:
        check_picture_name(out)

    from nestwright.climate.room_window import window as solve
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat

    habitat = read_habitat(file)
    result = solve(habitat, None if room is None else read_room(room), points=points)
    if out is not None:
        draw_window(result, out)
    if json:
        from nestwright.cli.output import print_json

        print_json(result)
        return
    print_window(result)
    if out is not None:
        print(f"\nWritten: {out}")


def print_window(result: WindowMap) -> None:
    """Print what a map says: its extent, the limits that end it, and the room's share of hours inside."""
    from nestwright.cli.output import console, figure, heading, plain, share_text, table
    from nestwright.climate.window_edges import extent
    from nestwright.wording.window import map_share, span

    out = console()
    out.print(f"[bold]{plain(result.habitat)}[/bold], revision {plain(result.revision)}: window of room air")
    low, high = result.temperature[0] - 273.15, result.temperature[-1] - 273.15
    dry, damp = result.relative_humidity[0] * 100, result.relative_humidity[-1] * 100
    out.print(f"Map from {figure(low, 0)} to {figure(high, 0)} °C and {figure(dry, 0)} to {figure(damp, 0)} % RH")
    inside, lies = result.worst >= 0, extent(result)
    if lies is None:
        point = result.worst.argmax()
        limit = result.limits[int(result.first.flat[point])]
        out.print(f"\n[bold]No room air on this map holds every limit.[/bold] At the best point it is {limit}.")
    else:
        (cold, warm), (dry, damp) = lies
        air = f"{span(cold - 273.15, warm - 273.15, 1, '°C')} and {span(100 * dry, 100 * damp, 0, '% RH')}"
        out.print(f"\n[bold]Holds[/bold] somewhere within {air} ({map_share(float(inside.mean()))} of the map).")
        step = (high - low) / max(1, len(result.temperature) - 1)
        moist = 100 * (result.relative_humidity[-1] - result.relative_humidity[0])
        moist /= max(1, len(result.relative_humidity) - 1)
        out.print(
            f"[dim]Edges are known to one step of the map: {figure(step, 1)} K and {figure(moist, 1)} % RH.[/dim]"
        )
    out.print(heading("What ends it"))
    out.print(
        table(
            ["side", "limit"], [[SIDES.get(k, k), v or "not on this map"] for k, v in result.ends.items()], left=(0, 1)
        )
    )
    if result.share_inside is not None:
        out.print(heading("The room"))
        out.print(f"{plain(result.room)}: {share_text(result.share_inside * 100)} of its hours inside")
    lost = round((1 - result.converged_share) * result.worst.size)
    if lost:
        out.print(f"Note: {lost} of {result.worst.size} points found no steady state.")
