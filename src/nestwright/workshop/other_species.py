"""A colony in a build whose design was made, and proved, for another species."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Connection

from nestwright.errors import InputError
from nestwright.files import plain_name
from nestwright.habitat.file import read_habitat
from nestwright.workshop.builds import Made
from nestwright.workshop.colonies import find_colony
from nestwright.workshop.folder import Workshop
from nestwright.workshop.kept_designs import FOLDER

__all__ = ["other_species", "stranger_in"]


def stranger_in(connection: Connection, workshop: Workshop, build: Made) -> str:
    """`other_species` of who lives in a build now; empty where nobody does."""
    return (
        other_species(workshop, build, find_colony(connection, build.colony).values["species"]) if build.colony else ""
    )


def other_species(workshop: Workshop, build: Made, species: str) -> str:
    """What to say of a colony of `species` that lives in a build, or moves into it; empty where the design is for it,
    or cannot be read."""
    file, revision = Path(str(build.values["habitat"])), plain_name(str(build.values["revision"]) or "none")
    kept = workshop.folder / FOLDER / f"{plain_name(file.stem)}-revision-{revision}.toml"
    try:
        designed = read_habitat(kept if kept.is_file() else workshop.folder / file).species
    except InputError:
        return ""
    if designed == species:
        return ""
    return (
        f"build {build.serial} was designed for {designed}, not for {species}: its limits and its proof are those of "
        f"{designed}; prove the design anew with the species of who lives in it"
    )
