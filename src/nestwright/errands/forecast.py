"""A forecast with what it was given: its pace, climate, water, and the colony whose it is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from datetime import date

    from nestwright.colony.model import Colony, Observation
    from nestwright.colony.pace import Pace
    from nestwright.colony.results import Forecast
    from nestwright.errands.garden_climate import Water

__all__ = ["Told"]


@dataclass(frozen=True)
class Told:
    """A forecast with its pace, the climate and water that it was given, and the colony whose it is."""

    forecast: Forecast
    pace: Pace
    climate: tuple[str, ...] = ()
    water: Water | None = None
    colony: Colony | None = None
    today: date | None = None
    """Of the workshop that the record stands in; None for a colony's file, which has no today."""

    @property
    def losses(self) -> tuple[str, ...]:
        """What the record itself tells as lost."""
        from nestwright.colony.losses import known_losses

        return () if self.colony is None else known_losses(self.colony)

    @property
    def observations(self) -> tuple[Observation, ...]:
        """The record's observations, as they were told."""
        return () if self.colony is None else self.colony.observations

    def to_dict(self) -> dict[str, Any]:
        return self.forecast.to_dict() | {
            "notes": [*self.losses, *self.forecast.notes],
            "pace": self.pace.to_dict(self.forecast.fit.start),
            "climate": list(self.climate),
            "water": None if self.water is None else self.water.to_dict(),
        }
