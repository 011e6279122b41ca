"""What the rates of making leave open in a cost: each drawn from its range, the bill made anew for every draw.

A rate's value is its median. On either side of it lies half of a normal law whose two standard deviations are the end
of the range, where it is cut off: a judgement, as the ranges are. Rates are drawn independently of each other; prices
are certain. The same draws give the range, the break-even and what the range comes from.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np

from nestwright.parts.bill import Line, bill_of
from nestwright.parts.model import Assembly, Measured
from nestwright.parts.prices import Need, Prices
from nestwright.parts.rates import Rates

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["DRAWS", "Draws", "draw_costs"]

DRAWS = 500
"""The ends of a range of 8 in 10 then stand within 2 % of their rank (binomial, two standard errors: 2.7 %)."""
LOW, HIGH = 0.1, 0.9
_SEED = 20


@dataclass(frozen=True)
class Draws:
    """Money with overhead, one value a draw: `fixed` once a batch, `each` for every habitat; `rates` by name."""

    fixed: NDArray[np.float64]
    each: NDArray[np.float64]
    rates: Mapping[str, NDArray[np.float64]]

    def unit(self, count: int) -> tuple[float, float, float]:
        """Unit cost in a batch of `count`: median, and the ends that 8 in 10 lie between."""
        middle, low, high = np.quantile(self.fixed / count + self.each, [0.5, LOW, HIGH])
        return float(middle), float(low), float(high)

    def break_even(self, earned: float, once: float) -> tuple[int | None, int | None, int | None]:
        """Habitats until one batch's set-up and `once` are earned, where one sold brings `earned` less its cost: median
        and ends; None where they never are."""
        left = earned - self.each
        needed = np.where(left > 0, np.ceil((self.fixed + once) / np.where(left > 0, left, 1.0)), np.inf)
        found = np.quantile(needed, [0.5, LOW, HIGH], method="higher")
        middle, low, high = (int(n) if np.isfinite(n) else None for n in found)
        return middle, low, high

    def shares(self, count: int) -> dict[str, float]:
        """Share of the spread of the unit cost that each rate explains by a straight line: squared correlation."""
        unit = self.fixed / count + self.each
        if not unit.std():
            return dict.fromkeys(self.rates, 0.0)
        return {name: float(np.corrcoef(drawn, unit)[0, 1] ** 2) for name, drawn in self.rates.items()}


def draw_costs(
    assembly: Assembly, measured: Mapping[str, Measured], rates: Rates, names: list[str], prices: Prices,
    draws: int = DRAWS,
) -> Draws:  # fmt: skip
    """Costs of one habitat for so many draws of the rates of `names`; what has no price counts nothing."""
    drawn = {name: _drawn(rates, name, draws, place) for place, name in enumerate(names)}
    known: dict[Need, float] = {}
    overhead = float(1 + prices.selling.overhead)
    fixed, each = np.zeros(draws), np.zeros(draws)
    for k in range(draws):
        moved = {**rates, **{name: replace(rates[name], value=float(values[k])) for name, values in drawn.items()}}
        for line in bill_of(assembly, measured, moved):
            price = _price(line, prices, known) * overhead
            fixed[k] += line.set_up * price
            each[k] += line.each * price
    return Draws(fixed, each, drawn)


def _price(line: Line, prices: Prices, known: dict[Need, float]) -> float:
    if line.need not in known:
        known[line.need] = float(prices.price(line.need) or Decimal(0))
    return known[line.need]


def _drawn(rates: Rates, name: str, draws: int, place: int) -> NDArray[np.float64]:
    """Values of one rate, spread evenly over its law (one in each of `draws` equal parts) and shuffled."""
    from scipy.special import ndtri

    one, random = rates[name], np.random.default_rng([_SEED, place])
    normal = ndtri((random.permutation(draws) + random.random(draws)) / draws)
    side = np.where(normal > 0, one.high - one.value, one.value - one.low)
    return np.clip(one.value + normal * side / 2, one.low, one.high)
