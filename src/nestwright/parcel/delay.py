"""How late parcels come, learned route by route from those that were sent.

A parcel is on time with chance 1 - q, and late by k days of delivery with chance q (1 - r) r^(k-1). The chance q is a
route's own, drawn from Beta(m s, (1 - m) s) over all routes: a route with few parcels leans on the others, one with
many stands for itself. The chance r of a further day is shared, for late parcels are few. Given m and s everything is
in closed form (beta-binomial); m and s lie on a grid.

References
----------
.. [1] Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), section 5.3: the beta-binomial hierarchy on a grid.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.data import Value, read_values

__all__ = ["DelayBelief", "RouteDelay", "Sent", "learn_delays"]

Array = NDArray[np.float64]
NODES = (48, 24)
"""Nodes of the grid over m and ln s: quantiles of their priors, each with the same prior weight."""


@dataclass(frozen=True)
class Sent:
    """A parcel that has arrived: its route, and by how many days of delivery it was late (0: on time or early)."""

    route: str
    days_late: int


@dataclass(frozen=True)
class RouteDelay:
    """What is known of one route.

    parcels and late count those of its own; chance_late with low and high, the ends of its 80 % interval; by_days the
    chance of being late by 0, 1, 2 ... days of delivery for the next parcel, what is beyond on the last.
    """

    route: str
    parcels: int
    late: int
    chance_late: float
    low: float
    high: float
    by_days: tuple[float, ...]

    def to_dict(self) -> dict[str, Any]:
        return self.__dict__ | {"by_days": list(self.by_days)}


@dataclass(frozen=True)
class DelayBelief:
    """The posterior: m, s and their weights, shape (nodes,); parcels and late ones by route; Beta of a further day."""

    m: Array
    s: Array
    weight: Array
    counts: dict[str, tuple[int, int]]
    further: tuple[float, float]
    most: int

    def chance_late(self, route: str) -> tuple[Array, Array]:
        """The two numbers of the Beta of a route's chance at each node, shape (nodes,); of any route, known or not."""
        n, late = self.counts.get(route, (0, 0))
        return self.m * self.s + late, (1 - self.m) * self.s + n - late

    def by_days(self, route: str) -> Array:
        """Chance of the next parcel of a route being late by 0, 1, ... most days, shape (most + 1,), sum 1."""
        a, b = self.chance_late(route)
        late = float(self.weight @ (a / (a + b)))
        c, d = self.further
        beyond = np.concatenate([[1.0], np.cumprod((c + np.arange(self.most)) / (c + d + np.arange(self.most)))])
        # E[r^(k-1) (1 - r)] under a Beta is the difference of its moments
        each = -np.diff(beyond[: self.most + 1])
        each[-1] = beyond[self.most - 1]
        return np.concatenate([[1 - late], late * each])

    def draw_chances(self, route: str, n: int, rng: np.random.Generator) -> tuple[Array, Array]:
        """n states of what is not known: the route's chance of being late, and that of a further day, each (n,)."""
        a, b = self.chance_late(route)
        node = rng.choice(self.weight.size, size=n, p=self.weight)
        return rng.beta(a[node], b[node]), rng.beta(*self.further, size=n)

    def draw(self, route: str, n: int, rng: np.random.Generator) -> NDArray[np.int64]:
        """Days of delivery late of n parcels of one future each, shape (n,): every draw has a truth of its own."""
        chance, further = self.draw_chances(route, n, rng)
        return np.where(rng.random(n) < chance, np.minimum(rng.geometric(1 - further), self.most), 0)

    def route(self, name: str, share: float = 0.8) -> RouteDelay:
        """The belief of one route, with the central interval of its chance that holds `share`."""
        from scipy.optimize import brentq
        from scipy.special import betainc

        a, b = self.chance_late(name)
        n, late = self.counts.get(name, (0, 0))
        ends = [
            float(brentq(lambda x, p=p: self.weight @ betainc(a, b, x) - p, 0.0, 1.0, xtol=1e-7))
            for p in ((1 - share) / 2, (1 + share) / 2)
        ]
        chances = self.by_days(name)
        return RouteDelay(name, n, late, float(1 - chances[0]), ends[0], ends[1], tuple(map(float, chances)))

    def to_dict(self) -> dict[str, Any]:
        """Every route that was sent on, and under "" one that was not."""
        names = [*sorted(self.counts), *([] if "" in self.counts else [""])]
        marks = {k: v.mark for k, v in read_values("delay.toml").items()}
        judged = sorted(k for k, mark in marks.items() if mark == "judgement")
        return {"routes": [self.route(one).to_dict() for one in names], "judgements": judged}


def learn_delays(sent: Iterable[Sent], values: dict[str, Value] | None = None) -> DelayBelief:
    """The belief about delays after these parcels, by route.

    Parameters
    ----------
    sent : parcels that have arrived; none: the prior alone
    values : the prior; default data/delay.toml

    Raises
    ------
    ValueError
        For a negative number of days.
    """
    from scipy.special import betaincinv, betaln, logsumexp, ndtri

    v = {k: one.value for k, one in (values or read_values("delay.toml")).items()}
    counts: dict[str, tuple[int, int]] = {}
    further = 0
    for one in sent:
        if one.days_late < 0:
            raise ValueError("days late are 0 or more")
        n, late = counts.get(one.route, (0, 0))
        counts[one.route] = (n + 1, late + (one.days_late > 0))
        further += max(0, one.days_late - 1)
    middles = [(np.arange(k) + 0.5) / k for k in NODES]
    m_line = betaincinv(v["late_prior_a"], v["late_prior_b"], middles[0])
    s_line = v["route_likeness"] * np.exp(v["route_likeness_spread"] * ndtri(middles[1]))
    m, s = (x.ravel() for x in np.meshgrid(m_line, s_line))
    log = np.zeros_like(m)
    for n, late in counts.values():
        a, b = m * s, (1 - m) * s
        log += betaln(a + late, b + n - late) - betaln(a, b)
    all_late = sum(late for _, late in counts.values())
    ends = (v["further_prior_a"] + further, v["further_prior_b"] + all_late)
    return DelayBelief(m, s, np.exp(log - logsumexp(log)), counts, ends, int(v["most_days"]))
