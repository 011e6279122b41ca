"""What `cost` and `batch` share: a habitat file as its parts with their sizes, and the workshop's lists beside it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.files import no_file

if TYPE_CHECKING:
    from nestwright.habitat.model import Habitat
    from nestwright.parts.layouts import Product
    from nestwright.parts.machines import Machines
    from nestwright.parts.prices import Prices

__all__ = ["list_file", "machines_for", "prices_for", "product_of"]


def product_of(path: Path) -> tuple[Habitat, Product]:
    """A habitat file with its parts and their sizes by closed form, without solids. Raises InputError."""
    from nestwright.habitat.file import read_habitat
    from nestwright.parts.layouts import Product
    from nestwright.parts.listing import parts_of
    from nestwright.parts.measure import measured_from_sizes

    habitat = read_habitat(path)
    assembly = parts_of(habitat)
    measured = {part.name: measured_from_sizes(part) for part in assembly.parts}
    return habitat, Product(assembly, measured, str(path))


def list_file(told: Path | None, habitat: Path, name: str, option: str) -> Path | None:
    """A list of the workshop: as told, else parts/NAME in the nearest folder above the habitat's file or above here."""
    if told is not None:
        if not told.is_file():
            raise InputError(no_file(told), field=option, found=str(told))
        return told
    for folder in (*habitat.resolve().parents, Path.cwd().resolve()):
        for end in (".toml", ".csv") if name == "prices" else (".toml",):
            if (folder / "parts" / f"{name}{end}").is_file():
                return folder / "parts" / f"{name}{end}"
    return None


def prices_for(told: Path | None, habitat: Path) -> Prices:
    """The price list. Raises InputError where there is none."""
    from nestwright.parts.prices import read_prices

    found = list_file(told, habitat, "prices", "--prices")
    if found is None:
        said = "there is no price list: the program has no prices of its own"
        raise InputError(said, field="--prices", allowed="a file, or parts/prices.toml in the workshop")
    return read_prices(found)


def machines_for(told: Path | None, habitat: Path, *, needed: bool) -> Machines:
    """The list of machines with own rates; an empty one where there is none and none is needed. Raises InputError."""
    from nestwright.parts.machines import Machines, read_machines

    older = list_file(None, habitat, "processes", "")
    if older is not None:
        said = "is not read any more: its rules belong into [rules] of machines.toml, its offsets to their machine"
        print(f"nestwright: {older}: {said}", file=sys.stderr)
    found = list_file(told, habitat, "machines", "--machines")
    if found is None:
        if needed:
            allowed = "a file, or parts/machines.toml in the workshop"
            raise InputError("there is no list of machines to plan for", field="--machines", allowed=allowed)
        return Machines()
    return read_machines(found)
