"""What a proof of the climate says. SI inside; `to_dict()` gives the documented JSON in the builder's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DAY = 86400.0
CELSIUS = 273.15
SHARES = ("relative_humidity", "co2", "o2")
"""Quantities that are shares, 0 to 1."""


@dataclass(frozen=True)
class ZoneState:
    """Air of one zone (a chamber, or the air under a bell: name "pot/bell").

    temperature K; relative_humidity, co2, o2 0 to 1; vapour_deficit Pa; `dew_margin` K for each inner
    surface: its temperature less the air's dew point, so a negative value is a wet surface.
    """

    name: str
    role: str
    temperature: float
    relative_humidity: float
    vapour_deficit: float
    co2: float
    o2: float
    dew_margin: dict[str, float]
    film: dict[str, float]
    """Water standing on each inner surface, kg."""

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "role": self.role,
            "temperature_degC": self.temperature - CELSIUS,
            "relative_humidity_pct": self.relative_humidity * 100,
            "vapour_deficit_Pa": self.vapour_deficit,
            "co2_pct": self.co2 * 100,
            "o2_pct": self.o2 * 100,
            "dew_margin_K": min(self.dew_margin.values(), default=None),
            "dew_margins_K": dict(self.dew_margin),
            "film_g": {k: v * 1000 for k, v in self.film.items()},
        }


@dataclass(frozen=True)
class LimitResult:
    """One limit against what the habitat does.

    `quantity` is temperature (K), relative_humidity, co2, o2 (0 to 1), drip (kg/s) or garden_water (1 =
    leaf water just covers the loss). `margin` is signed, in the quantity's own unit, positive inside the
    band, and `scaled_margin` is margin / tolerance of the quantity (see data/limits.toml), comparable
    between quantities. `low_value` and `high_value` bound `value` over the uncertain inputs;
    `rests_on` names the judgement values that move it noticeably. `held` is None when the limit was
    not evaluated. `hours_held_share` is for a year, else None.
    """

    name: str
    zone: str
    quantity: str
    low: float | None
    high: float | None
    value: float
    low_value: float
    high_value: float
    margin: float
    scaled_margin: float
    held: bool
    sure: bool
    """The verdict is the same at both ends of the uncertainty interval."""
    rests_on: tuple[str, ...]
    source: str
    mark: str
    hours_held_share: float | None = None
    moved: tuple[float, float] = (0.0, 0.0)
    """How far the uncertain inputs move `value` down and up, before it is cut off at what a share can be."""

    def to_dict(self) -> dict[str, Any]:
        def unit(x: float | None, difference: bool = False) -> float | None:
            return None if x is None else in_unit(self.quantity, x, difference)

        return {
            "name": self.name,
            "zone": self.zone,
            "quantity": self.quantity,
            "unit": UNITS[self.quantity],
            "low": unit(self.low),
            "high": unit(self.high),
            "value": unit(self.value),
            "value_low": unit(self.low_value),
            "value_high": unit(self.high_value),
            "margin": unit(self.margin, difference=True),
            "scaled_margin": self.scaled_margin,
            "held": self.held,
            "sure": self.sure,
            "rests_on": list(self.rests_on),
            "source": self.source,
            "mark": self.mark,
            "hours_held_pct": None if self.hours_held_share is None else self.hours_held_share * 100,
        }


UNITS = {
    "temperature": "degC",
    "relative_humidity": "%",
    "co2": "%",
    "o2": "%",
    "drip": "g/day",
    "garden_water": "ratio",
}


def in_unit(quantity: str, value: float, difference: bool = False) -> float:
    """A limit's value, or a `difference` of two, in the unit of `UNITS`, from SI."""
    if quantity == "temperature":
        return value if difference else value - CELSIUS
    if quantity in SHARES:
        return value * 100
    return value * 1000 * DAY if quantity == "drip" else value


