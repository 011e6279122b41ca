"""What an explanation says: the range of a result, and the share of its variance that each unknown has."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["CONFIDENCE", "Explained", "Indices", "Share", "Unknown"]

CONFIDENCE = 0.95
"""Of the intervals of every index; by resampling (bootstrap), about the estimate."""


@dataclass(frozen=True)
class Unknown:
    """A value that is not known: its range in `unit`, its mark (published, secondary, derived, judgement, record) and
    source. `what` says what the ends of the range are: "range" (all that is held possible) or "8 of 10"."""

    name: str
    low: float
    value: float
    high: float
    unit: str
    mark: str
    source: str
    what: str = "range"


@dataclass(frozen=True)
class Indices:
    """Shares of variance (k,) with the half widths of their intervals (k,); `total` nan where it cannot be told."""

    first: Array
    first_error: Array
    total: Array
    total_error: Array


@dataclass(frozen=True)
class Share:
    """One unknown, or a group of `members`, and its part in a result's variance.

    `first`: share that would go, in the mean, were this one known exactly. `total`: share that would stay were all the
    others known; None for draws that are not independent. Errors: half widths of the intervals of CONFIDENCE.
    """

    name: str
    unknown: Unknown | None
    members: tuple[str, ...]
    first: float
    first_error: float
    total: float | None
    total_error: float | None

    @property
    def sure(self) -> bool:
        """It is told from nothing."""
        if self.total is not None and self.total_error is not None:
            return self.total > self.total_error
        return self.first > self.first_error

    @property
    def weight(self) -> float:
        """By which shares are put in order."""
        return self.first if self.total is None else self.total

    def to_dict(self) -> dict[str, Any]:
        one = self.unknown
        return {
            "name": self.name,
            "members": list(self.members),
            "low": None if one is None else one.low,
            "value": None if one is None else one.value,
            "high": None if one is None else one.high,
            "range": None if one is None else one.what,
            "unit": None if one is None else one.unit,
            "mark": None if one is None else one.mark,
            "source": None if one is None else one.source,
            "first": self.first,
            "first_error": self.first_error,
            "total": self.total,
            "total_error": self.total_error,
            "sure": self.sure,
        }


@dataclass(frozen=True)
class Explained:
    """A result and what it hangs on.

    `subject` habitat or colony; `result` what was asked of it, `unit` of `low`, `middle`, `high` (10, 50 and 90 % of
    the runs). `shares` the largest first. `chance`: share of variance that births, deaths and growth by chance have,
    None where nothing is drawn by chance. `undecided`: the leading two cannot be told apart. `runs` made, `lost` of
    them that found no rest.
    """

    subject: str
    result: str
    unit: str
    low: float
    middle: float
    high: float
    shares: tuple[Share, ...]
    chance: float | None
    runs: int
    lost: int
    notes: tuple[str, ...] = ()

    @property
    def leading(self) -> Share | None:
        """What matters most, where anything is told from nothing."""
        return next((one for one in self.shares if one.unknown is not None and one.sure), None)

    @property
    def undecided(self) -> Share | None:
        """The second, where its interval reaches that of the leading one."""
        sure = [one for one in self.shares if one.unknown is not None and one.sure]
        if len(sure) < 2:
            return None
        a, b = sure[:2]
        errors = (a.first_error, b.first_error) if a.total is None else (a.total_error or 0.0, b.total_error or 0.0)
        return b if a.weight - errors[0] < b.weight + errors[1] else None

    def to_dict(self) -> dict[str, Any]:
        leading, second = self.leading, self.undecided
        return {
            "subject": self.subject,
            "result": self.result,
            "unit": self.unit,
            "low": self.low,
            "middle": self.middle,
            "high": self.high,
            "leading": None if leading is None else leading.name,
            "undecided": None if second is None else second.name,
            "chance": self.chance,
            "runs": self.runs,
            "lost": self.lost,
            "confidence": CONFIDENCE,
            "shares": [one.to_dict() for one in self.shares],
            "notes": list(self.notes),
        }
