"""Moist air: saturation, humidity, density, transport. SI units; scalars or arrays alike.

The leaf functions use NumPy's own functions only, so that a compiler can take them as they are.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.data import constants

_C = {name: value.value for name, value in constants().items()}
_HW = tuple(_C[f"saturation_c{i}"] for i in range(8, 14))
_R = _C["gas_constant"]
_MA, _MV, _MC, _MO = _C["molar_mass_dry_air"], _C["molar_mass_water"], _C["molar_mass_co2"], _C["molar_mass_o2"]
_P0, _T0 = _C["standard_pressure"], _C["reference_temperature"]
_C0, _O0 = _C["co2_of_standard_air"], _C["o2_of_dry_air"]
_ICE = 273.15  # 0 degC, by definition


def saturation_pressure(temperature: Any) -> Any:
    """Saturation pressure over liquid water, Pa, without enhancement factor.

    temperature K, 273.15 to 473.15 (used below 0 degC as supercooled water). Hyland & Wexler 1983, as in ASHRAE
    Fundamentals, Psychrometrics, equation 6.

    >>> round(float(saturation_pressure(298.15)), 1)
    3169.2
    """
    t = temperature
    return np.exp(_HW[0] / t + _HW[1] + _HW[2] * t + _HW[3] * t**2 + _HW[4] * t**3 + _HW[5] * np.log(t))


def vapour_pressure(temperature: Any, relative_humidity: Any) -> Any:
    """Partial pressure of vapour, Pa, at a relative humidity of 0 to 1."""
    return relative_humidity * saturation_pressure(temperature)


def humidity_ratio(temperature: Any, relative_humidity: Any, pressure: Any = 101325.0) -> Any:
    """kg of vapour per kg of dry air. ASHRAE Fundamentals, Psychrometrics, equation 20.

    >>> round(float(humidity_ratio(293.15, 1.0)), 4)
    0.0147
    """
    e = vapour_pressure(temperature, relative_humidity)
    return _MV / _MA * e / (pressure - e)


def dew_point(temperature: Any, relative_humidity: Any, pressure: Any = 101325.0) -> Any:
    """Temperature K at which the air's vapour saturates, by Newton's method on the saturation curve.

    `pressure` is accepted for a common signature; without enhancement factor it has no effect. Relative humidity 0 to
    over 1; the result is clipped to 173 to 473 K.

    >>> round(float(dew_point(295.15, 0.45)) - 273.15, 2)
    9.53
    """
    wanted = np.log(np.maximum(vapour_pressure(temperature, relative_humidity), 1e-6))
    t = np.asarray(temperature, dtype=float) * 1.0
    for _ in range(12):
        value = np.log(saturation_pressure(t))
        slope = -_HW[0] / t**2 + _HW[2] + 2 * _HW[3] * t + 3 * _HW[4] * t**2 + _HW[5] / t
        t = np.clip(t - (value - wanted) / slope, 173.15, 473.15)
    return t


def wet_bulb(temperature: Any, relative_humidity: Any, pressure: Any = 101325.0) -> Any:
    """Thermodynamic wet-bulb temperature, K. ASHRAE Fundamentals, Psychrometrics, equation 33, by bisection.

    >>> round(float(wet_bulb(298.15, 0.5)) - 273.15, 1)
    17.9
    """
    w = humidity_ratio(temperature, relative_humidity, pressure)
    high = np.asarray(temperature, dtype=float) * 1.0
    low = dew_point(temperature, relative_humidity, pressure) * 1.0
    cp, cv, cw, latent = (
        _C["heat_capacity_dry_air"], _C["heat_capacity_vapour"], _C["heat_capacity_water"], _C["latent_heat_0"],
    )  # fmt: skip
    dry = np.asarray(temperature, dtype=float) - _ICE
    for _ in range(60):
        middle = (low + high) / 2
        wet = middle - _ICE
        ws = humidity_ratio(middle, 1.0, pressure)
        found = ((latent + (cv - cw) * wet) * ws - cp * (dry - wet)) / (latent + cv * dry - cw * wet)
        low, high = np.where(found < w, middle, low), np.where(found < w, high, middle)
    return (low + high) / 2


def density(temperature: Any, relative_humidity: Any, pressure: Any = 101325.0, co2: Any = 0.0004) -> Any:
    """Density of moist air, kg/m3, as a mixture of ideal gases (compressibility left out: under 0.05 %).

    `co2` is its mole fraction; CO2 above that of standard air (0.0004) takes the place of oxygen.

    >>> round(float(density(293.15, 0.5)), 3)
    1.199
    """
    e = vapour_pressure(temperature, relative_humidity)
    dry = _MA + (_MC - _MO) * (co2 - _C0)
    return ((pressure - e) * dry + e * _MV) / (_R * temperature)


def pressure_at_altitude(altitude: Any) -> Any:
    """Pressure of the standard atmosphere, Pa, at an altitude in m. ISO 2533:1975; ASHRAE Psychrometrics, eq. 3.

    >>> round(float(pressure_at_altitude(1000.0)))
    89875
    """
    slope, start = _C["lapse_rate"], _C["standard_temperature"]
    fall = 1 - slope / start * np.asarray(altitude, dtype=float)
    return _P0 * fall ** (_C["gravity"] * _C["molar_mass_dry_air_standard"] / (_R * slope))


def diffusivity_vapour(temperature: Any, pressure: Any = 101325.0) -> Any:
    """Diffusivity of water vapour in air, m2/s; ~T^n / p. Value and source: data/constants.toml."""
    return _C_DV * (temperature / _T0) ** _N_DV * _P0 / pressure


def diffusivity_co2(temperature: Any, pressure: Any = 101325.0) -> Any:
    """Diffusivity of CO2 in air, m2/s."""
    return _C_DC * (temperature / _T0) ** _N_DC * _P0 / pressure


def diffusivity_o2(temperature: Any, pressure: Any = 101325.0) -> Any:
    """Diffusivity of oxygen in air, m2/s."""
    return _C_DO * (temperature / _T0) ** _N_DO * _P0 / pressure


_C_DV, _N_DV = _C["diffusivity_vapour"], _C["diffusivity_vapour_exponent"]
_C_DC, _N_DC = _C["diffusivity_co2"], _C["diffusivity_co2_exponent"]
_C_DO, _N_DO = _C["diffusivity_o2"], _C["diffusivity_o2_exponent"]
_S1, _S2 = _C["viscosity_sutherland_factor"], _C["viscosity_sutherland_temperature"]
_K0, _NK = _C["conductivity_air"], _C["conductivity_air_exponent"]


def viscosity(temperature: Any) -> Any:
    """Dynamic viscosity of dry air, Pa s, by Sutherland's law (ISO 2533:1975).

    >>> round(float(viscosity(288.15)) * 1e6, 2)
    17.89
    """
    return _S1 * temperature**1.5 / (temperature + _S2)


def conductivity(temperature: Any) -> Any:
    """Thermal conductivity of dry air, W/(m K).

    >>> round(float(conductivity(300.0)), 4)
    0.0263
    """
    return _K0 * (temperature / _T0) ** _NK


def gas_constants() -> dict[str, float]:
    """The constants that the network's kernel takes, by its own names."""
    rest = (_MA - _O0 * _MO - _C0 * _MC) / (1 - _O0 - _C0)
    return {
        "R": _R,
        "M_vapour": _MV,
        "M_rest": rest,
        "M_co2": _MC,
        "M_o2": _MO,
        "c_vapour": _C["heat_capacity_vapour"],
        "c_water": _C["heat_capacity_water"],
        "latent": _C["latent_heat_25"],
        "air_heat": _C["heat_capacity_dry_air"] * _MA,
        "gravity": _C["gravity"],
    }
