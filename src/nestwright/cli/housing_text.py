"""What is known of a colony's housing, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from nestwright.wording.ranges import three

__all__ = ["housing_lines"]

HOUSING = {
    "chamber_ml": ("Chamber", "mL"),
    "opening_mm": ("Opening under the lid", "mm"),
    "lid_mm": ("Opening with the lid off", "mm"),
    "headroom_mm": ("Headroom", "mm"),
    "making_days": ("Time to make a bell", "days"),
    "chamber_days": ("Time to make a chamber", "days"),
}


def housing_lines(values: Mapping[str, Any]) -> list[str]:
    """What `colony set` told of the housing, a line each, and of the leaves."""
    told = [(words, values[name], unit) for name, (words, unit) in HOUSING.items()]
    lines = [f"{words}: {three(value)} {unit}" for words, value, unit in told if value is not None]
    return [*lines, f"Leaves: {'as much as they take' if values['leaves'] == 'free' else 'every leaf given is told'}"]
