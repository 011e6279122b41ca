"""Heat and vapour through walls of layers, and how fast a body follows its surroundings. SI units."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from nestwright.data import constants

VAPOUR_PERMEABILITY = constants()["vapour_permeability_air"].value


def layer_resistance(thickness: Any, conductivity: Any) -> Any:
    """Thermal resistance of a flat layer, m2 K/W: d / lambda (ISO 6946:2017, 6.7.1.1). Thickness m, W/(m K).

    >>> round(layer_resistance(0.02, 0.034), 3)
    0.588
    """
    return thickness / conductivity


def wall_resistance(layers: Sequence[tuple[float, float]], inner: float = 0.0, outer: float = 0.0) -> float:
    """Thermal resistance of a wall, m2 K/W: its layers (thickness m, conductivity W/(m K)) and its two films.

    ISO 6946:2017, 6.7.1.2, equation 4.

    >>> round(wall_resistance([(0.003, 0.2), (0.02, 0.034)], 0.13, 0.13), 3)
    0.863
    """
    return inner + sum(layer_resistance(d, k) for d, k in layers) + outer


def round_wall_conductance(inner_radius: float, outer_radius: float, height: float, conductivity: float) -> float:
    """Thermal conductance of the side of a round wall, W/K: 2 pi k h / ln(ro / ri).

    Sizes m, W/(m K). Incropera, equation 3.33.

    >>> round(round_wall_conductance(0.05, 0.055, 0.1, 0.2), 3)
    1.318
    """
    return 2 * math.pi * conductivity * height / math.log(outer_radius / inner_radius)


def temperatures_within(
    layers: Sequence[tuple[float, float]], inside: float, outside: float, inner: float = 0.0, outer: float = 0.0
) -> tuple[float, ...]:
    """Temperatures of the faces of all layers, K, from inside out, in steady state.

    layers as for `wall_resistance`; inside, outside K; films m2 K/W. ISO 13788:2012, 4.4.

    >>> [round(t, 2) for t in temperatures_within([(0.02, 0.034)], 298.15, 294.15, 0.13, 0.13)]
    [297.54, 294.76]
    """
    flux = (inside - outside) / wall_resistance(layers, inner, outer)
    faces, t = [], inside - flux * inner
    faces.append(t)
    for thickness, conductivity in layers:
        t -= flux * layer_resistance(thickness, conductivity)
        faces.append(t)
    return tuple(faces)


def vapour_resistance(layers: Sequence[tuple[float, float]]) -> float:
    """Resistance of a wall to vapour, m2 s Pa/kg: sum of mu d / delta0 over layers (thickness m, mu).

    ISO 13788:2012, 4.3 and equation 8: delta0 is the permeability of air, in data/constants.toml.

    >>> round(vapour_resistance([(0.003, 10000.0)]) / 1e9)
    150
    """
    return sum(d * mu for d, mu in layers) / VAPOUR_PERMEABILITY


def permeation(inner_pressure: Any, outer_pressure: Any, resistance: Any) -> Any:
    """Vapour through a wall, kg/(m2 s), outward: difference of the vapour pressures (Pa) over the resistance.

    ISO 13788:2012, equation 16.

    >>> round(float(permeation(3100.0, 1240.0, 1.5e11)) * 86400e3, 2)
    1.07
    """
    return (np.asarray(inner_pressure, float) - outer_pressure) / resistance


def lumped_time(capacity: Any, conductance: Any) -> Any:
    """Time constant of a body that is warm throughout, s: heat capacity J/K over conductance W/K.

    Valid for a Biot number under 0.1. Incropera, equation 5.7.
    """
    return capacity / conductance


def lumped_temperature(start: Any, surroundings: Any, time: Any, time_constant: Any) -> Any:
    """Temperature of such a body after a time, K. Incropera, equation 5.6.

    >>> round(float(lumped_temperature(300.0, 400.0, 10.0, 10.0)), 1)
    363.2
    """
    return surroundings + (start - surroundings) * np.exp(-np.asarray(time, float) / time_constant)


def deep_temperature(start: float, surface: float, depth: float, time: float, diffusivity: float) -> float:
    """Temperature at a depth of a thick body whose surface was brought to another temperature, K.

    depth m, time s, thermal diffusivity m2/s. Incropera, equation 5.60 (semi-infinite solid, case 1).

    >>> round(deep_temperature(293.15, 258.15, 0.68, 60 * 86400.0, 1.38e-7) - 273.15, 1)
    0.1
    """
    return surface + (start - surface) * math.erf(depth / (2 * math.sqrt(diffusivity * time)))
