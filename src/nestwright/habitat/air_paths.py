"""What an opening lets through: its diffusive conductances, its resistance to flow, its counter-flow.

Each way of opening a wall becomes one `AirPath`, the form that the network's kernel takes. The relations and their
sources stand in nestwright.physics.openings and docs/how-it-computes/openings.md.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from nestwright.habitat.model import Pattern
from nestwright.network.arrays import T_REF
from nestwright.network.builder import Builder
from nestwright.physics import air, flow, openings


@dataclass(frozen=True)
class AirPath:
    """`conductances` m3/s of vapour, CO2, O2, heat at T_REF; dp = linear q + quadratic q|q| (Pa, m3/s);
    `exchange` (inertial m3/s per sqrt(kg/m3), viscous m3/s per kg/m3, threshold kg/m3) or None.
    """

    conductances: tuple[float, float, float, float]
    linear: float
    quadratic: float
    exchange: tuple[float, float, float] | None
    level: bool


def open_path(net: Builder, i: int, j: int, path: AirPath, height: float) -> None:
    """Put a path between two zones of a network, its middle at `height` m."""
    net.opening(
        i, j, path.conductances, height=height, linear=path.linear, quadratic=path.quadratic, exchange=path.exchange,
        level=path.level,
    )  # fmt: skip


def _spread(length: float, pressure: float) -> tuple[float, float, float, float]:
    """Conductances of a path of area over effective length `length` (m), for the four things that diffuse."""
    heat = float(air.conductivity(T_REF)) / (float(air.density(T_REF, 0.0, pressure)) * openings.AIR_HEAT_CAPACITY)
    laws = (air.diffusivity_vapour, air.diffusivity_co2, air.diffusivity_o2)
    vapour, co2, o2 = (length * float(law(T_REF, pressure)) for law in laws)
    return vapour, co2, o2, length * heat


def _path(
    area_over_length: float,
    area: float,
    linear: float,
    pressure: float,
    discharge: float,
    exchange: tuple[float, float, float] | None,
    level: bool,
) -> AirPath:
    density = float(air.density(T_REF, 0.5, pressure))
    quadratic = density / (2 * (discharge * area) ** 2)
    return AirPath(_spread(area_over_length, pressure), linear, quadratic, exchange, level)


def _round(diameter: float, length: float, count: float, level: bool, pressure: float, discharge: float) -> AirPath:
    """`count` round holes or tubes alike."""
    area = math.pi / 4 * diameter**2
    reach = openings.hole_conductance(1.0, diameter, length)
    linear = flow.hole_resistance(diameter, length, T_REF) / count
    inert, visc, onset = flow.exchange_coefficients(diameter, length, level, T_REF, pressure)
    return _path(count * reach, count * area, linear, pressure, discharge, (count * inert, count * visc, onset), level)


def pattern_path(
    pattern: Pattern, level: bool, pressure: float, discharge: float, share: float = 1.0
) -> AirPath | None:
    """Path of a vent's pattern of which `share` is left open. None when shut."""
    if share <= 0:
        return None
    if pattern.kind == "hole":
        return _round(pattern.width, pattern.thickness, pattern.count * share, level, pressure, discharge)
    if pattern.kind == "slot":
        n = pattern.count * share
        area = pattern.width * pattern.length
        reach = openings.slot_conductance(1.0, pattern.width, pattern.length, pattern.thickness)
        linear = flow.slot_resistance(pattern.width, pattern.length, pattern.thickness, T_REF) / n
        inert, visc, onset = flow.exchange_coefficients(pattern.width, pattern.thickness, level, T_REF, pressure)
        many = area / (math.pi / 4 * pattern.width**2)
        return _path(
            n * reach, n * area, linear, pressure, discharge, (n * many * inert, n * many * visc, onset), level
        )
    port = math.pi / 4 * pattern.width**2 * share
    open_share = openings.mesh_open_area(pattern.aperture, pattern.wire)
    reach = openings.mesh_conductance(1.0, pattern.width, pattern.aperture, pattern.wire) * share
    linear = flow.mesh_resistance(pattern.width, pattern.aperture, pattern.wire, T_REF) / share
    # a meshed port exchanges as a whole: up through one half, down through the other, against the mesh
    inert, _, onset = flow.exchange_coefficients(pattern.width, 2 * pattern.wire, level, T_REF, pressure)
    head = 9.80665 * pattern.width / 2
    return _path(
        reach, port * open_share, linear, pressure, discharge, (share * inert, head / (4 * linear), onset), level
    )


def grid_path(pattern: Pattern, pressure: float, discharge: float, onset: float, share: float) -> AirPath | None:
    """The share of a grid's openings that joins one zone above with the sump below."""
    return pattern_path(pattern, True, pressure, discharge, share)


def passage_path(
    bore: float, length: float, occupied: float, pressure: float, discharge: float, share: float = 1.0
) -> AirPath | None:
    """A tube that ants use: what they fill of its section narrows it."""
    free = (1 - occupied) * share
    if free <= 0:
        return None
    return _round(bore * math.sqrt(free), length, 1.0, False, pressure, discharge)


def gap_path(gap: float, rim: float, depth: float, pressure: float, discharge: float) -> AirPath:
    """A narrow gap along a rim, `depth` from inside to outside."""
    reach = openings.slot_conductance(1.0, gap, rim, depth)
    linear = flow.slot_resistance(gap, rim, depth, T_REF)
    return _path(reach, gap * rim, linear, pressure, discharge, None, False)
