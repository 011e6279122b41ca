"""Net flow of air through small openings, and the two-way exchange that buoyancy drives through one of them."""

from __future__ import annotations

import math

from nestwright.data import constants, exchange_values
from nestwright.physics import air

GRAVITY = constants()["gravity"].value
CRITICAL_RAYLEIGH = exchange_values()["critical_rayleigh"].value
COUNTERFLOW_DISCHARGE = exchange_values()["counterflow_discharge"].value
HALF_TUBE = exchange_values()["half_tube_resistance"].value


def hole_resistance(diameter: float, length: float, temperature: float) -> float:
    """Laminar resistance of a round hole or tube, Pa s/m3: Poiseuille along it, Sampson at its two ends.

    diameter, length m; temperature K. Dagan, Weinbaum & Pfeffer 1982, J Fluid Mech 115:505,
    doi:10.1017/S0022112082000883: the sum is within 1 % of the exact creeping flow for every ratio of length to
    diameter.

    >>> round(hole_resistance(0.006, 0.003, 298.15))
    3774
    """
    mu = float(air.viscosity(temperature))
    r = diameter / 2
    return 8 * mu * length / (math.pi * r**4) + 3 * mu / r**3


def slot_resistance(width: float, length: float, depth: float, temperature: float) -> float:
    """Laminar resistance of a slot or gap, Pa s/m3: plane Poiseuille flow over `depth` and half a width at each end.

    `width` is the narrow side, `length` the long one, m; temperature K. White, Fluid Mechanics, section 4.10 (plane
    Poiseuille flow).

    >>> round(slot_resistance(0.001, 0.1, 0.01, 298.15))
    24251
    """
    mu = float(air.viscosity(temperature))
    return 12 * mu * (depth + width) / (length * width**3)


def mesh_resistance(port: float, aperture: float, wire: float, temperature: float) -> float:
    """Laminar resistance of woven mesh over a round port, Pa s/m3: its apertures as round holes of the same area.

    Diameter of the port, aperture and wire of the mesh m; temperature K.
    """
    pores = math.pi / 4 * port**2 / (aperture + wire) ** 2
    diameter = aperture * math.sqrt(4 / math.pi)
    return hole_resistance(diameter, wire, temperature) / pores


def froude_level(length_to_diameter: float) -> float:
    """Exchange through a level opening with heavy fluid above: Q / sqrt(D^5 g drho/rho).

    Ratio of length to diameter 0.01 to 10. Epstein 1988, J Heat Transfer 110:885, doi:10.1115/1.3250589: the
    dependence on that ratio alone and the peak are the abstract's; the coefficients are from memory.

    >>> round(froude_level(0.01), 3), round(froude_level(0.5), 3)
    (0.055, 0.093)
    """
    x = length_to_diameter
    a = 1 + 400 * x**3
    b = 0.00527 * math.sqrt(a) * (x**6 + 117 * x**2) ** 0.75
    return 0.055 * a ** (1 / 6) / (1 + b) ** (1 / 3)


def exchange_coefficients(
    diameter: float, length: float, level: bool, temperature: float, pressure: float
) -> tuple[float, float, float]:
    """Two-way exchange of one round opening: (inertial, viscous, threshold).

    The flow of either stream is i v s / (i + v sqrt(s)) with s = |drho| - threshold: inertial m3/s per sqrt(kg/m3),
    viscous m3/s per kg/m3, threshold kg/m3. In an upright wall: a third of the orifice flow under the head of the
    opening's own height (Brown & Solvason 1962, Int J Heat Mass Transfer 5:859, doi:10.1016/0017-9310(62)90184-9),
    against laminar flow in two half tubes. In a level wall: Epstein's Froude number, no exchange below the critical
    Rayleigh number (Taylor 1954, doi:10.1088/0370-1301/67/12/301).
    """
    density = float(air.density(temperature, 0.5, pressure))
    mu = float(air.viscosity(temperature))
    reach = length + math.pi / 4 * diameter
    area = math.pi / 4 * diameter**2
    half = HALF_TUBE * 128 * mu * reach / (math.pi * diameter**4)
    if not level:
        inertial = COUNTERFLOW_DISCHARGE / 3 * area * math.sqrt(GRAVITY * diameter / density)
        return inertial, GRAVITY * diameter / 2 / half, 0.0
    inertial = froude_level(length / diameter) * math.sqrt(diameter**5 * GRAVITY / density)
    spread = float(air.diffusivity_vapour(temperature, pressure))
    threshold = CRITICAL_RAYLEIGH * mu * spread * reach / (GRAVITY * (diameter / 2) ** 4)
    return inertial, GRAVITY * reach / half, threshold


def _exchange(difference: float, coefficients: tuple[float, float, float]) -> float:
    inertial, viscous, threshold = coefficients
    s = max(abs(difference) - threshold, 0.0)
    return inertial * viscous * s / (inertial + viscous * math.sqrt(s))


def counterflow_vertical(
    density_difference: float, diameter: float, length: float, temperature: float = 298.15, pressure: float = 101325.0
) -> float:
    """Flow of either stream through one round opening in an upright wall, m3/s: light air out above, heavy in below.

    density_difference kg/m3, of either sign; diameter, length m; temperature K; pressure Pa. Relations and sources:
    `exchange_coefficients`.

    >>> round(counterflow_vertical(0.01, 0.03, 0.003) * 1e6, 2)
    4.14
    """
    return _exchange(density_difference, exchange_coefficients(diameter, length, False, temperature, pressure))


def counterflow_horizontal(
    density_difference: float, diameter: float, length: float, temperature: float = 298.15, pressure: float = 101325.0
) -> float:
    """Flow of either stream through one round opening in a level wall, m3/s; 0 unless the heavy air lies above.

    density_difference kg/m3: that of the air above less that of the air below. Arguments else as for
    `counterflow_vertical`, relations and sources as for `exchange_coefficients`.

    >>> counterflow_horizontal(-0.01, 0.03, 0.003)
    0.0
    >>> round(counterflow_horizontal(0.01, 0.03, 0.003) * 1e6, 2)
    2.05
    """
    if density_difference <= 0:
        return 0.0
    return _exchange(density_difference, exchange_coefficients(diameter, length, True, temperature, pressure))
