"""`nestwright caresheet`: what a buyer has to know, from this design's own figures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.errors import InputError

if TYPE_CHECKING:
    from datetime import date

    from nestwright.habitat.model import Habitat
    from nestwright.workshop.folder import Workshop

POINTS = 40


def caresheet(
    of: Annotated[str, typer.Argument(help="A build of the workshop, or a habitat file.", show_default=False)],
    room: Annotated[str, typer.Option("--room", help="The buyer's room.")] = "21 degC, 45 %",
    out: Annotated[Path, typer.Option("--out", help="Written: .pdf, or .html for a phone.")] = Path("care-sheet.pdf"),
    language: Annotated[str, typer.Option("--language", help="en or de.")] = "en",
    large: Annotated[bool, typer.Option("--large", help="Large print.")] = False,
    folder: Annotated[
        Path | None, typer.Option("--workshop", help="The workshop's folder; else the one that you stand in.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Write a care sheet for the buyer of a habitat: where it may stand, water, leaves, bells, signs, cautions."""
    from datetime import date

    from nestwright.cli.progress import progress_bar
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.data import load_species
    from nestwright.files import check_place, write_whole
    from nestwright.papers.care import care_html, care_pdf
    from nestwright.papers.care_content import HUMIDITIES, care_of
    from nestwright.papers.words import words_of

    check_place(out, ".pdf", ".html")
    words_of(language)
    habitat, serial, colony, full = _found(of, folder)
    try:
        air = read_room(room)
    except InputError as e:
        if e.file:
            raise
        raise InputError(e.message, field="--room", found=e.found, allowed=e.allowed, nearest=e.nearest) from None
    card = load_species(habitat.species)
    with progress_bar(json) as bar:
        task = bar.add_task("proving (the first time this takes a minute)", total=1.0)
        proof = prove(habitat, air)
        bar.update(task, completed=0.2)
        t = proof.room_temperature - 273.15
        by_humidity = [
            (h, prove(habitat, read_room(f"{t:.4f} degC, {100 * h:.0f} %"), uncertainty=False)) for h in HUMIDITIES
        ]
        bar.update(task, completed=0.4, description="mapping its rooms")
        field = window(habitat, points=POINTS)
        bar.update(task, completed=1.0)
    care = care_of(habitat, card, field, proof, by_humidity, serial=serial, colony=colony, full=full)
    made = care_html(care, field, language).encode() if out.suffix.lower() == ".html" else None
    write_whole(out, made if made is not None else care_pdf(care, field, date.today(), language, large=large))
    if json:
        from nestwright.cli.output import print_json

        print_json({**care.to_dict(), "file": str(out)})
        return
    where = "its own proof does not hold in this room: the sheet says so" if not care.holds else "holds in this room"
    print(f"{care.habitat}, revision {care.revision}: {where}")
    print(f"Written: {out}")


def _found(of: str, folder: Path | None) -> tuple[Habitat, str, str, tuple[date, date] | None]:
    """The design that is meant; serial, colony and the days between which its bell is full where a build is named."""
    from nestwright.habitat.file import read_habitat

    if of.endswith(".toml") or Path(of).is_file():
        return read_habitat(of), "", "", None
    from nestwright.cli.record import workshop_of
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        made = find_build(connection, of)
    habitat = read_habitat(workshop.folder / str(made.values["habitat"]))
    if made.values["revision"] and habitat.revision != made.values["revision"]:
        raise InputError(
            "the design's file has another revision than this build: its sheet would tell of another habitat",
            file=str(made.values["habitat"]), field="revision", found=habitat.revision,
            allowed=f"the file of revision {made.values['revision']}",
        )  # fmt: skip
    return habitat, made.serial, made.colony, _full(workshop, made.colony) if made.colony else None


def _full(workshop: Workshop, colony: str) -> tuple[date, date] | None:
    """First and last day, 8 in 10, on which the bell of a colony is full; None where there is no forecast of it."""
    from datetime import datetime

    from nestwright.workshop.colonies import colony_tables, find_colony, model_colony
    from nestwright.workshop.database import reading
    from nestwright.workshop.kept_forecasts import forecast_of

    with reading(workshop.engine) as connection:
        kept = find_colony(connection, colony)
        model, tables = model_colony(connection, kept), colony_tables(connection, kept)
    try:
        found, _ = forecast_of(workshop.folder, model, tables, datetime.now(workshop.zone).date())
    except InputError:
        return None
    due = found.full
    return (due.early, due.late) if due is not None and due.early is not None and due.late is not None else None
