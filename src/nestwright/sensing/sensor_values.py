"""What is taken for granted of sensors and of the references that they are held against."""

from __future__ import annotations

from nestwright.data import Value, read_values
from nestwright.errors import InputError, nearest_name

__all__ = ["QUANTITIES", "sensor_value"]

QUANTITIES = ("relative_humidity", "temperature", "co2")
"""Quantities that sensors are calibrated in: 0 to 1, K, mole fraction."""


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
    table = read_values("sensors.toml")
    found = table.get(f"{part}.{name}")
    if found is None:
        parts = sorted({key.partition(".")[0] for key in table})
        names = sorted(key.removeprefix(f"{part}.") for key in table if key.startswith(f"{part}."))
        wrong, known = (name, names) if part in parts else (part, parts)
        raise InputError(
            "not known of sensors", found=repr(wrong), allowed=", ".join(known), nearest=nearest_name(wrong, known)
        )
    return found
