"""What a buyer has to know of one habitat, out of its proof, its window, its card and its colony's forecast."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from nestwright.climate.results import CELSIUS, Proof, WindowMap
from nestwright.climate.window_edges import held_at
from nestwright.data import SpeciesCard, Value, read_values
from nestwright.habitat.model import Habitat
from nestwright.parts.openings import ant_openings

__all__ = ["Care", "Stand", "care_of", "care_values"]

HUMIDITIES = (0.3, 0.45, 0.6)
"""Room humidities that are told: a heated room in winter, the middle, a damp summer."""
FEWEST, ROWS = 25.0, 6
"""Smallest garden, mL, for which leaves are told, and for how many sizes at most."""
DAY = 86400.0


def care_values() -> dict[str, Value]:
    """What a sheet tells beside the computed figures, by name."""
    return read_values("care.toml")


@dataclass(frozen=True)
class Stand:
    """At a room humidity (0 to 1) the habitat holds from `low` to `high`, degC; None where it never does."""

    humidity: float
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Care:
    """Figures of a care sheet. water g a day and refill days by room humidity (None = never dry); heater W mean, set
    point degC or None; leaves: garden mL to fresh g a day, low, middle, high; bells mL, the smallest first; `full`:
    first and last day between which the bell is full (8 in 10), None where no colony is told."""

    habitat: str
    revision: str
    serial: str
    species: str
    room_temperature: float
    room_humidity: float
    holds: bool
    first_limit: str
    share: float
    stands: tuple[Stand, ...]
    best: tuple[float, float] | None
    water: tuple[tuple[float, float, float | None], ...]
    store: float
    heater: float | None
    set_point: float | None
    leaves: tuple[tuple[float, float, float, float], ...]
    bells: tuple[float, ...]
    fill_high: float
    colony: str
    full: tuple[date, date] | None
    judgements: tuple[str, ...]
    dump: bool = True
    """Whether it has a chamber for waste."""
    opens: bool = False
    """Whether a vent of the garden's chamber has holes that a plug closes."""
    only_just: str = ""
    """Of the limits that hold and whose verdict may turn within the uncertain inputs, the one with the least margin."""
    wet: tuple[str, ...] = ()
    """Chambers of which a wall is wet at rest in that room."""
    lets_through: tuple[str, ...] = ()
    """Vents and grids whose openings the smallest worker passes, though its card errs; the worst that may be told."""
    may_let_through: tuple[str, ...] = ()
    """Those that some of the smallest workers may pass."""

    def to_dict(self) -> dict[str, Any]:
        known = {
            k: getattr(self, k) for k in ("habitat", "revision", "serial", "species", "holds", "first_limit", "colony")
        }
        return known | {
            "room_temperature_degC": self.room_temperature,
            "room_relative_humidity_pct": 100 * self.room_humidity,
            "share_of_map_pct": 100 * self.share,
            "stands": [
                {"relative_humidity_pct": 100 * s.humidity, "low_degC": s.low, "high_degC": s.high} for s in self.stands
            ],
            "best": None if self.best is None else {"degC": self.best[0], "relative_humidity_pct": 100 * self.best[1]},
            "water": [
                {"relative_humidity_pct": 100 * h, "g_per_day": rate, "refill_days": days}
                for h, rate, days in self.water
            ],
            "store_g": self.store,
            "heater_W": self.heater,
            "set_point_degC": self.set_point,
            "leaves": [
                {"garden_mL": v, "low_g": low, "middle_g": middle, "high_g": high}
                for v, low, middle, high in self.leaves
            ],
            "bells_mL": list(self.bells),
            "fill_high_pct": 100 * self.fill_high,
            "full": None if self.full is None else [d.isoformat() for d in self.full],
            "vents_open_further": self.opens,
            "only_just": self.only_just or None,
            "wet": list(self.wet),
            "lets_through": list(self.lets_through),
            "may_let_through": list(self.may_let_through),
            "judgements": list(self.judgements),
        }


