"""What is taken for granted of sensors and of the references that they are held against."""

from __future__ import annotations

import functools
import tomllib
from importlib import resources

from nestwright.data import Value
from nestwright.errors import InputError, nearest_name

__all__ = ["QUANTITIES", "sensor_value"]

QUANTITIES = ("relative_humidity", "temperature", "co2")
"""Quantities that sensors are calibrated in: 0 to 1, K, mole fraction."""


@functools.cache
def _table() -> dict[tuple[str, str], Value]:
    raw = tomllib.loads((resources.files("nestwright.data") / "sensors.toml").read_text("utf-8"))
    return {(part, name): Value(**entry) for part, entries in raw.items() for name, entry in entries.items()}


def sensor_value(part: str, name: str) -> Value:
    """A value of `data/sensors.toml`, SI.

    Parameters
    ----------
    part : a quantity of `QUANTITIES`, "reference" or "settling".
    name : such as "drift".

    Raises
    ------
    InputError : `part` is no quantity, or has no such value.
    """
    table = _table()
    if (part, name) not in table:
        parts = sorted({p for p, _ in table})
        wrong, known = (part, parts) if part not in parts else (name, sorted(n for p, n in table if p == part))
        raise InputError(
            "not known of sensors", found=repr(wrong), allowed=", ".join(known), nearest=nearest_name(wrong, known)
        )
    return table[part, name]
