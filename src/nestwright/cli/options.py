"""Options that several commands share. Numbers are read to a value, or refused with what was found and is allowed.

For `typer.Option(parser=...)`. The command line library's own refusals do not say both, nor in the form of all others.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

from nestwright.errors import InputError

__all__ = ["ColonyFile", "PaperLanguage", "number", "whole"]

ColonyFile = Annotated[
    Path, typer.Argument(help="The colony file, or the name of a colony in the workshop.", show_default=False)
]
"""What the commands that fit a record are told of it."""

PaperLanguage = Annotated[str, typer.Option("--language", help="Of the paper: en or de.")]

_WHOLE = re.compile(r"\s*[+-]?\d+\s*", re.ASCII)
_SHOWN = 60


def whole(option: str, low: int, high: int) -> Callable[[str], int]:
    """A reader of whole numbers from `low` to `high`, which raises InputError with the option's name."""
    allowed = f"a whole number from {low} to {high}"

    def read(text: str) -> int:
        told = str(text)
        if not _WHOLE.fullmatch(told):
            raise InputError("is not a whole number", field=option, found=_short(told), allowed=allowed)
        # a text of more digits than any range has is not worth turning into a number
        value = int(told) if len(told.strip()) <= 20 else (-1 if "-" in told else 1) * 10**20
        if not low <= value <= high:
            message = "is too small" if value < low else "is too large"
            raise InputError(message, field=option, found=_short(told), allowed=allowed)
        return value

    return read


def number(option: str, low: float, high: float) -> Callable[[str], float]:
    """A reader of numbers from `low` to `high`, which raises InputError with the option's name."""
    allowed = f"a number from {low:g} to {high:g}"

    def read(text: str) -> float:
        told = str(text)
        try:
            value = float(told)
        except ValueError:
            value = math.nan
        if math.isnan(value):
            raise InputError("is not a number", field=option, found=_short(told), allowed=allowed)
        if not low <= value <= high:
            message = "is too small" if value < low else "is too large"
            raise InputError(message, field=option, found=_short(told), allowed=allowed)
        return value

    return read


def _short(text: str) -> str:
    told = repr(text)
    return told if len(told) <= _SHOWN else told[: _SHOWN - 4] + " ..."
