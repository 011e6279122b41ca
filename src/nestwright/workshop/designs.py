"""The file of a design, as a person names it: a path, or the name of a file in the workshop's habitats/."""

from __future__ import annotations

from pathlib import Path

from nestwright.errors import InputError, nearest_name
from nestwright.units import shown

__all__ = ["design_file", "design_names", "no_design"]


def design_names(folder: Path) -> list[str]:
    """Names of the designs of a workshop: of the files in habitats/, without their ending."""
    return sorted(file.stem for file in (folder / "habitats").glob("*.toml"))


def design_file(told: str, folder: Path, *, field: str, outside: bool = False) -> Path:
    """The file of a design, resolved: from where one stands, from the workshop's folder, or in habitats/ by its name.

    Raises
    ------
    InputError
        For one that is not there or, unless `outside` is allowed, not in the workshop; with the nearest name.
    """
    home = folder.resolve()
    for place in (Path(told), home / told, home / "habitats" / told, home / "habitats" / f"{told}.toml"):
        try:
            if place.is_file() and (outside or place.resolve().is_relative_to(home)):
                return place.resolve()
        except (OSError, ValueError):  # a name too long, or with a NUL in it
            break
    raise no_design(told, folder, field)


def no_design(told: str, folder: Path, field: str) -> InputError:
    """That a design is not there, with those that are."""
    known = design_names(folder)
    return InputError(
        "is no design of this workshop",
        field=field,
        found=shown(told),
        allowed=", ".join(known)[:400] or "none yet: put its file into habitats/",
        nearest=nearest_name(Path(told[:200]).stem, known),
    )
