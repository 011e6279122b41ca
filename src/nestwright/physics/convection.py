"""Natural and forced convection of air over plates, in enclosures and in ducts: Nusselt numbers. Scalars or arrays."""

from __future__ import annotations

from typing import Any

import numpy as np

from nestwright.data import constants
from nestwright.physics import air

_C = {name: value.value for name, value in constants().items()}


def thermal_diffusivity(temperature: Any, pressure: Any = 101325.0) -> Any:
    """Thermal diffusivity of dry air, m2/s: k / (rho cp).

    >>> round(float(thermal_diffusivity(300.0)) * 1e6, 1)
    22.2
    """
    return air.conductivity(temperature) / (air.density(temperature, 0.0, pressure) * _C["heat_capacity_dry_air"])


def prandtl(temperature: Any) -> Any:
    """Prandtl number of dry air: mu cp / k.

    >>> round(float(prandtl(300.0)), 2)
    0.71
    """
    return air.viscosity(temperature) * _C["heat_capacity_dry_air"] / air.conductivity(temperature)


def rayleigh(surface: Any, ambient: Any, size: Any, pressure: Any = 101325.0) -> Any:
    """Rayleigh number g |dT| L^3 / (T nu a) at the film temperature; `surface` and `ambient` K, `size` m.

    Air is taken as an ideal gas (expansion 1/T). Incropera, Fundamentals of Heat and Mass Transfer, equation 9.25.

    >>> round(float(rayleigh(313.0, 287.0, 0.4)) / 1e8, 2)
    1.56
    """
    film = (surface + ambient) / 2
    nu = air.viscosity(film) / air.density(film, 0.0, pressure)
    spread = nu * thermal_diffusivity(film, pressure)
    return _C["gravity"] * np.abs(np.subtract(surface, ambient)) * size**3 / (film * spread)


def nusselt_vertical(rayleigh_number: Any, prandtl_number: Any = 0.71) -> Any:
    """Mean Nusselt number of a vertical plate, laminar and turbulent, size = height.

    Churchill & Chu 1975, Int J Heat Mass Transfer 18:1323, doi:10.1016/0017-9310(75)90243-4, equation 9; Ra up to 1e12.

    >>> round(float(nusselt_vertical(1.814e9, 0.69)))
    147
    """
    spread = (1 + (0.492 / prandtl_number) ** (9 / 16)) ** (8 / 27)
    return (0.825 + 0.387 * rayleigh_number ** (1 / 6) / spread) ** 2


def nusselt_vertical_laminar(rayleigh_number: Any, prandtl_number: Any = 0.71) -> Any:
    """Mean Nusselt number of a vertical plate in laminar flow (Ra below 1e9), size = height.

    Churchill & Chu 1975, doi:10.1016/0017-9310(75)90243-4, the form for laminar flow; chambers of a habitat are here.

    >>> round(float(nusselt_vertical_laminar(1e6)), 1)
    16.9
    """
    spread = (1 + (0.492 / prandtl_number) ** (9 / 16)) ** (4 / 9)
    return 0.68 + 0.670 * rayleigh_number**0.25 / spread


def nusselt_unstable(rayleigh_number: Any) -> Any:
    """Mean Nusselt number of a level plate, hot side up or cold side down; size = area / perimeter.

    0.54 Ra^1/4, above 1e7 0.15 Ra^1/3 (McAdams 1954; Incropera, equations 9.30 and 9.31), joined by taking the
    larger; stated for Ra from 1e4.

    >>> round(float(nusselt_unstable(1e6)), 1)
    17.1
    """
    return np.maximum(0.54 * rayleigh_number**0.25, 0.15 * rayleigh_number ** (1 / 3))


def nusselt_stable(rayleigh_number: Any) -> Any:
    """Mean Nusselt number of a level plate, hot side down or cold side up: 0.27 Ra^1/4; size = area / perimeter.

    McAdams 1954; Incropera, equation 9.32; stated for Ra 1e5 to 1e10. Later editions give 0.52 Ra^1/5.

    >>> round(float(nusselt_stable(1e6)), 1)
    8.5
    """
    return 0.27 * rayleigh_number**0.25


def nusselt_side_heated(rayleigh_number: Any, prandtl_number: Any = 0.71) -> Any:
    """Mean Nusselt number across a squarish cavity with one warm and one cold side; size = distance between them.

    Berkovsky & Polevikov 1977 in Catton 1978 (Incropera, equation 9.51): 0.18 (Pr Ra / (0.2 + Pr))^0.29, not below
    conduction. Within about 12 % of the exact solutions of de Vahl Davis 1983, doi:10.1002/fld.1650030305.

    >>> round(float(nusselt_side_heated(1e5)), 2)
    4.72
    """
    return np.maximum(0.18 * (prandtl_number * rayleigh_number / (0.2 + prandtl_number)) ** 0.29, 1.0)


def nusselt_floor_heated(rayleigh_number: Any) -> Any:
    """Mean Nusselt number of a level layer of air heated from below; size = its height. No motion below Ra 1708.

    Hollands, Raithby & Konicek 1975, Int J Heat Mass Transfer 18:879, doi:10.1016/0017-9310(75)90179-9, for air.

    >>> round(float(nusselt_floor_heated(1000.0)), 1), round(float(nusselt_floor_heated(1e5)), 1)
    (1.0, 4.0)
    """
    ra = np.maximum(rayleigh_number, 1.0)
    return 1 + 1.44 * np.maximum(1 - 1708 / ra, 0) + np.maximum((ra / 5830) ** (1 / 3) - 1, 0)


def nusselt_duct(reynolds: Any, diameter: Any, length: Any, prandtl_number: Any = 0.71) -> Any:
    """Mean Nusselt number of laminar flow in a tube of even wall temperature, with its entry.

    Hausen 1943 (Incropera, equation 8.57): 3.66 + 0.0668 Gz / (1 + 0.04 Gz^2/3); Re below 2300.

    >>> round(float(nusselt_duct(0.1, 0.01, 1.0)), 2)
    3.66
    """
    gz = reynolds * prandtl_number * diameter / length
    return 3.66 + 0.0668 * gz / (1 + 0.04 * gz ** (2 / 3))
