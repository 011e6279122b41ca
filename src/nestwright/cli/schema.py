"""`nestwright schema`: print the JSON Schema of a file that a person writes."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

FILES = ("habitat", "colony", "parcel")


def schema(
    file: Annotated[str, typer.Argument(help="Which file: habitat, colony or parcel.")] = "habitat",
) -> None:
    """Print the JSON Schema of the habitat file, the colony file or the parcel file."""
    if file not in FILES:
        from nestwright.errors import InputError, nearest_name

        raise InputError(
            "there is no such file",
            field="schema",
            found=repr(file),
            allowed=", ".join(FILES),
            nearest=nearest_name(file, FILES),
        )
    if file == "colony":
        from nestwright.colony.file import colony_schema_text as text
    elif file == "parcel":
        from nestwright.parcel.schema import parcel_schema_text as text
    else:
        from nestwright.habitat.schema import schema_text as text
    sys.stdout.write(text())
