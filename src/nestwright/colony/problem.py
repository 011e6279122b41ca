"""A colony's record as the arrays that the compiled likelihood takes, and the values that a fit leaves free."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.cores import ALL_CORES
from nestwright.colony.kernel import EVENT_CODES
from nestwright.colony.likelihood import (
    KINDS,
    LINK_LOG,
    LINK_LOGIT,
    OFFSET,
    SURVIVAL_MOST,
    log_likelihoods,
)
from nestwright.colony.model import Climate, Colony
from nestwright.data import SpeciesCard, Value, colony_values, load_species

Array = NDArray[np.float64]

__all__ = ["STEP", "Free", "Problem", "climate_array", "pose"]

STEP = 1.0
"""Share of itself that the fastest chain moves in a step: error of garden and workers under 0.1 % (see the tests)."""
NINETY = 2 * 1.6448536269514722
"""Width of the middle 90 % of a normal, in standard deviations."""
FITTED = (
    "brood_survival",
    "laying_founding",
    "laying_per_worker",
    "laying_max",
    "worker_days",
    "carry",
    "uptake",
    "substrate_days",
    "food_yield",
    "tended_per_worker",
    "dry_density",
)
"""Values of the card that a fit leaves free within their range."""
FITTED_COMMON = ("noise", "error_scale")


@dataclass(frozen=True)
class Free:
    """A value left free: its place in the vector, and how a standard normal z becomes it.

    link LINK_LOG: exp(a + b z), with c for b where z is above 0 (c 0: as b), at most `most`; LINK_LOGIT:
    logistic(a + b z); else uniform between a and b.
    """

    name: str
    target: int
    link: int
    a: float
    b: float
    unit: str = "1"
    mark: str = "judgement"
    source: str = ""
    c: float = 0.0
    most: float = math.inf

    def value(self, z: Array) -> Array:
        """The value at z."""
        if self.link == LINK_LOG:
            return np.minimum(np.exp(self.a + np.where(np.asarray(z) < 0, self.b, self.c or self.b) * z), self.most)
        if self.link == LINK_LOGIT:
            return np.asarray(1.0 / (1.0 + np.exp(-(self.a + self.b * z))))
        from scipy.special import ndtr

        return np.asarray(self.a + (self.b - self.a) * ndtr(z))


@dataclass(frozen=True)
class Problem:
    """Everything that a fit needs. climate (n, 6); events and record as in `likelihood.run_record`."""

    colony: Colony
    card: SpeciesCard
    base: Array
    free: tuple[Free, ...]
    days: int
    climate: Array
    room: float
    events: tuple[Array, NDArray[np.int64], Array]
    record: tuple[Array, NDArray[np.int64], Array, Array, Array]
    notes: tuple[str, ...] = ()

    @property
    def mapping(self) -> tuple[NDArray[np.int64], NDArray[np.int64], Array, Array, Array]:
        """target, link, a, b, c as arrays (d,)."""
        return (
            np.array([f.target for f in self.free], dtype=np.int64),
            np.array([f.link for f in self.free], dtype=np.int64),
            np.array([f.a for f in self.free]),
            np.array([f.b for f in self.free]),
            np.array([f.c or f.b for f in self.free]),
        )

    def log_likelihoods(self, zs: Array) -> Array:
        """Log-likelihood of the record at each row of free values (n, d)."""
        rest = (self.days, self.climate, self.room, self.events, self.record, STEP)
        with ALL_CORES:
            return np.asarray(log_likelihoods(np.ascontiguousarray(zs), self.base, *self.mapping, *rest))

    def vectors(self, zs: Array) -> Array:
        """The parameter vectors (n, N_PARAMETERS) of free values (n, d)."""
        from nestwright.colony.likelihood import set_values

        mapping = self.mapping
        out = np.empty((len(zs), P.N_PARAMETERS))
        for z, p in zip(zs, out, strict=True):
            set_values(z, self.base, *mapping, p)
        return out


def from_range(name: str, target: int, value: Value) -> Free:
    """Log-normal in two halves: the value in the middle, its low and high at 5 and 95 %."""
    middle = math.log(value.value)
    below, above = (2 * abs(math.log(end) - middle) / NINETY for end in (value.low, value.high))
    most = SURVIVAL_MOST if name == "brood_survival" else math.inf
    return Free(name, target, LINK_LOG, middle, below, value.unit, value.mark, value.source, above, most)


def pose(colony: Colony, card: SpeciesCard | None = None) -> Problem:
    """The fit's problem for a colony. `card` instead of the shipped one of its species.

    Raises
    ------
    InputError
        For a species without a card.
    """
    card = card or load_species(colony.species)
    base = P.card_vector(card)
    base[P.FREE_LEAVES] = float(colony.leaves == "free")
    free = [development(card)]
    free += [from_range(name, P.ORDER.index(name), card.growth[name]) for name in FITTED]
    free += [from_range(name, P.ORDER.index(name), colony_values()[name]) for name in FITTED_COMMON]
    for value in at_start(colony, card):
        if value.a > -math.inf:
            free.append(value)
        else:
            base[value.target] = 0.0
    if colony.queen is None:
        free.append(Free("queen", P.QUEEN, LINK_LOGIT, 0.0, 2.5, "1", "judgement", "laying or not is not known"))
    else:
        base[P.QUEEN] = colony.queen
    if colony.climate is not None:
        free.append(
            Free("harm_scale", P.HARM_SCALE, LINK_LOG, 0.0, 0.6, "1", "judgement", "how much harm a depth does")
        )
    climate, notes = climate_array(colony, card)
    return Problem(
        colony,
        card,
        base,
        tuple(free),
        colony.days,
        climate,
        first_room(colony),
        event_arrays(colony),
        record_arrays(colony),
        (*colony.notes, *notes),
    )


def development(card: SpeciesCard) -> Free:
    """One factor on all stage lengths, with the range of their sum in the card."""
    stages = [card.growth[k] for k in ("egg_days", "larva_days", "pupa_days")]
    low, middle, high = (sum(getattr(s, end) for s in stages) for end in ("low", "value", "high"))
    below, above = (2 * abs(math.log(end / middle)) / NINETY for end in (low, high))
    marks = {s.mark for s in stages}
    mark = "judgement" if "judgement" in marks else next(iter(marks))
    return Free("development", P.DEVELOPMENT, LINK_LOG, 0.0, below, f"of {middle:.0f} d", mark, stages[0].source, above)


def at_start(colony: Colony, card: SpeciesCard) -> list[Free]:
    """What was there on the first day: as stated, else from what was seen first, else from the card."""
    common = colony_values()
    told = {k: getattr(colony.at_start, k) for k in ("garden", "workers", "brood")}
    for kind in ("garden", "workers"):
        if told[kind] is None:
            for o in sorted(colony.observations, key=lambda o: o.day):
                if o.kind == kind and o.day <= 30 and o.value > 0:
                    # a place to look from and no more: the fit counts the observation itself
                    told[kind] = (o.value, common["first_seen_spread"].value * (1 + o.day / 40))
                    break
    per_worker = card.growth["garden_per_worker"]
    ratio = (math.log(per_worker.high) - math.log(per_worker.low)) / NINETY
    if told["workers"] is None and told["garden"] is not None:
        value, error = told["garden"]
        told["workers"] = (value / per_worker.value, math.hypot(error, ratio))
    if told["workers"] is None:
        unknown = common["unknown_workers"]
        told["workers"] = (unknown.value, (math.log(unknown.high) - math.log(unknown.low)) / NINETY)
    if told["garden"] is None:
        value, error = told["workers"]
        told["garden"] = (value * per_worker.value, math.hypot(error, ratio))
    brood = card.growth["brood_per_worker"]
    if told["brood"] is None:
        value, error = told["workers"]
        spread = (math.log(brood.high) - math.log(brood.low)) / NINETY
        told["brood"] = ((value + 1.0) * brood.value, math.hypot(min(error, 0.5), spread))
    targets = {"garden": P.START_GARDEN, "workers": P.START_WORKERS, "brood": P.START_BROOD}
    units = {"garden": "mL", "workers": "1", "brood": "1"}
    return [
        Free(
            f"start_{k}",
            targets[k],
            LINK_LOG,
            _log(v[0]),
            max(v[1], 0.01),
            units[k],
            "record",
        )
        for k, v in told.items()
    ]


def _log(x: float) -> float:
    """The logarithm, of nothing too."""
    return math.log(x) if x > 0 else -math.inf


def first_room(colony: Colony) -> float:
    """Usable volume on the first morning, mL; 0 where nothing is stated."""
    standing = [h.usable for h in colony.housing if h.day <= 0]
    return standing[-1] if standing else (0.0 if colony.housing else colony.chamber or 0.0)


def event_arrays(colony: Colony) -> tuple[Array, NDArray[np.int64], Array]:
    """Events of the record up to its last day as (day, code, value), in order."""
    events = sorted((e for e in colony.events if e.day <= colony.days), key=lambda e: e.day)
    return (
        np.array([e.day for e in events], dtype=float),
        np.array([EVENT_CODES[e.kind] for e in events], dtype=np.int64),
        np.array([e.value for e in events], dtype=float),
    )


def record_arrays(colony: Colony) -> tuple[Array, NDArray[np.int64], Array, Array, Array]:
    """Observations as (day, kind, y, error, since), in order."""
    seen = sorted((o for o in colony.observations if 0 <= o.day <= colony.days), key=lambda o: o.day)
    kinds = np.array([KINDS[o.kind] for o in seen], dtype=np.int64)
    value = np.array([o.value for o in seen], dtype=float)
    offset = OFFSET[kinds] if len(seen) else np.zeros(0)
    error = np.array([o.error for o in seen], dtype=float)
    yes_or_no = (kinds >= 2) & (kinds <= 4)
    with np.errstate(divide="ignore"):
        y = np.where(yes_or_no, value, np.log(value + offset))
    # nothing counts to better than a third of the offset
    share = value / np.maximum(value + offset, 1e-9)
    error = np.hypot(error * share, 0.3 * (1.0 - share))
    return (
        np.array([o.day for o in seen], dtype=float),
        kinds,
        y,
        np.where(yes_or_no, 0.0, np.maximum(error, 0.01)),
        np.array([o.since for o in seen], dtype=float),
    )


def climate_array(colony: Colony, card: SpeciesCard) -> tuple[Array, tuple[str, ...]]:
    """Climate by day, shape (n, 6): temperature degC, then hot, cold, dry, wet, co2; and what had to be assumed."""
    usual = card.growth["reference_temperature"].value
    if colony.climate is None:
        made = np.zeros((1, 6))
        made[0, 0] = usual
        return made, (f"no climate record: taken as {usual:.0f} degC and inside the limits",)
    return known_climate(colony.climate, usual)


def known_climate(climate: Climate, usual: float) -> tuple[Array, tuple[str, ...]]:
    """The climate's days as an array (n, 6); a gap takes the mean temperature of the record and no depth."""
    columns = np.column_stack([getattr(climate, k) for k in ("temperature", "hot", "cold", "dry", "wet", "co2")])
    missing = np.isnan(columns[:, 0])
    notes = (f"{int(missing.sum())} days without climate readings",) if missing.any() else ()
    mean = usual if missing.all() else float(np.nanmean(columns[:, 0]))
    columns[missing, 0] = mean
    return np.nan_to_num(columns, nan=0.0), notes
