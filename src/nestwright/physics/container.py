"""A container of respiring goods: what its holes let it settle at."""

from __future__ import annotations

from nestwright.data import constants


def respiring_container(
    co2_rate: float,
    quotient: float,
    conductance_co2: float,
    conductance_o2: float,
    room_co2: float,
    room_o2: float,
    temperature: float = 298.15,
    pressure: float = 101325.0,
) -> tuple[float, float]:
    """Mole fractions (CO2, O2) in a container of respiring goods at rest, diffusion through its holes alone.

    `co2_rate` mol/s, `quotient` mol CO2 per mol O2, conductances m3/s. Kwon et al. 2013, Math Probl Eng 2013:267629,
    doi:10.1155/2013/267629: a model without convection suffices for small holes. Oxygen is not below 0 here: a rate
    that asks for more than the holes bring cannot last.

    >>> co2, o2 = respiring_container(1e-7, 1.0, 1e-7, 1.25e-7, 4.5e-4, 0.2095)
    >>> round(co2, 3), round(o2, 3)
    (0.025, 0.19)
    """
    moles = pressure / (constants()["gas_constant"].value * temperature)
    co2 = room_co2 + co2_rate / (conductance_co2 * moles)
    return co2, max(room_o2 - co2_rate / quotient / (conductance_o2 * moles), 0.0)