def care_of(
    habitat: Habitat,
    card: SpeciesCard,
    window: WindowMap,
    proof: Proof,
    by_humidity: Sequence[tuple[float, Proof]],
    *,
    serial: str = "",
    colony: str = "",
    full: tuple[date, date] | None = None,
) -> Care:
    """Figures of a care sheet.

    Parameters
    ----------
    window : map of the rooms in which the habitat holds.
    proof : in the buyer's room.
    by_humidity : room humidity (0 to 1) and the proof at it, for the days between fillings.
    """
    inside = window.worst >= 0
    leaf = card.garden["leaf_water"]
    heaters = [h for h in habitat.heaters if h.control != "constant"]
    best = None
    if inside.any():
        at = np.unravel_index(int(window.worst.argmax()), window.worst.shape)
        best = (float(window.temperature[at[0]] - CELSIUS), float(window.relative_humidity[at[1]]))
    first = proof.first_limit
    openings = ant_openings(habitat, card)
    unsure = [limit for limit in proof.limits if not limit.sure] if proof.holds else []
    just = min(unsure, key=lambda limit: limit.scaled_margin, default=None)
    return Care(
        habitat.name, habitat.revision, serial, habitat.species,
        proof.room_temperature - CELSIUS, proof.room_relative_humidity, proof.holds, first.name if first else "",
        float(inside.mean()), tuple(_stand(window, h) for h in HUMIDITIES), best,
        tuple((h, 1000 * DAY * p.water_rate, _days(p)) for h, p in by_humidity),
        1000 * sum(w.store for w in habitat.waters),
        proof.heater_power if habitat.heaters else None,
        heaters[0].set_point - CELSIUS if heaters else None,
        tuple(_leaves(v, (leaf.low, leaf.value, leaf.high)) for v in gardens_of(habitat)),
        tuple(sorted(1e6 * b.shape.volume for b in habitat.bells)),
        card.growth["fill_high"].value, colony, full, proof.judgements,
        any(c.role == "dump" for c in habitat.chambers), _opens(habitat), just.name if just else "",
        tuple(z.name for z in proof.zones if min(z.dew_margin.values(), default=0.0) < 0),
        tuple(one.name for one in openings if one.passed), tuple(one.name for one in openings if one.passed is None),
    )  # fmt: skip


def gardens_of(habitat: Habitat) -> tuple[float, ...]:
    """Sizes of garden, mL, up to the first that fills the largest room it may have: each twice the one before, or four
    times where that would be too many."""
    bells = [1e6 * b.shape.volume for b in habitat.bells]
    room = max(bells or [1e6 * c.shape.volume for c in habitat.chambers if c.role == "garden"], default=FEWEST)
    factor = 2.0 if room <= FEWEST * 2.0 ** (ROWS - 1) else 4.0
    sizes = [FEWEST]
    while sizes[-1] < room and len(sizes) < ROWS:
        sizes.append(sizes[-1] * factor)
    return tuple(sizes)


def _opens(habitat: Habitat) -> bool:
    gardens = {c.name for c in habitat.chambers if c.role == "garden"}
    return any(v.closed > 0 for v in habitat.vents if v.chamber.partition("/")[0] in gardens)


def _stand(window: WindowMap, humidity: float) -> Stand:
    held = held_at(window, humidity)
    return Stand(humidity, None, None) if held is None else Stand(humidity, held[0] - CELSIUS, held[1] - CELSIUS)


def _days(proof: Proof) -> float | None:
    return None if proof.refill_time is None else proof.refill_time / DAY


def _leaves(volume: float, water: tuple[float, float, float]) -> tuple[float, float, float, float]:
    """Fresh leaves a day whose water a garden of `volume` mL takes in."""
    share = care_values()["leaf_water"].value
    low, middle, high = (1000 * DAY * w * volume * 1e-6 / share for w in water)
    return volume, low, middle, high
