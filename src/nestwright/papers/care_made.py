"""A care sheet's figures from a design and a room: the proofs and the map that it is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.papers.care_content import HUMIDITIES, Care, care_of

if TYPE_CHECKING:
    from nestwright.climate.results import WindowMap
    from nestwright.habitat.model import Habitat
    from nestwright.workshop.folder import Workshop

__all__ = ["POINTS", "SoldDesign", "design_of_build", "make_care"]

POINTS = 40
"""Of the field of rooms along each side."""
SoldDesign = tuple["Habitat", str, str, "tuple[date, date] | None"]
"""A design; serial and colony of its build, "" for none; days between which its bell is full."""


def make_care(
    design: SoldDesign, room: str, report: Callable[[float, str], None] = lambda share, words: None
) -> tuple[Care, WindowMap]:
    """The sheet's figures and its map. `report` is told the share done and what is being done.

    Raises InputError for a room that cannot be read.
    """
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.data import load_species

    habitat, serial, colony, full = design
    try:
        air = read_room(room)
    except InputError as e:
        if e.file:
            raise
        raise InputError(e.message, field="--room", found=e.found, allowed=e.allowed, nearest=e.nearest) from None
    card = load_species(habitat.species)
    proof = prove(habitat, air)
    report(0.2, "")
    t = proof.room_temperature - 273.15
    by_humidity = [
        (h, prove(habitat, read_room(f"{t:.4f} degC, {100 * h:.0f} %"), uncertainty=False)) for h in HUMIDITIES
    ]
    report(0.4, "mapping its rooms")
    field = window(habitat, points=POINTS)
    report(1.0, "")
    return care_of(habitat, card, field, proof, by_humidity, serial=serial, colony=colony, full=full), field


def design_of_build(workshop: Workshop, serial: str) -> SoldDesign:
    """The design of a build of the record, proved for who lives in it where that is another species, and the forecast.

    Raises InputError for an unknown build, and where the design's file has another revision than the build.
    """
    from nestwright.habitat.file import read_habitat
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.database import reading

    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    habitat = read_habitat(workshop.folder / str(made.values["habitat"]))
    if made.values["revision"] and habitat.revision != made.values["revision"]:
        raise InputError(
            "the design's file has another revision than this build: its sheet would tell of another habitat",
            file=str(made.values["habitat"]), field="revision", found=habitat.revision,
            allowed=f"the file of revision {made.values['revision']}",
        )  # fmt: skip
    if not made.colony:
        return habitat, made.serial, "", None
    # the buyer keeps this ant, whatever the design was drawn for
    species, full = _living(workshop, made.colony)
    return replace(habitat, species=species), made.serial, made.colony, full


def _living(workshop: Workshop, colony: str) -> tuple[str, tuple[date, date] | None]:
    """A colony's species, and the first and last day, 8 in 10, on which its bell is full, or its chamber where it has
    no bell; None where no forecast names them."""
    from nestwright.workshop.colonies import colony_tables, find_colony, model_colony
    from nestwright.workshop.database import reading
    from nestwright.workshop.kept_forecasts import forecast_of

    with reading(workshop.engine) as connection:
        kept = find_colony(connection, colony)
        model, tables = model_colony(connection, kept), colony_tables(connection, kept)
    try:
        found, _ = forecast_of(workshop.folder, model, tables, datetime.now(workshop.zone).date())
    except InputError:
        return model.species, None
    due = found.full or found.chamber_full
    if due is None or due.early is None or due.late is None:
        return model.species, None
    return model.species, (due.early, due.late)