@dataclass(frozen=True)
class Proof:
    """State of a habitat in one room, steady or as the mean over a run.

    `water_rate` kg/s leaves the water bodies; `refill_time` s until the first body is dry (None = never);
    `drip_rate` kg/s falls on the garden; `heater_power` W is the mean, `heater_duty` its share of the
    installed power (None without heater). `balances` holds the closure error of energy, water, carbon and
    oxygen relative to their throughput. `first_limit` is the limit with the smallest scaled margin.
    """

    habitat: str
    revision: str
    species: str
    room: str
    room_temperature: float
    room_relative_humidity: float
    zones: tuple[ZoneState, ...]
    limits: tuple[LimitResult, ...]
    water_rate: float
    refill_time: float | None
    drip_rate: float
    heater_power: float
    heater_duty: float | None
    balances: dict[str, float]
    judgements: tuple[str, ...]
    exchange: tuple[dict[str, Any], ...] = ()
    """Air and water flows for the section: from, to, kind, value (SI), place."""
    notes: tuple[str, ...] = ()

    @property
    def holds(self) -> bool:
        return all(limit.held for limit in self.limits)

    @property
    def first_limit(self) -> LimitResult | None:
        return min(self.limits, key=lambda limit: limit.scaled_margin, default=None)

    def zone(self, name: str) -> ZoneState:
        return next(z for z in self.zones if z.name == name)

    def to_dict(self) -> dict[str, Any]:
        first = self.first_limit
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "species": self.species,
            "room": {
                "name": self.room,
                "temperature_degC": self.room_temperature - CELSIUS,
                "relative_humidity_pct": self.room_relative_humidity * 100,
            },
            "holds": self.holds,
            "first_limit": None if first is None else first.name,
            "chambers": [z.to_dict() for z in self.zones],
            "water_g_per_day": self.water_rate * 1000 * DAY,
            "refill_days": None if self.refill_time is None else self.refill_time / DAY,
            "drip_on_garden_g_per_day": self.drip_rate * 1000 * DAY,
            "heater_W": self.heater_power,
            "heater_duty_pct": None if self.heater_duty is None else self.heater_duty * 100,
            "balances": dict(self.balances),
            "limits": [limit.to_dict() for limit in self.limits],
            "judgements": list(self.judgements),
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Week:
    """One bad week: start s after the run's start, its ISO date, the limit, hours outside, worst margin (own unit)."""

    start: float
    date: str
    limit: str
    hours_outside: float
    worst_margin: float


@dataclass(frozen=True)
class YearProof:
    """A run over a room record. `mean` is the Proof of the run's means and of each limit's worst hour.

    `time` s, shape (n,); `series` maps zone -> quantity -> shape (n,) in SI with quantities temperature,
    relative_humidity, co2, o2, and the keys "room" (temperature, relative_humidity) and "water"
    (store kg of each body). `dry_hours` counts the time that a water body stood dry, `refills` the fillings.
    """

    mean: Proof
    time: Array
    start: str
    series: dict[str, dict[str, Array]]
    worst_weeks: tuple[Week, ...]
    refills: int
    dry_hours: float
    steps: int
    seconds_used: float

    def to_dict(self) -> dict[str, Any]:
        weeks = [
            {
                "week_of": w.date,
                "day": w.start / DAY,
                "limit": w.limit,
                "hours_outside": w.hours_outside,
                "worst_margin": w.worst_margin,
            }
            for w in self.worst_weeks
        ]
        return self.mean.to_dict() | {
            "hours": float(self.time[-1] / 3600),
            "start": self.start,
            "refills": self.refills,
            "dry_hours": self.dry_hours,
            "worst_weeks": weeks,
            "steps": self.steps,
        }


@dataclass(frozen=True)
class WindowMap:
    """Where a habitat holds: room temperatures K (nt,), room relative humidities 0 to 1 (nh,).

    `scaled_margin` has shape (limits, nt, nh); a point holds where all are >= 0. `room_temperature` and
    `room_relative_humidity` are the hours of the room laid over it (may be empty), `share_inside` the share
    of those hours inside the window (None without a room). `ends` names the limit that ends the window at
    its cold, warm, dry and damp side.
    """

    habitat: str
    revision: str
    temperature: Array
    relative_humidity: Array
    limits: tuple[str, ...]
    scaled_margin: Array
    room: str
    room_temperature: Array
    room_relative_humidity: Array
    share_inside: float | None
    ends: dict[str, str]
    converged_share: float

    @property
    def worst(self) -> Array:
        """Smallest scaled margin at each point, shape (nt, nh)."""
        return self.scaled_margin.min(axis=0)

    @property
    def first(self) -> NDArray[np.int64]:
        """Index of the limit that goes first at each point, shape (nt, nh)."""
        return self.scaled_margin.argmin(axis=0)

    def to_dict(self) -> dict[str, Any]:
        worst = self.worst
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "room_temperatures_degC": (self.temperature - CELSIUS).tolist(),
            "room_relative_humidities_pct": (self.relative_humidity * 100).tolist(),
            "limits": list(self.limits),
            "worst_scaled_margin": worst.tolist(),
            "first_limit": self.first.tolist(),
            "holds_share_of_map_pct": float((worst >= 0).mean() * 100),
            "room": self.room,
            "room_hours_inside_pct": None if self.share_inside is None else self.share_inside * 100,
            "ends": dict(self.ends),
            "converged_pct": self.converged_share * 100,
        }
