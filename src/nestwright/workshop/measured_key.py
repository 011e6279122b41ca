"""What was measured, where it is written as a key of the design: it must be a value that the design has."""

from __future__ import annotations

import re
from pathlib import Path

from nestwright.document import read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.habitat.values import free_value

__all__ = ["check_measured"]

_KEY = re.compile(r"[a-z]+(\[\d+\])?(\.[\w \[\]-]+)+")


def check_measured(what: str, design: Path) -> None:
    """Words are taken as they are; a key such as "chamber.pot.height" is looked up in the design's file.

    A file that is gone or cannot be read tells nothing, and every key is taken.

    Raises
    ------
    InputError
        For a key that the design does not have, with the nearest name.
    """
    from nestwright.habitat.form import TABLES

    if not _KEY.fullmatch(what):
        return
    first = re.split(r"[.\[]", what)[0]
    try:
        tables = read_document(design).tables
    except (FileError, InputError):
        return
    if first in TABLES or first in tables:
        free_value(tables, what)
    elif near := nearest_name(first, TABLES):
        raise InputError(
            "there is no table of this name in a design", field=what, found=repr(first), allowed=", ".join(TABLES),
            nearest=near + what[len(first) :],
        )  # fmt: skip
