"""What a measurement from a photograph takes as given, each number with its source."""

from __future__ import annotations

from nestwright.data import Value, read_values

__all__ = ["photo_values"]


def photo_values() -> dict[str, Value]:
    """Values of the measurement from photographs, by name."""
    return read_values("photo.toml")
