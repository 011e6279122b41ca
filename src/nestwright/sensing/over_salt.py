"""From a logger's readings over a salt to a point of a calibration, once box and sensor are at rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from nestwright.errors import InputError
from nestwright.sensing import salts
from nestwright.sensing.equilibrium import Settled, settled
from nestwright.sensing.reference_points import Point, salt_point
from nestwright.sensing.sensor_values import sensor_value

__all__ = ["OverSalt", "over_salt"]


@dataclass(frozen=True)
class OverSalt:
    """The point, or None while humidity or temperature are not at rest; and what was found of both."""

    point: Point | None
    humidity: Settled
    temperature: Settled
    reason: str

    def to_dict(self) -> dict[str, Any]:
        return {
            "point": self.point.to_dict() if self.point else None,
            "humidity": self.humidity.to_dict(),
            "temperature": self.temperature.to_dict(),
            "reason": self.reason,
        }


def over_salt(
    salt: str,
    time_s: ArrayLike,
    relative_humidity: ArrayLike,
    temperature: ArrayLike,
    *,
    within: float | None = None,
    slowest: float | None = None,
    bridge: float | None = None,
    temperature_gap: float | None = None,
) -> OverSalt:
    """Point of a calibration from the readings of a sensor in a closed box over a salt.

    Parameters
    ----------
    salt : formula or common name.
    time_s : s, rising, shape (n,).
    relative_humidity : raw readings, 0 to 1, shape (n,).
    temperature : K in the box, shape (n,), or one number where it was read off once.
    within : distance from rest that may be left of the humidity (`settle_within` of `data/sensors.toml`).
    slowest, bridge : as for `equilibrium.settled`.
    temperature_gap : as for `reference_points.salt_point`.

    Raises
    ------
    InputError : unknown salt, temperature outside its table, times that do not rise.

    Notes
    -----
    The temperature counts over the readings at which the humidity is at rest; there it may not drift by more than what
    moves sensor and salt apart, `settle_within` of temperature.
    """
    salts.formula(salt)
    t, raw = np.asarray(time_s, dtype=float), np.asarray(relative_humidity, dtype=float)
    kelvin = np.asarray(temperature, dtype=float)
    if kelvin.shape not in ((), t.shape):
        raise InputError("one temperature, or one for each reading", field="temperature", found=str(kelvin.size))
    allowed = sensor_value("relative_humidity", "settle_within").value if within is None else within
    humidity = settled(t, raw, allowed, slowest=slowest, bridge=bridge)
    if humidity.start_index is None or humidity.value is None or humidity.error is None:
        return OverSalt(None, humidity, Settled(None, None, None, None, 0, "not looked at"), humidity.reason)
    if kelvin.shape == ():
        warmth = Settled(humidity.start_index, float(kelvin), 0.0, 0.0, 1, "read off once")
    else:
        rest = slice(humidity.start_index, None)
        drift = sensor_value("temperature", "settle_within").value
        # sensor and salt follow the room together: what parts them is a drift within minutes, not the way to its end
        warmth = settled(t[rest], kelvin[rest], drift, slowest=_lag(), bridge=bridge)
    if warmth.value is None:
        return OverSalt(None, humidity, warmth, f"the temperature is not at rest: {warmth.reason}")
    point = salt_point(salt, warmth.value, humidity.value, humidity.error, temperature_gap=temperature_gap)
    return OverSalt(point, humidity, warmth, humidity.reason)


def _lag() -> float:
    """Time by which a wet salt follows the air of its box, s."""
    return sensor_value("settling", "salt_lag").value
