"""What the uncertain inputs leave open of the air of every zone, whether it has a limit or not."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.proof import NotSettled, mean_air, settled, station_pressure
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.data import load_species
from nestwright.habitat.assemble import Assembly, assemble, uncertain_values
from nestwright.habitat.model import Habitat

__all__ = ["QUANTITIES", "Intervals", "zone_intervals"]

Array = NDArray[np.float64]
QUANTITIES = ("temperature", "relative_humidity", "co2")
Intervals = dict[tuple[str, str], tuple[float, float]]
"""Zone and quantity -> shift down (no more than 0) and up (no less), SI."""


def zone_intervals(habitat: Habitat, room: Room, *, progress: Callable[[float], None] | None = None) -> Intervals:
    """How far the uncertain inputs move the steady air of each zone at the room's mean.

    As for the limits of `prove`: every value that the design does not state is moved to its low and high end in turn,
    and the shifts are added as root sum of squares. Raises InputError, NotSettled.
    """
    card, (t, e) = load_species(habitat.species), mean_air(room)
    pressure = station_pressure(habitat, room)
    base = assemble(habitat, card, pressure=pressure, room_co2=room.co2, room_o2=room.o2)
    here = _air(base, settled(base, t, e)[0])
    down, up = np.zeros_like(here), np.zeros_like(here)
    uncertain = uncertain_values(habitat, card)
    for k, (name, value) in enumerate(uncertain.items()):
        low, high = np.zeros_like(here), np.zeros_like(here)
        for end in {value.low, value.high} - {value.value}:
            other = assemble(
                habitat, card, pressure=pressure, room_co2=room.co2, room_o2=room.o2, override={name: end},
                like=base.network,
            )  # fmt: skip
            try:
                shift = _air(other, settled(other, t, e)[0]) - here
            except NotSettled:
                continue
            low, high = np.minimum(low, shift), np.maximum(high, shift)
        down, up = down + low**2, up + high**2
        if progress:
            progress((k + 1) / len(uncertain))
    names = [(zone, quantity) for zone in base.network.zone_names for quantity in QUANTITIES]
    ends = zip(-np.sqrt(down).ravel(), np.sqrt(up).ravel(), strict=True)
    return {name: (float(a), float(b)) for name, (a, b) in zip(names, ends, strict=True)}


def _air(assembly: Assembly, y: Array) -> Array:
    """Temperature K, relative humidity and CO2 of each zone, shape (zones, 3)."""
    states = [zone_air(assembly.network, y, name) for name in assembly.network.zone_names]
    return np.array([[float(getattr(s, q)) for q in QUANTITIES] for s in states])
