"""`nestwright size`: free sizes that give the largest worst margin."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.progress import progress_bar
from nestwright.cli.where import OnCluster, place_of
from nestwright.climate.size_free import WINDOW_FORM, parse_window
from nestwright.wording.sizes import free_rows, side_rows, size_verdict, trade_rows

if TYPE_CHECKING:
    from nestwright.climate.size_results import SizeResult
    from nestwright.habitat.findings import Finding


def size(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    free: Annotated[
        list[str],
        typer.Option(
            "--free", help='A free value and its bounds, "vent.crown.count=4..40"; up to four.', show_default=False
        ),
    ],
    room: Annotated[
        list[str] | None,
        typer.Option("--room", help="A room to hold in, as for climate; may be given again.", show_default=False),
    ] = None,
    window: Annotated[
        str,
        typer.Option("--window", help="Room air to hold in where no room is given."),
    ] = WINDOW_FORM,
    year: Annotated[bool, typer.Option("--year", help="Run the best choice through each room's record.")] = False,
    cluster: OnCluster = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Find the free sizes, one to four, that give the largest worst margin in the rooms or the window named.

    Says when no choice within the bounds holds every limit and which limit forbids it, and shows the trade
    between two limits that conflict. Ctrl-C ends the search with the best choice so far.
    """
    temperature, humidity = parse_window(window)
    place = place_of(cluster)

    from nestwright.climate.rooms import read_room
    from nestwright.climate.sizing import parse_free
    from nestwright.climate.sizing import size as solve
    from nestwright.letters import count_of
    from nestwright.pieces import working_at

    values = [parse_free(text) for text in free]
    rooms = [read_room(text) for text in room or []]
    with working_at(place), progress_bar(json, counted=False) as shown:
        task = shown.add_task("searching", total=None)

        def progress(tried: int, best: float) -> None:
            tries = count_of(tried, "choice")
            shown.update(task, description=f"searching: {tries} tried, best worst margin {best:+.2f}")

        result = solve(
            file, values, rooms, temperature=temperature, relative_humidity=humidity, year=year, progress=progress
        )
    through = _let_through(file, result)
    if json:
        from nestwright.cli.output import print_json

        print_json(result.to_dict() | {"lets_through": [f"{one.message}; {one.allowed}" for one in through]})
    else:
        print_size(result, through)


def _let_through(file: Path, result: SizeResult) -> tuple[Finding, ...]:
    """Openings of the sizes found that the smallest worker passes; none looked at where no opening was free."""
    from nestwright.habitat.file import with_values
    from nestwright.parts.ants import let_through

    if not any(one.key.startswith(("vent.", "grid.")) for one in result.free):
        return ()
    return let_through(with_values(file, {one.key: one.best for one in result.free}))


def print_size(result: SizeResult, through: tuple[Finding, ...] = ()) -> None:
    """Print the sizes found, the limits at them, what forbids more, and the trade between two limits."""
    from nestwright.cli.output import CAUTIONS, console, figure, heading, plain, share_text, table
    from nestwright.data import limit_tolerances

    out = console()
    out.print(f"[bold]{plain(result.habitat)}[/bold], revision {plain(result.revision)}: sizes for")
    for name in result.rooms:
        out.print(f"  {plain(name)}")
    word, rest, before = size_verdict(result)
    out.print(f"\n[bold]{word}[/bold] {plain(rest)}")
    out.print(f"Worst margin {figure(result.worst_margin, 1, sign=True)} tolerances. {before}".rstrip())
    out.print(heading("Free sizes"))
    head, rows = free_rows(result)
    out.print(table(head, rows, left=(0, 1, 2, 3, 4)))
    out.print(heading("Limits at the best choice, each in its worst room air; margins in tolerances"))
    out.print(table(*side_rows(result)))
    steps = limit_tolerances()
    out.print(
        "[dim]Margin: how far inside its limit, in tolerances; below 0 it is broken. One is "
        f"{steps['temperature']:g} K, {100 * steps['relative_humidity']:g} % RH, {100 * steps['co2']:g} % CO2 "
        "(judgement).[/dim]"
    )
    out.print("[dim]Best alone: what this limit could reach within the bounds if no other mattered.[/dim]")
    if result.trade_off is not None:
        trade = result.trade_off
        out.print(heading("The trade"))
        out.print(f"{plain(trade.first)} and {plain(trade.second)} pull the sizes to different sides.")
        out.print(table(*trade_rows(trade)))
    for check in result.years:
        out.print(heading(f"Over the record of {check.room}"))
        word = "Every limit holds" if check.holds else "Does not hold"
        out.print(
            f"{word}; the first to go is {plain(check.first_limit)} ({figure(check.worst_margin, 1, sign=True)}), "
            f"least share of hours held: {share_text(check.hours_held_share * 100)}."
        )
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print(heading("Cautions"))
    for one in through:
        out.print(f"[bold]Escape:[/bold] {plain(one.message)}: {plain(one.found)}; {plain(one.allowed)}")
    if any(f.key.startswith("heater.") for f in result.free):
        out.print(CAUTIONS["heater"])
    out.print(CAUTIONS["law"])
