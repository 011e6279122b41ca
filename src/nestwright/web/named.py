"""Names in addresses: a colony may be called "a/b", and its page still has one address."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from pydantic import AfterValidator, Field

__all__ = ["STROKE", "Named", "Row", "step"]

STROKE = "\ue000"
"""Stands for a stroke within a name while an address is taken apart (private use, Unicode)."""

Named = Annotated[str, AfterValidator(lambda told: told.replace(STROKE, "/"))]
"""A name out of a path."""

Row = Annotated[int, Field(ge=0, lt=2**63)]
"""A row or step of the record out of a path: no number that the database cannot hold."""


def step(name: str) -> str:
    """A name as one step of a path."""
    return quote(name, safe="")
