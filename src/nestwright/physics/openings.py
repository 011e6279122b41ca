"""Diffusion through holes, slots, tubes and woven mesh, and simple flows through openings. SI units."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from nestwright.data import assembly_values, constants, exchange_values
from nestwright.physics.flow import counterflow_horizontal, counterflow_vertical

__all__ = [
    "AIR_HEAT_CAPACITY",
    "DISCHARGE",
    "counterflow_horizontal",
    "counterflow_vertical",
    "hole_conductance",
    "mesh_conductance",
    "mesh_open_area",
    "orifice_flow",
    "slot_conductance",
    "stefan_factor",
    "two_opening_flow",
]

AIR_HEAT_CAPACITY = constants()["heat_capacity_dry_air"].value
DISCHARGE = assembly_values()["discharge"].value
MESH_DEPTH = exchange_values()["mesh_depth"].value


def hole_conductance(diffusivity: Any, diameter: Any, length: Any, count: Any = 1, pitch: float | None = None) -> Any:
    """Diffusive conductance of `count` round holes or tubes, m3/s: D A / (L + 2 * pi r / 4).

    diffusivity m2/s, diameter and length m; all but `pitch` may be arrays. The end correction pi r / 4 is that of a
    disc in a wall (Brown & Escombe 1900, Phil Trans R Soc B 193:223, doi:10.1098/rstb.1900.0014); for length 0 the sum
    is exact. With `pitch` (m, centre to centre) neighbours share their field and the correction falls as
    1 - 1.13 x + 0.13 x^3 with x = diameter / pitch (Ingard 1953, J Acoust Soc Am 25:1037, doi:10.1121/1.1907235, form
    for the added length of perforated plates; coefficients from memory).

    >>> round(float(hole_conductance(2.5e-5, 0.006, 0.003)) * 1e9, 1)
    91.7
    """
    end = math.pi / 8 * diameter
    if pitch is not None:
        x = min(float(diameter) / pitch, 1.0)
        end = end * max(1 - 1.13 * x + 0.13 * x**3, 0.0)
    return count * diffusivity * math.pi / 4 * diameter**2 / (length + 2 * end)


def slot_conductance(diffusivity: Any, width: Any, length: Any, depth: Any, count: Any = 1) -> Any:
    """Diffusive conductance of slots `width` x `length`, `depth` through the wall, m3/s.

    diffusivity m2/s, sizes m, `width` the narrow side. The ends of a slot in a wide wall spread as between confocal
    ellipses: each adds width/pi * ln(4 length / width) (Carslaw & Jaeger, Conduction of Heat in Solids, section 16.5,
    for a strip; judgement for short slots).

    >>> wide = slot_conductance(2.5e-5, 0.002, 0.05, 0.003)
    >>> bool(wide > hole_conductance(2.5e-5, 0.002, 0.003, 25))
    False
    """
    end = width / math.pi * np.log(4 * length / width)
    return count * diffusivity * width * length / (depth + 2 * end)


def mesh_open_area(aperture: Any, wire: Any) -> Any:
    """Open share of plain square-woven mesh, (w / (w + d))^2 (ISO 9044:2016).

    >>> round(float(mesh_open_area(0.5e-3, 0.315e-3)), 3)
    0.376
    """
    return (aperture / (aperture + wire)) ** 2


def mesh_conductance(diffusivity: Any, port: Any, aperture: Any, wire: Any) -> Any:
    """Diffusive conductance of a round port of diameter `port` closed with woven mesh, m3/s.

    diffusivity m2/s, sizes m. In series: the port's two ends (pi r / 4 each) and the mesh, two wires thick and open by
    its open share (that thickness: judgement).

    >>> bool(mesh_conductance(2.5e-5, 0.02, 0.5e-3, 0.315e-3) < hole_conductance(2.5e-5, 0.02, 0.0))
    True
    """
    area = math.pi / 4 * port**2
    return diffusivity * area / (math.pi / 4 * port + MESH_DEPTH * wire / mesh_open_area(aperture, wire))


def stefan_factor(vapour_pressure_a: Any, vapour_pressure_b: Any, pressure: Any = 101325.0) -> Any:
    """Gain of vapour diffusion by the flow that it drags along: p / (log mean of p - e).

    Vapour pressures at the two ends and the total, Pa.
    Geankoplis, Transport Processes and Unit Operations, section 6.2.

    >>> round(float(stefan_factor(2338.0, 0.0)), 4)
    1.0117
    """
    ea, eb = np.asarray(vapour_pressure_a, float), np.asarray(vapour_pressure_b, float)
    both = 2 * pressure - ea - eb
    # ln(b / a) = 2 artanh((b - a) / (b + a)): no digits are lost where the two are close
    x = (ea - eb) / both
    return 2 * pressure / both * np.where(x == 0, 1.0, np.arctanh(x) / np.where(x == 0, 1.0, x))


def orifice_flow(pressure_difference: Any, area: Any, density: Any, discharge: Any = DISCHARGE) -> Any:
    """Flow through a sharp opening, m3/s, signed like the pressure difference: Cd A sqrt(2 dp / rho).

    pressure_difference Pa, area m2, density kg/m3. ISO 5167-2 for a small opening in a wide wall; the default
    discharge coefficient and its source: data/assembly.toml.

    >>> round(float(orifice_flow(1.0, 1e-4, 1.2)) * 1e6, 1)
    78.8
    """
    dp = np.asarray(pressure_difference, float)
    return np.sign(dp) * discharge * area * np.sqrt(2 * np.abs(dp) / density)


def two_opening_flow(
    area_low: Any, area_high: Any, height: Any, density_in: Any, density_out: Any, discharge: Any = DISCHARGE
) -> Any:
    """Stack flow between a low and a high opening, m3/s, positive upwards inside.

    Areas m2, height between the openings m, densities kg/m3. Both openings in series under (rho_out - rho_in) g H
    (Linden 1999, Annu Rev Fluid Mech 31:201, doi:10.1146/annurev.fluid.31.1.201; CIBSE Guide A).

    >>> round(float(two_opening_flow(1e-4, 1e-4, 0.1, 1.18, 1.20)) * 1e6, 2)
    7.83
    """
    g = constants()["gravity"].value
    both = area_low * area_high / np.sqrt(area_low**2 + area_high**2)
    return orifice_flow((density_out - density_in) * g * height, both, (density_in + density_out) / 2, discharge)
