"""`nestwright parcels receive`: what to do first with a parcel that has come."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.options import number
from nestwright.cli.record import AsJson, InWorkshop, workshop_of
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.colony.results import Rescue
    from nestwright.parcel.receiving import Receiving

__all__ = ["receive"]


def receive(
    parcel: Annotated[
        str,
        typer.Argument(
            help="Name or number of the parcel, its colony (the last one), or a parcel file.", show_default=False
        ),
    ],
    late: Annotated[
        float,
        typer.Option(
            "--late",
            parser=number("--late", 0, 480),
            metavar="HOURS",
            help="With a parcel file: hours that it came late.",
        ),
    ] = 0.0,
    species: Annotated[
        str,
        typer.Option(
            "--species", help="Species card whose numbers hold; else that of its colony or file.", show_default=False
        ),
    ] = "",
    no_queen: Annotated[bool, typer.Option("--no-queen", help="There is no queen, or she is dead.")] = False,
    rescue: Annotated[
        bool, typer.Option("--rescue/--no-rescue", help="Compute the rescue of a garden that is lost.")
    ] = True,
    folder: InWorkshop = None,
    json: AsJson = False,
) -> None:
    """What to do first with a parcel that has come: warmth in steps, water, shade, its garden.

    It rests on what the logger inside measured, else on what was computed at dispatch, and on what was found. For a
    garden that is lost the rescue is computed for the workers that live. With a parcel file it rests on what is
    computed of the file.
    """  # fmt: skip
    from nestwright.cli.output import print_json
    from nestwright.cli.receiving_text import print_receiving

    named_file = parcel.lower().endswith(".toml")
    name, told = of_file(Path(parcel), late, species) if named_file else of_record(parcel, species, no_queen, folder)
    saved = rescue_of(told) if rescue else None
    if json:
        print_json({"parcel": name, **told.to_dict(), "rescue": None if saved is None else saved.to_dict()})
        return
    print(f"Parcel {name}, {told.species}")
    print_receiving(told)
    if saved is not None:
        from nestwright.cli.rescue_text import print_rescue

        print()
        print_rescue(saved)


def of_record(parcel: str, species: str, no_queen: bool, folder: Path | None) -> tuple[str, Receiving]:
    """Its name and what to do, of a parcel of the record. Raises InputError."""
    from nestwright.data import load_species
    from nestwright.parcel.receiving import receive as decide
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcel_logs import found_in
    from nestwright.workshop.parcel_predictions import journey_as_it_went, species_of
    from nestwright.workshop.parcels import find_parcel

    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        kept = find_parcel(connection, workshop.zone, parcel)
        told = species or species_of(connection, kept, workshop.folder)
        if not told:
            allowed = "--species, for a parcel without a colony of the record or a parcel file"
            raise InputError("its species is not told", field="--species", allowed=allowed)
        card = load_species(told)
        journey = journey_as_it_went(connection, kept, workshop.folder, workshop.zone, card)
    return kept.name, decide(card, journey, found_in(kept, not no_queen))


def of_file(file: Path, late: float, species: str) -> tuple[str, Receiving]:
    """Its name and what to do, of a parcel as its file tells it. Raises InputError."""
    from nestwright.data import load_species
    from nestwright.parcel.file import read_parcel
    from nestwright.parcel.receiving import Found
    from nestwright.parcel.receiving import receive as decide
    from nestwright.workshop.parcel_predictions import computed_journey

    parcel = read_parcel(file)
    card = load_species(species) if species else parcel.card
    return parcel.name, decide(card, computed_journey(parcel, late)[0], Found())


def rescue_of(told: Receiving) -> Rescue | None:
    """The rescue for the workers that live, where the garden counts as lost and they were counted."""
    if told.garden != "lost" or told.found.workers is None:
        return None
    from nestwright.colony.rescue import rescue as solve

    return solve(told.species, round(told.found.workers), queen=told.found.queen)
