"""A network as flat arrays: what the compiled kernel reads.

States (SI): per thermal node an energy over its dry heat capacity, as kelvin above `T_REF`; its water in
kg; per zone also CO2 and O2 in mol and a pressure in Pa; then the accounts of what went to the room and
what was made, and last the room's own temperature and vapour fraction, which the record drives.
Because energy and masses are the states themselves, every balance is linear in them and a
Rosenbrock step keeps it to rounding.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from nestwright.network.sparse import Pattern

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]

T_REF = 298.15
"""Temperature at which liquid water and dry air have no enthalpy in the accounts, K (a convention)."""

ACCOUNTS = (
    "energy_to_room",
    "water_to_room",
    "co2_to_room",
    "o2_to_room",
    "energy_made",
    "water_made",
    "co2_made",
    "o2_made",
    "heater_energy",
    "water_drained",
    "energy_drained",
    "drip_on_garden",
    "block_evaporation",
    "garden_evaporation",
    "leaf_water",
)


class Net(NamedTuple):
    """See the builder for the meaning of each element's values."""

    size: int
    zones: int
    room: int
    pressure: float
    gas: Floats
    """R, M_vapour, M_rest, M_co2, M_o2, c_vapour, c_water, latent, molar heat of air, gravity, fog and drip rate."""
    # nodes
    heat: Ints
    water: Ints
    capacity: Floats
    water_heat: Floats
    latent: Floats
    row_heat: Ints
    row_water: Ints
    # zones (the room is the last)
    co2: Ints
    o2: Ints
    flow: Ints
    row_co2: Ints
    row_o2: Ints
    volume: Floats
    room_co2: float
    room_o2: float
    row_scale: Floats
    # saturation pressure table: value and slope at even steps
    table_start: float
    table_step: float
    table: Floats
    # links
    link: Ints
    link_g: Floats
    # openings
    opening: Ints
    opening_v: Floats
    # surfaces
    surface: Ints
    surface_v: Floats
    # permeation
    permeation: Ints
    permeation_g: Floats
    # overflow of films
    overflow: Ints
    overflow_v: Floats
    # fog: zone, node
    fog: Ints
    # gardens
    garden: Ints
    garden_v: Floats
    # heaters
    heater: Ints
    heater_v: Floats
    # Jacobian
    slot: Ints
    pattern: Pattern
    weight: Floats
    """Error weight of each state (0 = not controlled)."""
    hold: NDArray[np.bool_]
    """States held fixed in a steady solution."""
