"""A colony and its record, as the growth model takes them. Days count from the record's first day.

The colony's heart works in days, grams of dry matter, millilitres and counts: the units in which its sources measure.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

__all__ = ["Climate", "Colony", "Event", "EventKind", "Housing", "Observation", "ObservationKind", "Start"]

ObservationKind = Literal["garden", "workers", "eggs", "larvae", "pupae", "waste", "leaves_taken"]
EventKind = Literal[
    "garden_added",
    "garden_taken",
    "garden_share_lost",
    "workers_added",
    "workers_taken",
    "eggs_added",
    "larvae_added",
    "pupae_added",
    "brood_share_lost",
    "queen",
    "room",
    "leaves",
]


@dataclass(frozen=True)
class Observation:
    """Something seen or measured on one day, before that day's changes.

    `value`: garden mL; workers count; eggs, larvae, pupae 1.0 seen or 0.0 looked for and not seen; waste and
    leaves_taken g dry matter since the day `since`. `error`: relative standard error (0.2 = 20 %); unused for seen.
    `how` says how it was had: "exact", "guess", "band", "fill", "measured". `line` of the file, 0 if unknown.
    """

    day: float
    kind: ObservationKind
    value: float
    error: float = 0.0
    since: float = 0.0
    how: str = ""
    line: int = 0


@dataclass(frozen=True)
class Event:
    """Something done or suffered on one day.

    `value`: garden_added, garden_taken mL; garden_share_lost, brood_share_lost 0 to 1; workers and brood counts;
    queen: her laying, 0 (lost) to 1; room: usable volume for the garden, mL; leaves: g dry matter given.
    `plant` names the leaf for leaves; `note` is the user's own text.
    """

    day: float
    kind: EventKind
    value: float
    plant: str = ""
    note: str = ""
    line: int = 0


@dataclass(frozen=True)
class Housing:
    """Space for the garden from one day on: a bell over it, or the whole chamber. usable mL; diameter, height m."""

    day: float
    name: str
    kind: Literal["bell", "chamber"]
    usable: float
    diameter: float = 0.0
    height: float = 0.0


@dataclass(frozen=True)
class Start:
    """What was there on the first day: (value, relative standard error), None where unknown. garden mL, counts."""

    garden: tuple[float, float] | None = None
    workers: tuple[float, float] | None = None
    brood: tuple[float, float] | None = None


@dataclass(frozen=True)
class Climate:
    """Climate of the garden day by day from the record's first day, shape (days,): NaN where unknown.

    temperature degC mean of the day; `hot`, `cold` K, mean depth of the day above and below the card's band;
    `dry` 0 to 1, mean depth of relative humidity below the card's limit; `wet` g of water a day that drips on the
    garden; `co2` 0 to 1, mean depth above the card's limit.
    """

    temperature: NDArray[np.float64]
    hot: NDArray[np.float64]
    cold: NDArray[np.float64]
    dry: NDArray[np.float64]
    wet: NDArray[np.float64]
    co2: NDArray[np.float64]


@dataclass(frozen=True)
class Colony:
    """One colony and its whole record.

    `days` is the record's length: the last day with anything in it, or the stated end. `leaves`: "free" when leaves
    are always there, "recorded" when every leaf given is in the record. `queen`: 1 laying, 0 none, None unknown.
    `chamber` usable mL of the whole garden chamber, `opening` m: the widest round thing that goes in without taking
    off the lid, `lid` m: the same with the lid off, `headroom` m: inner height; None where not stated.
    `making_time`, `chamber_time`: days to make the next bell, the next chamber. `climate_file` as given, or "".
    `gone_by`: days from the record's last day to today, in which nothing can be changed any more.
    """

    name: str
    species: str
    start: date
    days: int
    observations: tuple[Observation, ...] = ()
    events: tuple[Event, ...] = ()
    housing: tuple[Housing, ...] = ()
    at_start: Start = field(default_factory=Start)
    queen: float | None = 1.0
    leaves: Literal["free", "recorded"] = "free"
    chamber: float | None = None
    opening: float | None = None
    lid: float | None = None
    headroom: float | None = None
    making_time: float | None = None
    chamber_time: float | None = None
    gone_by: float = 0.0
    climate_file: str = ""
    climate: Climate | None = None
    notes: tuple[str, ...] = ()
    """Remarks of the reader: contradictions found, what was taken for what."""
    path: str = ""

    def date(self, day: float) -> date:
        """Calendar day of a day of the record."""
        return self.start + timedelta(days=int(day))

    def days_since(self, today: datetime.date) -> int:
        """Days from the record's last day to today; 0 where today is not later."""
        return max(0, (today - self.date(self.days)).days)
