"""What a sizing says. Values in the builder's own units, as text of the file; margins scaled by each tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from nestwright.climate.results import CELSIUS, UNITS, in_unit


@dataclass(frozen=True)
class Sized:
    """One free value as text: `before` ("" when left out), best, bounds; `at_bound` is "low", "high" or ""."""

    key: str
    before: str
    best: str
    low: str
    high: str
    at_bound: str

    def to_dict(self) -> dict[str, Any]:
        return {
            "key": self.key,
            "before": self.before or None,
            "best": self.best,
            "low": self.low,
            "high": self.high,
            "at_bound": self.at_bound or None,
        }


@dataclass(frozen=True)
class Side:
    """One end of a limit's band in its worst room: value and bound in SI, room temperature K and humidity 0 to 1.

    `name` is the limit's name with "at least" or "at most"; `best_alone` is the largest scaled margin that this
    end reached anywhere in the search, whatever became of the others.
    """

    name: str
    limit: str
    quantity: str
    bound: float
    value: float
    scaled_margin: float
    before: float | None
    best_alone: float
    room_temperature: float
    room_relative_humidity: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "limit": self.limit,
            "quantity": self.quantity,
            "unit": UNITS[self.quantity],
            "bound": in_unit(self.quantity, self.bound),
            "value": in_unit(self.quantity, self.value),
            "scaled_margin": self.scaled_margin,
            "scaled_margin_before": self.before,
            "best_alone": self.best_alone,
            "room_temperature_degC": self.room_temperature - CELSIUS,
            "room_relative_humidity_pct": self.room_relative_humidity * 100,
        }


@dataclass(frozen=True)
class TradePoint:
    """A choice that no other found beats in both limits: its values, the two scaled margins, and the worst of all."""

    values: dict[str, str]
    first: float
    second: float
    worst: float


@dataclass(frozen=True)
class TradeOff:
    """Two limit ends that pull the free values to different sides, and the front between them."""

    first: str
    second: str
    points: tuple[TradePoint, ...]

    def to_dict(self) -> dict[str, Any]:
        points = [
            {"values": p.values, "first_margin": p.first, "second_margin": p.second, "worst_margin": p.worst}
            for p in self.points
        ]
        return {"first": self.first, "second": self.second, "points": points}


@dataclass(frozen=True)
class YearCheck:
    """The best choice over a room's whole record: worst scaled margin, its limit, least share of hours held."""

    room: str
    holds: bool
    worst_margin: float
    first_limit: str
    hours_held_share: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "room": self.room,
            "holds": self.holds,
            "worst_margin": self.worst_margin,
            "first_limit": self.first_limit,
            "hours_held_pct": self.hours_held_share * 100,
        }


@dataclass(frozen=True)
class SizeResult:
    """The free values with the largest worst scaled margin.

    `worst_margin` and `worst_before` are the smallest scaled margin over limits and rooms (None before when the
    design as it stands was not solvable). `forbids` names the limit end that keeps every choice outside, "" when the
    best one holds. `trade_off` is None when no two limits pull against each other.
    """

    habitat: str
    revision: str
    rooms: tuple[str, ...]
    room_points: int
    free: tuple[Sized, ...]
    worst_before: float | None
    worst_margin: float
    limits: tuple[Side, ...]
    forbids: str
    trade_off: TradeOff | None
    years: tuple[YearCheck, ...]
    evaluations: int
    refused: int
    """Choices tried within the bounds that are no valid design or whose air found no rest."""
    stopped: bool
    notes: tuple[str, ...]

    @property
    def holds(self) -> bool:
        return self.worst_margin >= 0

    @property
    def first_limit(self) -> Side:
        return self.limits[0]

    def to_dict(self) -> dict[str, Any]:
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "rooms": list(self.rooms),
            "room_points": self.room_points,
            "holds": self.holds,
            "free": [f.to_dict() for f in self.free],
            "worst_margin_before": self.worst_before,
            "worst_margin": self.worst_margin,
            "first_limit": self.first_limit.name,
            "forbids": self.forbids or None,
            "limits": [s.to_dict() for s in self.limits],
            "trade_off": None if self.trade_off is None else self.trade_off.to_dict(),
            "years": [y.to_dict() for y in self.years],
            "evaluations": self.evaluations,
            "refused": self.refused,
            "stopped": self.stopped,
            "notes": list(self.notes),
        }
