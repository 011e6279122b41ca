"""The rules of data/live.toml: how far a clock may be off, how large a batch, a message or a request may be."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.data import Value

__all__ = ["live_value"]


@functools.cache
def _table() -> dict[str, Value]:
    raw = tomllib.loads((resources.files("nestwright.data") / "live.toml").read_text("utf-8"))
    return {name: Value(**entry) for name, entry in raw.items()}


def live_value(name: str) -> float:
    """A value by its name, in the unit of the file. Raises KeyError."""
    return float(_table()[name].value)
