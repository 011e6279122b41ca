"""The values that stand behind room air: `data/room.toml`, SI, with source and mark."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.data import Value

__all__ = ["room_values", "within"]


@functools.cache
def room_values() -> dict[str, Value]:
    """Values of room air by name, SI; `low` and `high` are equal to `value` where no range is given."""
    raw = tomllib.loads((resources.files("nestwright.data") / "room.toml").read_text("utf-8"))
    return {
        name: Value(
            float(e["value"]),
            float(e.get("low", e["value"])),
            float(e.get("high", e["value"])),
            e["unit"],
            e["source"],
            e["mark"],
        )
        for name, e in raw.items()
    }


def within(name: str, value: float) -> bool:
    """Whether a reading lies in the range of an `accept_...` value (SI, ends included; not for nan)."""
    entry = room_values()[name]
    return entry.low <= value <= entry.high
