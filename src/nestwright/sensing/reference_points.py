"""What a sensor is held against: salts, the ice point, outdoor air; each with its uncertainty."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from nestwright.errors import InputError
from nestwright.physics.air import saturation_pressure
from nestwright.sensing import salts
from nestwright.sensing.sensor_values import sensor_value

__all__ = ["Point", "ice_point", "outdoor_air", "salt_point"]


_STEP = 0.1
"""K, for the slope of the saturation pressure."""


@dataclass(frozen=True)
class Point:
    """One reference and what the sensor read there, SI; errors are standard uncertainties."""

    reference: float
    reference_error: float
    raw: float
    raw_error: float
    label: str = ""
    temperature: float | None = None
    """K; None where it does not matter"""

    def __post_init__(self) -> None:
        numbers = {"reference": self.reference, "raw": self.raw}
        errors = {"reference_error": self.reference_error, "raw_error": self.raw_error}
        for name, x in (numbers | errors).items():
            if not math.isfinite(x):
                raise InputError("not a number", field=name, found=str(x))
        for name, x in errors.items():
            if x < 0:
                raise InputError("an error cannot be negative", field=name, found=str(x))
        if self.reference_error == 0 == self.raw_error:
            raise InputError("reference and reading cannot both be without error", field="reference_error", found="0")

    def to_dict(self) -> dict[str, Any]:
        return asdict(self)


def salt_point(
    salt: str,
    temperature: float,
    raw: float,
    raw_error: float,
    *,
    temperature_error: float | None = None,
    temperature_gap: float | None = None,
) -> Point:
    """Point over a saturated salt solution.

    Parameters
    ----------
    salt : formula or common name.
    temperature : K, of the closed box.
    raw, raw_error : relative humidity that the sensor read, 0 to 1, and the standard error of that mean.
    temperature_error : standard uncertainty of `temperature`, K.
    temperature_gap : standard uncertainty of the difference of temperature between salt and sensor, K.
        Where these are not told: `box_temperature` and `salt_temperature_gap` of `data/sensors.toml` (judgement).

    Raises
    ------
    InputError : unknown salt, temperature outside its table, a value that is no number.

    Notes
    -----
    The reference has the uncertainty of the salt's table, of the temperature as far as the salt moves with it, and of
    the gap: the vapour pressure is that of the salt, the saturation pressure that of the sensor, so a gap dT shifts the
    humidity by its share d ln e_s / dT dT, 6 % of it for 1 K.
    """
    known = sensor_value("reference", "box_temperature").value if temperature_error is None else temperature_error
    gap = sensor_value("reference", "salt_temperature_gap").value if temperature_gap is None else temperature_gap
    reference = float(salts.relative_humidity(salt, temperature))
    pressures = np.log(saturation_pressure(temperature + np.array([-_STEP, _STEP])))
    by_gap = reference * float(pressures[1] - pressures[0]) / (2 * _STEP) * gap
    by_temperature = salts.slope(salt, temperature) * known
    error = math.hypot(float(salts.uncertainty(salt, temperature)), by_gap, float(by_temperature))
    return Point(reference, error, raw, raw_error, salts.formula(salt), temperature)


def ice_point(raw: float, raw_error: float, *, error: float | None = None) -> Point:
    """Point in melting crushed ice of clean water, K; `error` K is the ice's own standard uncertainty (judgement)."""
    ice = sensor_value("reference", "ice_point")
    # an even spread over low to high
    own = (ice.high - ice.low) / math.sqrt(12) if error is None else error
    return Point(ice.value + 273.15, own, raw, raw_error, "ice point", 273.15)


def outdoor_air(raw: float, raw_error: float, *, reference: float | None = None, error: float | None = None) -> Point:
    """Point in open outdoor air, mole fraction of carbon dioxide (judgement, unless reference and error are told)."""
    air = sensor_value("reference", "outdoor_air")
    level = air.value if reference is None else reference
    own = (air.high - air.low) / math.sqrt(12) if error is None else error
    return Point(level, own, raw, raw_error, "outdoor air")
