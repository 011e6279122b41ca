"""What a measurement from a photograph takes as given, each number with its source."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.data import Value

__all__ = ["photo_values"]


@functools.cache
def photo_values() -> dict[str, Value]:
    """Values of the measurement from photographs, by name."""
    text = (resources.files("nestwright.data") / "photo.toml").read_text("utf-8")
    return {
        name: Value(
            float(entry["value"]),
            float(entry["low"]),
            float(entry["high"]),
            str(entry["unit"]),
            str(entry["source"]),
            str(entry["mark"]),
        )
        for name, entry in tomllib.loads(text).items()
    }
