"""Walls: resistance of layers and films, time constants, and vapour that permeates. SI units."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from nestwright.data import assembly_values, constants
from nestwright.errors import InputError, nearest_name

FILMS = {"up": "outside_film_up", "level": "outside_film_level", "down": "outside_film_down"}
"""Direction of heat flow to the name of its film's value in data/assembly.toml."""


def film_resistance(direction: str) -> float:
    """Film resistance of a surface in a room, m2 K/W, for heat that flows `up`, `level` or `down`.

    Convection and radiation together, still air. ISO 6946:2017, table 7. Raises InputError for another direction.

    >>> [film_resistance(d) for d in ("up", "level", "down")]
    [0.1, 0.13, 0.17]
    """
    if direction not in FILMS:
        raise InputError(
            "no such direction of heat flow",
            field="direction",
            found=repr(direction),
            allowed=", ".join(FILMS),
            nearest=nearest_name(direction, FILMS),
        )
    return assembly_values()[FILMS[direction]].value


def layer_resistance(thickness: Any, conductivity: Any) -> Any:
    """Thermal resistance of one layer, m2 K/W: d / k. ISO 6946:2017, equation 3.

    >>> layer_resistance(0.004, 0.2)
    0.02
    """
    return thickness / conductivity


def layered_resistance(layers: Sequence[tuple[float, float]], *films: float) -> float:
    """Resistance of layers (thickness m, conductivity W/(m K)) and films (m2 K/W) in series. ISO 6946:2017, equation 4.

    >>> round(layered_resistance([(0.004, 0.2), (0.02, 0.036)], 0.13, 0.13), 3)
    0.836
    """
    return sum(layer_resistance(d, k) for d, k in layers) + sum(films)


def wind_film(wind: Any, radiative: Any) -> Any:
    """Film resistance of a surface in moving air, m2 K/W: 1 / (4 + 4 v + hr), v in m/s.

    ISO 6946:2017, annex C. At 4 m/s it is 0.04 m2 K/W.

    >>> round(wind_film(4.0, 5.1), 2)
    0.04
    """
    return 1 / (4 + 4 * wind + radiative)


def air_layer_thickness(thickness: Any, mu: Any) -> Any:
    """Diffusion-equivalent thickness of air of a layer, m: sd = mu d. ISO 13788:2012, section 3.1.

    >>> air_layer_thickness(0.004, 10000.0)
    40.0
    """
    return mu * thickness


def permeation(thickness: Any, mu: Any, difference: Any = 1.0) -> Any:
    """Vapour that passes a layer, kg/(m2 s), under a difference of vapour pressure in Pa: delta_0 dp / sd.

    ISO 13788:2012, equation 17; mu of materials: ISO 10456:2007. delta_0 = 2e-10 kg/(m s Pa), held constant.

    >>> round(permeation(0.02, 10.0, 1000.0) * 86400 * 1e3, 1)
    86.4
    """
    return constants()["vapour_permeability_air"].value * difference / air_layer_thickness(thickness, mu)


def layered_permeation(layers: Sequence[tuple[float, float]], difference: float = 1.0) -> float:
    """Vapour that passes layers (thickness m, mu) in series, kg/(m2 s). ISO 13788:2012, equations 16 and 17.

    >>> layered_permeation([(0.01, 10.0), (0.01, 10.0)]) == permeation(0.02, 10.0)
    True
    """
    return float(permeation(sum(air_layer_thickness(d, mu) for d, mu in layers), 1.0, difference))


def lumped_time_constant(capacity: Any, conductance: Any) -> Any:
    """Time constant of a body of even temperature, s: C / G (J/K over W/K). Incropera, equation 5.7.

    >>> lumped_time_constant(100.0, 0.25)
    400.0
    """
    return capacity / conductance
