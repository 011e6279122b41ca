"""`nestwright demo`: the example workshop, the proof of a habitat over a real year, and a colony's forecast."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import Annotated

import typer

from nestwright.errors import InputError
from nestwright.workshop.example import example_workshop

HABITAT = "habitats/three-pot.toml"
ROOM = "rooms/heated-room.toml"
STEADY = "22 degC, 50 %"


def demo(
    folder: Annotated[Path, typer.Argument(help="A new folder for the workshop.")] = Path("nestwright-demo"),
    force: Annotated[bool, typer.Option("--force", help="Write over what an earlier demo left there.")] = False,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Copy the example workshop, prove a habitat over a real year, forecast and diagnose a colony, and draw it all.

    Writes the workshop, eight pictures, the run as CSV, and one page that shows them.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("is a file, not a folder", file=str(folder))
    if folder.is_dir() and any(folder.iterdir()) and not force:
        raise InputError(
            "the folder is not empty", file=str(folder), allowed="a new or empty folder, or --force to write over it"
        )
    folder.parent.mkdir(parents=True, exist_ok=True)
    # All of it is made beside the folder and moved in at the end, so that a stop half way leaves nothing.
    scratch = Path(tempfile.mkdtemp(prefix=".nestwright-", dir=folder.parent))
    try:
        scratch.chmod(0o755)
        shutil.copytree(example_workshop(), scratch, dirs_exist_ok=True)
        _prove_and_draw(scratch, folder, json)
        _move_in(scratch, folder)
    finally:
        shutil.rmtree(scratch, ignore_errors=True)
    if not json:
        print(f"\nWritten: {folder}, with the workshop, eight pictures in {folder / 'pictures'}, and year.csv")
        print(f"Open {folder / 'index.html'} in a browser to see them together.")


def _prove_and_draw(scratch: Path, folder: Path, json: bool) -> None:
    from nestwright.cli import demo_colony
    from nestwright.cli.climate import run_year
    from nestwright.cli.demo_colony_page import colony_section
    from nestwright.cli.demo_page import page
    from nestwright.cli.output import print_json
    from nestwright.cli.pictures import draw_section, draw_window, draw_year
    from nestwright.cli.proof_text import print_year
    from nestwright.cli.window import print_window
    from nestwright.cli.year_table import write_table
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.files import write_whole
    from nestwright.habitat.file import read_habitat

    habitat = read_habitat(scratch / HABITAT)
    room = read_room(str(scratch / ROOM))
    year = run_year(habitat, room, quiet=json)
    chart = window(habitat, room)
    pictures = scratch / "pictures"
    pictures.mkdir(exist_ok=True)
    draw_section(habitat, prove(habitat, read_room(STEADY)), pictures / "section.svg")
    draw_window(chart, pictures / "window.svg")
    draw_year(year, pictures / "year.svg")
    write_table(year, scratch / "year.csv")
    grown = demo_colony.grow(scratch, quiet=json)
    demo_colony.draw(grown, pictures)
    section = colony_section(grown, demo_colony.COLONY, demo_colony.DAYS)
    write_whole(scratch / "index.html", page(year, chart, HABITAT, ROOM, STEADY, section))
    if json:
        print_json({"folder": str(folder), "year": year.to_dict(), "window": chart.to_dict()} | grown.to_dict())
    else:
        print_year(year)
        print()
        print_window(chart)
        print()
        demo_colony.print_grown(grown)


def _move_in(scratch: Path, folder: Path) -> None:
    if folder.is_dir():
        shutil.copytree(scratch, folder, dirs_exist_ok=True)
    else:
        os.rename(scratch, folder)
