"""What a dry run says. SI inside; `to_dict()` gives the documented JSON in the builder's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_decay import Decay
from nestwright.climate.results import SHARES

Array = NDArray[np.float64]

__all__ = ["Aspect", "Cause", "DryRun", "Explanation", "MarginShift", "PartResult", "Sum", "Trace", "told"]


def told(name: str) -> str:
    """A part's name for people: "leak:pot" is "leak of pot", "water:tile" is "tile"."""
    kind, colon, rest = name.partition(":")
    return name if not colon else f"leak of {rest}" if kind == "leak" else "walls" if kind == "walls" else rest


@dataclass(frozen=True)
class PartResult:
    """One part: 10 %, 50 % and 90 % points of its factor on the design (of a leak: its area, m2).

    `known` is the share of the prior's variance that the readings took away, with every part free: near 0 the readings
    say nothing of this part alone, whatever they say of its sum with others.
    """

    name: str
    kind: str
    between: tuple[str, str]
    low: float
    middle: float
    high: float
    known: float

    def to_dict(self) -> dict[str, Any]:
        scale = 1e6 if self.kind == "leak" else 1.0
        return {
            "name": told(self.name),
            "kind": self.kind,
            "between": [e for e in self.between if e],
            "unit": "mm2" if self.kind == "leak" else "ratio",
            "low": self.low * scale,
            "value": self.middle * scale,
            "high": self.high * scale,
            "known_pct": self.known * 100,
        }


@dataclass(frozen=True)
class Sum:
    """Parts that the readings cannot tell apart, and what they let through together over the design (10, 50, 90 %)."""

    parts: tuple[str, ...]
    low: float
    middle: float
    high: float

    def to_dict(self) -> dict[str, Any]:
        return {"parts": [told(p) for p in self.parts], "low": self.low, "value": self.middle, "high": self.high}


@dataclass(frozen=True)
class Aspect:
    """One side of how the build behaves, as a factor on the design, with the chances that it lies below, in and above
    what is called as designed. `words` say what below and above mean."""

    name: str
    words: tuple[str, str]
    low: float
    middle: float
    high: float
    below: float
    within: float
    above: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "name": self.name,
            "low": self.low,
            "value": self.middle,
            "high": self.high,
            "as_designed_chance": self.within,
            "below": self.words[0],
            "below_chance": self.below,
            "above": self.words[1],
            "above_chance": self.above,
        }


@dataclass(frozen=True)
class Cause:
    """A part that makes most of the difference, with the chance that it does."""

    part: str
    chance: float

    def to_dict(self) -> dict[str, Any]:
        return {"part": told(self.part), "chance": self.chance}


@dataclass(frozen=True)
class Explanation:
    """Parts freed from their tolerance, the chance of that explanation, and by how much its squares and its prior's are
    below those of the design with every part in its tolerance (delta chi2)."""

    wrong: tuple[str, ...]
    chance: float
    better_by: float

    def to_dict(self) -> dict[str, Any]:
        return {
            "wrong": [told(w) for w in self.wrong],
            "chance": self.chance,
            "delta_chi2": self.better_by,
        }


@dataclass(frozen=True)
class MarginShift:
    """One limit of the climate in the dry run's room: margin of the design, and with the fitted build (10, 50, 90 %).

    In the limit's own unit (K, 0 to 1, kg/s); `held` is the chance that the build holds it, by its factors alone.
    """

    name: str
    quantity: str
    before: float
    low: float
    middle: float
    high: float
    held: float

    def to_dict(self) -> dict[str, Any]:
        share = self.quantity in SHARES
        scale = 100.0 if share else 1000.0 * 86400.0 if self.quantity == "drip" else 1.0
        unit = {"temperature": "K", "drip": "g/day", "garden_water": "ratio"}.get(self.quantity, "%")
        return {
            "name": self.name,
            "unit": unit,
            "margin_designed": self.before * scale,
            "margin_low": self.low * scale,
            "margin_fitted": self.middle * scale,
            "margin_high": self.high * scale,
            "held_chance": self.held,
        }


@dataclass(frozen=True)
class Trace:
    """One channel for the picture: s and SI, shape (n,); the sensor's lasting error, as fitted, is in `designed` and in
    `fitted`."""

    zone: str
    quantity: str
    time: Array
    measured: Array
    designed: Array
    fitted: Array


@dataclass(frozen=True)
class DryRun:
    """Result of a dry run. `verdict` names the sides of the behaviour that are surely off, or is "as designed", or, not
    `sure`, "cannot tell"; `leaning` is the likeliest behaviour as a whole; `chance` is that of the verdict, or of the
    leaning when there is none. Intervals are 80 %."""

    habitat: str
    revision: str
    start: str
    hours: float
    begun: str
    room: str
    readings: int
    releases: tuple[tuple[str, float, float], ...]
    """Chamber, s, mol let in as fitted."""
    decays: tuple[Decay, ...]
    verdict: str
    leaning: str
    chance: float
    sure: bool
    aspects: tuple[Aspect, ...]
    causes: tuple[Cause, ...]
    cause: str
    parts: tuple[PartResult, ...]
    sums: tuple[Sum, ...]
    explanations: tuple[Explanation, ...]
    limits: tuple[MarginShift, ...]
    builds: Any
    """Builds drawn from what is known of this one (`as_built.Builds`), for a proof in another room."""
    traces: tuple[Trace, ...]
    judgements: tuple[str, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "habitat": self.habitat,
            "revision": self.revision,
            "start": self.start,
            "hours": self.hours,
            "begun": self.begun,
            "room": self.room,
            "readings": self.readings,
            "verdict": self.verdict,
            "leaning": self.leaning,
            "chance": self.chance,
            "sure": self.sure,
            "cause": self.cause,
            "causes": [c.to_dict() for c in self.causes],
            "behaviour": [a.to_dict() for a in self.aspects],
            "releases": [
                {"chamber": zone, "hour": time / 3600, "co2_mmol": moles * 1000} for zone, time, moles in self.releases
            ],
            "decays": [d.to_dict() for d in self.decays],
            "parts": [p.to_dict() for p in self.parts],
            "sums": [s.to_dict() for s in self.sums],
            "explanations": [e.to_dict() for e in self.explanations],
            "limits": [m.to_dict() for m in self.limits],
            "builds": self.builds.to_dict(),
            "judgements": list(self.judgements),
            "notes": list(self.notes),
        }
