"""The rules of data/live.toml: how far a clock may be off, how large a batch, a message or a request may be."""

from __future__ import annotations

from nestwright.data import read_values

__all__ = ["live_value"]


def live_value(name: str) -> float:
    """A value by its name, in the unit of the file. Raises KeyError."""
    return read_values("live.toml")[name].value
