"""Surfaces in air: film coefficients, radiation, mass transfer and the temperature that a wet surface takes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from nestwright.data import constants
from nestwright.errors import InputError, nearest_name
from nestwright.physics import air, convection

_C = {name: value.value for name, value in constants().items()}
ORIENTATIONS = {
    "vertical": convection.nusselt_vertical_laminar,
    "unstable": convection.nusselt_unstable,
    "stable": convection.nusselt_stable,
}
"""Law of each orientation. `unstable`: hot side up or cold side down; `stable`: hot side down or cold side up."""


def film_coefficient(orientation: str, surface: Any, ambient: Any, size: Any, pressure: Any = 101325.0) -> Any:
    """Film coefficient of natural convection, W/(m2 K), not below conduction over `size` (Nu = 1).

    orientation: a key of ORIENTATIONS; `surface`, `ambient` K; `size` m: height of a vertical, area / perimeter of a
    level surface. Raises InputError for an unknown orientation.

    >>> round(float(film_coefficient("vertical", 299.0, 298.0, 0.1)), 1)
    2.5
    """
    if orientation not in ORIENTATIONS:
        raise InputError(
            "no such orientation of a surface",
            field="orientation",
            found=repr(orientation),
            allowed=", ".join(ORIENTATIONS),
            nearest=nearest_name(orientation, ORIENTATIONS),
        )
    ra = convection.rayleigh(surface, ambient, size, pressure)
    film = (surface + ambient) / 2
    return np.maximum(ORIENTATIONS[orientation](ra), 1.0) * air.conductivity(film) / size


def radiative_coefficient(emissivity: Any, one: Any, other: Any) -> Any:
    """Radiative coefficient of a small grey body in large surroundings, W/(m2 K): e s (Ta^2 + Tb^2) (Ta + Tb).

    It is exact for these two temperatures; held fixed it is the linearised law. Incropera, equation 1.9.

    >>> round(float(radiative_coefficient(0.9, 296.0, 294.0)), 2)
    5.24
    """
    return emissivity * _C["stefan_boltzmann"] * (one**2 + other**2) * (one + other)


def exchange_emissivity(one: Any, other: Any) -> Any:
    """Emissivity of two parallel grey surfaces against each other: 1 / (1/a + 1/b - 1). Incropera, equation 13.19.

    >>> round(float(exchange_emissivity(0.9, 0.9)), 3)
    0.818
    """
    return 1 / (1 / one + 1 / other - 1)


def mass_transfer(film: Any, temperature: Any, diffusivity: Any, pressure: Any = 101325.0) -> Any:
    """Mass transfer coefficient, m/s, from a film coefficient: h / (rho cp Le^2/3) with Le = a / D.

    Chilton & Colburn 1934, doi:10.1021/ie50299a012 (Incropera, equation 6.60). Properties of dry air.

    >>> round(float(mass_transfer(2.0, 298.15, 2.5e-5)) * 1e3, 2)
    1.83
    """
    lewis = convection.thermal_diffusivity(temperature, pressure) / diffusivity
    capacity = air.density(temperature, 0.0, pressure) * _C["heat_capacity_dry_air"]
    return film / (capacity * lewis ** (2 / 3))


def evaporation(film: Any, surface: Any, temperature: Any, relative_humidity: Any, pressure: Any = 101325.0) -> Any:
    """Evaporation from a wet surface, kg/(m2 s); negative for condensation.

    `surface`, `temperature` K. Mass transfer by the Lewis relation; what drives it is the difference of mole fraction
    at the concentration of the mean temperature, so that it turns at the dew point (Bird, Stewart & Lightfoot,
    Transport Phenomena, section 22.3). A difference of partial densities would add the thinness of the warmer air.

    >>> round(float(evaporation(3.0, 296.0, 298.0, 0.5)) * 86400, 2)
    2.1
    """
    mean = (surface + temperature) / 2
    beta = mass_transfer(film, mean, air.diffusivity_vapour(mean, pressure), pressure)
    difference = air.saturation_pressure(surface) - air.vapour_pressure(temperature, relative_humidity)
    return beta * _C["molar_mass_water"] / (_C["gas_constant"] * mean) * difference


def evaporating_temperature(
    temperature: float,
    difference: Callable[[float], float],
    molar_mass: float,
    latent: float,
    heat_to_mass: float,
    radiative_share: float = 0.0,
) -> float:
    """Temperature K of a surface that evaporates into air and draws the heat for it from that air, by bisection.

    difference(T): concentration of vapour at the surface of temperature T less that of the air, mol/m3; `molar_mass`
    kg/mol, `latent` J/kg, `heat_to_mass` = h / h_m in J/(m3 K), `radiative_share` = radiative over film coefficient,
    surroundings at air temperature. Incropera, section 6.7.2.

    >>> jar = evaporating_temperature(313.0, lambda t: 5000.0 / (8.314 * t), 0.2, 1e5, 1264.0)
    >>> round(jar - 273.15, 1)
    5.7
    """
    low, high = temperature - 150.0, temperature + 20.0

    def surplus(t: float) -> float:
        return heat_to_mass * (1 + radiative_share) * (temperature - t) - latent * molar_mass * difference(t)

    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if surplus(middle) > 0 else (low, middle)
    return (low + high) / 2


def wet_surface_temperature(
    temperature: float, relative_humidity: float, pressure: float = 101325.0, radiative_share: float = 0.0
) -> float:
    """Temperature K of a wet surface in air, adiabatic but for its share of radiation.

    Without radiation it lies close to the wet-bulb temperature (Le^2/3 of water in air is about 0.9).

    >>> round(wet_surface_temperature(298.15, 0.5) - 273.15, 1)
    17.7
    """
    ratio = 1 / float(mass_transfer(1.0, temperature, air.diffusivity_vapour(temperature, pressure), pressure))
    outside = float(air.vapour_pressure(temperature, relative_humidity))

    def difference(t: float) -> float:
        return (float(air.saturation_pressure(t)) - outside) / (_C["gas_constant"] * (t + temperature) / 2)

    water = _C["molar_mass_water"], _C["latent_heat_25"]
    return evaporating_temperature(temperature, difference, *water, ratio, radiative_share)
