"""The chance that a parcel loses its garden or its colony, by day of dispatch, and which change is worth its cost."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.intervals import EIGHT_IN_TEN
from nestwright.parcel.draws import Draws

__all__ = [
    "Carried",
    "Chance",
    "Choice",
    "LateRisk",
    "Option",
    "Risk",
    "Weighed",
    "chance_among",
    "chance_of",
    "risk_of",
    "weigh",
]

Array = NDArray[np.float64]
TENTHS = (0.1, 0.9)
SAME = 2.0
"""Standard errors of a mean difference, draw by draw, up to which two packings are not told apart."""


@dataclass(frozen=True)
class Carried:
    """What became of many parcels, shape (n,): the chance that the garden is lost and that the colony is, 0 to 1, and
    which cause went first, as a number into `causes`; -1 for none. The same of the ants in `ants_cause`."""

    garden: Array
    colony: Array
    cause: NDArray[np.int64]
    causes: tuple[str, ...]
    ants_cause: NDArray[np.int64]
    ants_causes: tuple[str, ...]


Carry = Callable[[Mapping[str, Array], Array], Carried]
"""From values by name and hours of delay, shape (n,), to what became of the parcels."""


@dataclass(frozen=True)
class Chance:
    """A chance: its mean; in 8 of 10 states of what is not known it lies from low to high; `error`, the standard error
    of the mean by the number of draws."""

    mean: float
    low: float
    high: float
    error: float

    def to_dict(self) -> dict[str, float]:
        return dict(self.__dict__)


@dataclass(frozen=True)
class LateRisk:
    """Parcels that are late by so many days of delivery: their share of all, and the chances of loss among them."""

    days_late: int
    share: Chance
    garden: Chance
    colony: Chance

    def to_dict(self) -> dict[str, Any]:
        told = {"share": self.share, "garden_lost": self.garden, "colony_lost": self.colony}
        return {"days_late": self.days_late} | {name: one.to_dict() for name, one in told.items()}


@dataclass(frozen=True)
class Risk:
    """The risk of one day of dispatch: `due` is the promised day; by_late 0, 1, 2 ... days late; causes: share of the
    gardens lost by what went first, the largest first; ants_causes: the same of the colonies."""

    sent: date
    due: date
    parcels: int
    garden: Chance
    colony: Chance
    by_late: tuple[LateRisk, ...]
    causes: tuple[tuple[str, float], ...]
    ants_causes: tuple[tuple[str, float], ...]

    def to_dict(self) -> dict[str, Any]:
        return {
            "sent": self.sent.isoformat(),
            "due": self.due.isoformat(),
            "parcels": self.parcels,
            "garden_lost": self.garden.to_dict(),
            "colony_lost": self.colony.to_dict(),
            "by_days_late": [one.to_dict() for one in self.by_late],
            "causes": [{"cause": name, "share": share} for name, share in self.causes],
            "causes_of_the_ants": [{"cause": name, "share": share} for name, share in self.ants_causes],
        }


def chance_of(lost: Array, outer: int) -> Chance:
    """The chance of a loss from the draws, shape (outer * inner,), each with a chance of its own.

    The spread over the outer draws is that of what is not known and that of few inner draws; the second is taken off.
    """
    groups = np.asarray(lost, dtype=float).reshape(outer, -1)
    means, mean = groups.mean(axis=1), float(groups.mean())
    between = float(means.var(ddof=1)) if outer > 1 else 0.0
    within = float(groups.var(axis=1, ddof=1).mean() / groups.shape[1]) if groups.shape[1] > 1 else 0.0
    kept = np.sqrt(max(0.0, between - within) / between) if between > 0 else 0.0
    low, high = np.quantile(mean + kept * (means - mean), TENTHS)
    # no draws show a chance below about one in their number
    least = 1.0 / groups.size
    error = max(float(np.sqrt(between / outer)), least)
    return Chance(mean, float(min(low, mean)), float(min(1.0, max(high, mean, least))), error)


def chance_among(lost: Array, here: NDArray[np.bool_], outer: int) -> Chance:
    """As `chance_of`, of some of the draws only, at least one: `here` of shape (outer * inner,) says which.

    An outer draw weighs by how many of these it has; the chance noise of its few is taken off as there. Where they are
    so few that nothing of what is not known shows, the interval is that of their number: 8 in 10 by the error.
    """
    each = np.asarray(lost, dtype=float).reshape(outer, -1)
    some = here.reshape(outer, -1)
    number = some.sum(axis=1)
    has = number > 0
    sums, n = (each * some).sum(axis=1)[has], number[has]
    means, mean = sums / n, float(sums.sum() / n.sum())
    least = 1.0 / float(n.sum())
    if means.size < 2:
        return Chance(mean, mean, float(min(1.0, max(mean, least))), least)
    weight = n / n.sum()
    off = means - mean
    spread = 1.0 - float((weight**2).sum())
    between = float((weight * off**2).sum()) / spread
    own = (((each[has] - means[:, None]) ** 2) * some[has]).sum() / max(1, int((n - 1).sum()))
    within = float((weight * own / n).sum())
    kept = np.sqrt(max(0.0, between - within) / between) if between > 0 else 0.0
    low, high = np.quantile(mean + kept * off, TENTHS, weights=weight, method="inverted_cdf")
    error = max(float(np.sqrt((weight**2 * off**2).sum() / spread)), least)
    low, high = min(float(low), mean - EIGHT_IN_TEN * error), max(float(high), mean + EIGHT_IN_TEN * error, least)
    return Chance(mean, max(0.0, low), min(1.0, high), error)


def risk_of(carry: Carry, draws: Draws, sent: date, due: date) -> Risk:
    """The risk of parcels sent on a day and due on another."""
    carried = carry(draws.values, draws.hours_late(due))
    n = draws.days_late.size
    by_late = []
    for k in range(int(draws.days_late.max(initial=0)) + 1):
        here = draws.days_late == k
        if here.any():
            told = [chance_among(lost, here, draws.outer) for lost in (carried.garden, carried.colony)]
            by_late.append(LateRisk(k, chance_of(here.astype(float), draws.outer), *told))
    causes = _causes(carried.garden, carried.cause, carried.causes)
    ants = _causes(carried.colony, carried.ants_cause, carried.ants_causes)
    garden, colony = (chance_of(lost, draws.outer) for lost in (carried.garden, carried.colony))
    return Risk(sent, due, n, garden, colony, tuple(by_late), causes, ants)


def _causes(lost: Array, first: NDArray[np.int64], names: tuple[str, ...]) -> tuple[tuple[str, float], ...]:
    """Share of the losses by what went first, the largest first."""
    weight = np.array([lost[first == k].sum() for k in range(len(names))])
    shares = weight / weight.sum() if weight.sum() > 0 else weight
    ranked = sorted(zip(names, map(float, shares), strict=True), key=lambda one: -one[1])
    return tuple(one for one in ranked if one[1] > 0)


@dataclass(frozen=True)
class Option:
    """A way to send it: its key, what it costs more than as it is (in the keeper's money), its parcels, its days, and
    how many things are done otherwise."""

    key: str
    cost: float
    carry: Carry
    sent: date
    due: date
    parts: int = 1


@dataclass(frozen=True)
class Choice:
    """A way to send it, weighed: its risk; `saved`, the chance of losing the garden that it takes off, with its
    standard error draw by draw; `expected`: cost and what loss costs on the average; `as_good` as the best of all."""

    key: str
    cost: float
    risk: Risk
    saved: float
    saved_error: float
    expected: float
    as_good: bool

    def to_dict(self) -> dict[str, Any]:
        return {
            "key": self.key,
            "cost": self.cost,
            "garden_lost": self.risk.garden.to_dict(),
            "colony_lost": self.risk.colony.to_dict(),
            "sent": self.risk.sent.isoformat(),
            "saved": self.saved,
            "saved_error": self.saved_error,
            "expected_cost": self.expected,
            "as_good": self.as_good,
        }


@dataclass(frozen=True)
class Weighed:
    """Ways to send it, the least expected cost first; best: the cheapest of those that are as good as the best within
    the budget, and of equal cost the one that changes least; garden_worth and colony_worth, what their loss costs."""

    choices: tuple[Choice, ...]
    best: str
    garden_worth: float
    colony_worth: float
    budget: float | None

    def to_dict(self) -> dict[str, Any]:
        return {
            "best": self.best,
            "garden_worth": self.garden_worth,
            "colony_worth": self.colony_worth,
            "budget": self.budget,
            "choices": [one.to_dict() for one in self.choices],
        }


def weigh(
    options: Sequence[Option],
    draws: Draws,
    *,
    garden_worth: float,
    colony_worth: float,
    budget: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Weighed:
    """Weigh ways to send a parcel; the first is as it is. All meet the same draws, so that they are compared in pairs.

    Raises ValueError for none, or where the first costs more than the budget.
    """
    if not options or (budget is not None and options[0].cost > budget):
        raise ValueError("the first way must be there and within the budget")
    told: list[tuple[Option, Risk, Array, Array]] = []
    for k, one in enumerate(options):
        kept: list[Carried] = []

        def carry(values: Mapping[str, Array], late: Array, one: Option = one, kept: list[Carried] = kept) -> Carried:
            kept.append(one.carry(values, late))
            return kept[0]

        risk = risk_of(carry, draws, one.sent, one.due)
        loss = one.cost + garden_worth * kept[0].garden + colony_worth * kept[0].colony
        told.append((one, risk, kept[0].garden.reshape(draws.outer, -1).mean(axis=1), _by_group(loss, draws.outer)))
        if progress:
            progress((k + 1) / len(options))
    able = [k for k, row in enumerate(told) if budget is None or row[0].cost <= budget]
    least = min(able, key=lambda k: float(told[k][3].mean()))
    choices = []
    for one, risk, garden, loss in told:
        behind, saved = loss - told[least][3], told[0][2] - garden
        as_good = (budget is None or one.cost <= budget) and float(behind.mean()) <= SAME * _error(behind) + 1e-12
        choices.append(
            Choice(one.key, one.cost, risk, float(saved.mean()), _error(saved), float(loss.mean()), bool(as_good))
        )
    parts = {one.key: one.parts for one in options}
    best = min((c for c in choices if c.as_good), key=lambda c: (c.cost, parts[c.key], c.expected)).key
    ranked = tuple(sorted(choices, key=lambda c: c.expected))
    return Weighed(ranked, best, garden_worth, colony_worth, budget)


def _by_group(values: Array, outer: int) -> Array:
    return np.asarray(values.reshape(outer, -1).mean(axis=1))


def _error(differences: Array) -> float:
    return float(differences.std(ddof=1) / np.sqrt(differences.size)) if differences.size > 1 else 0.0
