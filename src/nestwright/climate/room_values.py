"""The values that stand behind room air: `data/room.toml`, SI, with source and mark."""

from __future__ import annotations

from nestwright.data import Value, read_values

__all__ = ["room_values", "within"]


def room_values() -> dict[str, Value]:
    """Values of room air by name, SI; `low` and `high` are equal to `value` where no range is given."""
    return read_values("room.toml")


def within(name: str, value: float) -> bool:
    """Whether a reading lies in the range of an `accept_...` value (SI, ends included; not for nan)."""
    entry = room_values()[name]
    return entry.low <= value <= entry.high
