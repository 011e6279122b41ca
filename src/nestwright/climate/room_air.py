"""The air of the room in which a habitat stands, over time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Room:
    """Room air as knots, linear between them.

    `time` s, shape (n,), strictly rising from 0, n >= 2; `temperature` K and `vapour_pressure` Pa,
    shape (n,); `pressure` Pa; `co2` and `o2` mole fractions of the dry air.
    A fixed room has two equal knots. `start` is the ISO date and time of the first knot or "".
    `notes` say what was odd about the file it was read from.
    """

    name: str
    time: NDArray[np.float64]
    temperature: NDArray[np.float64]
    vapour_pressure: NDArray[np.float64]
    pressure: float = 101325.0
    co2: float = 4.5e-4
    o2: float = 0.2095
    start: str = ""
    source: str = ""
    notes: tuple[str, ...] = ()

    @property
    def fixed(self) -> bool:
        return len(self.time) == 2 and bool(
            self.temperature[0] == self.temperature[1] and self.vapour_pressure[0] == self.vapour_pressure[1]
        )

    def to_dict(self) -> dict[str, Any]:
        return {"name": self.name, "source": self.source, "start": self.start, "hours": float(self.time[-1] / 3600.0)}
