"""Resistance of small openings to a net flow of air, and the two-way exchange that buoyancy drives through them."""

from __future__ import annotations

import math

from nestwright.physics import air

GRAVITY = 9.80665
"""Standard gravity, m/s2 (3rd CGPM 1901, exact by convention)."""
CRITICAL_RAYLEIGH = 67.94
"""Onset of overturning in a tube with heavy fluid above light: g (drho/dz) r^4 / (mu D) (Taylor 1954, Proc Phys
Soc B 67:857, doi:10.1088/0370-1301/67/12/301)."""


def hole_resistance(diameter: float, length: float, temperature: float) -> float:
    """Laminar resistance of a round hole or tube, Pa s/m3: Poiseuille along it, Sampson at its two ends.

    Dagan, Weinbaum & Pfeffer 1982, J Fluid Mech 115:505, doi:10.1017/S0022112082000883: the sum is within 1 % of the
    exact creeping flow for every ratio of length to diameter.

    >>> round(hole_resistance(0.006, 0.003, 298.15))
    3769
    """
    mu = float(air.viscosity(temperature))
    r = diameter / 2
    return 8 * mu * length / (math.pi * r**4) + 3 * mu / r**3


def slot_resistance(width: float, length: float, depth: float, temperature: float) -> float:
    """Laminar resistance of a slot or gap, Pa s/m3: plane Poiseuille flow over `depth` and half a width at each end.

    `width` is the narrow side. White, Fluid Mechanics, section 4.10 (plane Poiseuille flow).
    """
    mu = float(air.viscosity(temperature))
    return 12 * mu * (depth + width) / (length * width**3)


def mesh_resistance(port: float, aperture: float, wire: float, temperature: float) -> float:
    """Laminar resistance of woven mesh over a round port, Pa s/m3: its apertures as round holes of the same area."""
    pores = math.pi / 4 * port**2 / (aperture + wire) ** 2
    diameter = aperture * math.sqrt(4 / math.pi)
    return hole_resistance(diameter, wire, temperature) / pores


def froude_level(length_to_diameter: float) -> float:
    """Exchange through a level opening with heavy fluid above: Q / sqrt(D^5 g drho/rho).

    Epstein 1988, J Heat Transfer 110:885, doi:10.1115/1.3250589; coefficients from memory, the shape (a rise, a peak near
    L/D = 0.6, a fall) as in the abstract.

    >>> round(froude_level(0.01), 3), round(froude_level(0.5), 3)
    (0.055, 0.094)
    """
    x = length_to_diameter
    a = 1 + 400 * x**3
    b = 0.00527 * math.sqrt(a) * (x**6 + 117 * x**2) ** 0.75
    return 0.055 * a ** (1 / 6) / (1 + b) ** (1 / 3)


def exchange_coefficients(
    diameter: float, length: float, level: bool, temperature: float, pressure: float
) -> tuple[float, float, float]:
    """Two-way exchange of one opening: (inertial, viscous, threshold) for Q = i v s / (i + v sqrt(s)), s = |drho| - threshold.

    inertial m3/s per sqrt(kg/m3), viscous m3/s per kg/m3, threshold kg/m3. In an upright wall: a third of the orifice flow under the
    head of the opening's own height (Brown & Solvason 1962, Int J Heat Mass Transfer 5:859,
    doi:10.1016/0017-9310(62)90184-9), against laminar flow in two half tubes. In a level wall: Epstein's Froude number,
    no exchange below the critical Rayleigh number.
    """
    density = float(air.density(temperature, 0.5, pressure))
    mu = float(air.viscosity(temperature))
    reach = length + math.pi / 4 * diameter
    area = math.pi / 4 * diameter**2
    # each stream has half the section; a half tube resists about six times as much as the whole (judgement)
    half = 6 * 128 * mu * reach / (math.pi * diameter**4)
    if not level:
        inertial = 0.6 / 3 * area * math.sqrt(GRAVITY * diameter / density)
        return inertial, GRAVITY * diameter / 2 / half, 0.0
    inertial = froude_level(length / diameter) * math.sqrt(diameter**5 * GRAVITY / density)
    spread = float(air.diffusivity_vapour(temperature, pressure))
    threshold = CRITICAL_RAYLEIGH * mu * spread * reach / (GRAVITY * (diameter / 2) ** 4)
    return inertial, GRAVITY * reach / half, threshold
