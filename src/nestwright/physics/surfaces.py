"""Exchange of heat and water at surfaces: natural convection, radiation, the Lewis relation. SI units.

Kinds of surface: "side" (upright), "top" (looks down into the chamber), "base" (looks up). `film_coefficient` is the
short form that the network uses; the correlations by Rayleigh number stand beside it so that it can be judged.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.data import assembly_values, constants
from nestwright.errors import InputError
from nestwright.physics import air

_C = {name: value.value for name, value in constants().items()}
_A = {name: value.value for name, value in assembly_values().items()}
_OUTSIDE = {"up": "outside_film_up", "level": "outside_film_level", "down": "outside_film_down"}


def prandtl(temperature: Any) -> Any:
    """Prandtl number of dry air at a temperature in K: cp mu / k.

    >>> round(float(prandtl(300.0)), 2)
    0.71
    """
    return _C["heat_capacity_dry_air"] * air.viscosity(temperature) / air.conductivity(temperature)


def rayleigh(surface: Any, ambient: Any, length: Any, pressure: Any = 101325.0) -> Any:
    """Rayleigh number of air at a surface, properties at the film temperature, expansion 1/T.

    surface, ambient K; length m; pressure Pa. Incropera, Fundamentals of Heat and Mass Transfer, equation 9.25.

    >>> round(float(rayleigh(313.15, 287.15, 0.4)) / 1e8, 2)
    1.56
    """
    film = (surface + ambient) / 2
    mu, k = air.viscosity(film), air.conductivity(film)
    rho = air.density(film, 0.0, pressure)
    beta = 1 / film
    return (
        _C["gravity"] * beta * np.abs(surface - ambient) * length**3 * rho**2 * _C["heat_capacity_dry_air"] / (mu * k)
    )


def nusselt_vertical(rayleigh_number: Any, prandtl_number: Any = 0.71) -> Any:
    """Mean Nusselt number of an upright plate by its height.

    Churchill & Chu 1975, Int J Heat Mass Transfer 18:1323, doi:10.1016/0017-9310(75)90243-4: the laminar form below
    Ra 1e9, the form for all Ra above (Incropera, equations 9.27 and 9.26).

    >>> round(float(nusselt_vertical(1.813e9, 0.69)))
    147
    """
    ra = np.asarray(rayleigh_number, float)
    shape = 1 + (0.492 / prandtl_number) ** (9 / 16)
    laminar = 0.68 + 0.670 * ra**0.25 / shape ** (4 / 9)
    every = (0.825 + 0.387 * ra ** (1 / 6) / shape ** (8 / 27)) ** 2
    return np.where(ra <= 1e9, laminar, every)


def nusselt_level(rayleigh_number: Any, unstable: bool) -> Any:
    """Mean Nusselt number of a level plate by its area over its perimeter.

    Unstable: warm and looking up, or cold and looking down. McAdams, as in Incropera, equations 9.30 to 9.32 (fourth
    edition): 0.54 Ra^(1/4) up to 1e7, 0.15 Ra^(1/3) above; stable 0.27 Ra^(1/4).

    >>> round(float(nusselt_level(1.38e8, True)), 1), round(float(nusselt_level(1.38e8, False)), 1)
    (77.5, 29.3)
    """
    ra = np.asarray(rayleigh_number, float)
    if not unstable:
        return 0.27 * ra**0.25
    return np.where(ra <= 1e7, 0.54 * ra**0.25, 0.15 * ra ** (1 / 3))


def film_coefficient(kind: str, difference: Any, length: Any, still: Any = 0.0) -> Any:
    """Coefficient of heat between a surface and the air, W/(m2 K): the form that the network uses.

    kind "side", "top" or "base"; difference K, surface less air; length m; `still` W/(m2 K), what conduction gives in
    air at rest. The fourth-power blend of `still` with c (|dT| / length)^(1/4) (Holman, Heat Transfer, simplified
    equations for free convection to air; c in data/assembly.toml). Raises InputError for another kind.

    >>> round(float(film_coefficient("side", 26.0, 0.4)), 2)
    4.03
    """
    try:
        warm, cool = {
            "side": ("convection_vertical", "convection_vertical"),
            "base": ("convection_unstable", "convection_stable"),
            "top": ("convection_stable", "convection_unstable"),
        }[kind]
    except KeyError:
        raise InputError("unknown kind of surface", found=repr(kind), allowed="side, top, base") from None
    d = np.asarray(difference, float)
    c = np.where(d > 0, _A[warm], _A[cool])
    return (still**4 + c**4 * np.abs(d) / length) ** 0.25


def outside_film(direction: str) -> float:
    """Resistance between a wall and the room, m2 K/W, radiation included: ISO 6946:2017, table 7.

    direction of the heat's flow: "up", "level" or "down". Raises InputError for another.

    >>> outside_film("level")
    0.13
    """
    if direction not in _OUTSIDE:
        raise InputError("unknown direction of heat flow", found=repr(direction), allowed=", ".join(_OUTSIDE))
    return _A[_OUTSIDE[direction]]


def radiative_coefficient(first: Any, second: Any, emissivity: Any = 1.0) -> Any:
    """Linearised coefficient of radiation, W/(m2 K): e s (T1^2 + T2^2)(T1 + T2), exact for these two temperatures.

    Temperatures K; emissivity that of the pair (`pair_emissivity`). ISO 6946:2017, annex C.

    >>> round(float(radiative_coefficient(293.15, 293.15)), 2)
    5.71
    """
    return emissivity * _C["stefan_boltzmann"] * (first**2 + second**2) * (first + second)


def pair_emissivity(first: Any, second: Any) -> Any:
    """Effective emissivity of two grey surfaces that see each other only: 1 / (1/e1 + 1/e2 - 1).

    Incropera, equation 13.24 (large parallel planes).

    >>> round(pair_emissivity(0.9, 0.9), 3)
    0.818
    """
    return 1 / (1 / first + 1 / second - 1)


def lewis_number(temperature: Any, pressure: Any = 101325.0) -> Any:
    """Thermal diffusivity of air over the diffusivity of water vapour in it. Temperature K, pressure Pa.

    >>> round(float(lewis_number(298.15)), 2)
    0.88
    """
    alpha = air.conductivity(temperature) / (air.density(temperature, 0.0, pressure) * _C["heat_capacity_dry_air"])
    return alpha / air.diffusivity_vapour(temperature, pressure)


def transfer_coefficient(film: Any, temperature: Any, pressure: Any = 101325.0) -> Any:
    """Coefficient of vapour transfer, m/s, at a film coefficient in W/(m2 K): h / (rho cp Le^(2/3)).

    Temperature K, pressure Pa. Incropera, equation 6.60 (Chilton-Colburn analogy).

    >>> round(float(transfer_coefficient(5.0, 298.15)) * 1e3, 2)
    4.58
    """
    rho = air.density(temperature, 0.0, pressure)
    return film / (rho * _C["heat_capacity_dry_air"] * lewis_number(temperature, pressure) ** (2 / 3))


def evaporation(
    film: Any, surface: Any, ambient: Any, relative_humidity: Any, activity: Any = 1.0, pressure: Any = 101325.0
) -> Any:
    """Water leaving a wet surface, kg/(m2 s); negative where it condenses.

    film W/(m2 K); surface, ambient K; relative humidity of the air and water activity of the surface 0 to 1.

    >>> bool(evaporation(5.0, 295.15, 298.15, 0.98) < 0)
    True
    """
    mean = (surface + ambient) / 2
    drive = activity * air.saturation_pressure(surface) - air.vapour_pressure(ambient, relative_humidity)
    return transfer_coefficient(film, mean, pressure) * drive * _C["molar_mass_water"] / (_C["gas_constant"] * mean)
