"""What a habitat costs to make in batches, and its price: interval, break-even, and what moves the price most.

Money is decimal. Range, break-even and what the range comes from are those of `nestwright.parts.cost_draws`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.bill import Line, bill_of
from nestwright.parts.cost_draws import DRAWS, Draws, draw_costs
from nestwright.parts.model import Assembly, Measured
from nestwright.parts.prices import Missing, Need, Prices, minor_digits
from nestwright.parts.rates import Rates

__all__ = ["BATCHES", "BatchCost", "CostLine", "Costs", "Move", "Sale", "cost_of_batch", "cost_of_habitat", "sale_at"]

BATCHES = (1, 10, 50, 200)
_OTHER_PRICE = Decimal("0.10")
"""How far each price of the list is moved for the list of what moves the price: a comparison, no uncertainty."""


@dataclass(frozen=True)
class CostLine:
    """A line of the bill with its money for a whole batch; None where the list has no price."""

    line: Line
    amount: Decimal
    cost: Decimal | None


@dataclass(frozen=True)
class Sale:
    """One habitat sold: money in whole smallest coins. price = tax + fees + cost + margin, exactly."""

    price: Decimal
    tax: Decimal
    fees: Decimal
    cost: Decimal
    margin: Decimal

    @property
    def net(self) -> Decimal:
        return self.price - self.tax


@dataclass(frozen=True)
class BatchCost:
    """A batch of `count`. `making` money of all its lines at the middle of every rate, `middle` with overhead for one.

    `unit` is the median of one over the draws, 8 in 10 of which lie from `low` to `high`. `break_even` habitats sold
    after which the set-up of the batch and what was spent once are earned: median, low and high; None: never.
    """

    count: int
    lines: tuple[CostLine, ...]
    making: Decimal
    middle: Decimal
    unit: Decimal
    low: Decimal
    high: Decimal
    sale: Sale | None
    """None where a price is missing: then nothing can be sold at a known cost."""
    price_low: Decimal | None
    price_high: Decimal | None
    break_even: tuple[int | None, int | None, int | None]


@dataclass(frozen=True)
class Move:
    """What one assumption moves: unit cost at its low and its high end with all else in the middle, money.

    `kind` rate (with its range) or price (10 % less and more). `share` of the spread of the draws that a rate explains,
    0 to 1; None of a price, which is not drawn.
    """

    name: str
    kind: str
    low: Decimal
    high: Decimal
    mark: str
    share: float | None = None

    @property
    def span(self) -> Decimal:
        return abs(self.high - self.low)


@dataclass(frozen=True)
class Costs:
    """Costs of one habitat. With `missing` not empty every figure of money is "at least", and there is no price."""

    habitat: str
    revision: str
    prices: Prices
    batches: tuple[BatchCost, ...]
    moves: tuple[Move, ...]
    moves_at: int
    missing: tuple[Missing, ...]

    def to_dict(self) -> dict[str, Any]:
        """The JSON of `nestwright cost`; see docs/guide/json.md."""
        from nestwright.parts.costs_json import costs_dict

        return costs_dict(self)


def cost_of_habitat(
    assembly: Assembly,
    measured: Mapping[str, Measured],
    rates: Rates,
    prices: Prices,
    batches: Sequence[int] = BATCHES,
    draws: int = DRAWS,
) -> Costs:
    """Costs and prices of a habitat in batches; the list of moves is for the second of them (or the only one).

    `draws` of all rates that the habitat uses; the same habitat gives the same draws.

    Raises
    ------
    InputError
        As `bill_of`; for batches that are not at least 1.
    """
    if not batches or min(batches) < 1:
        raise InputError("is no batch", field="batch", found=str(min(batches, default=0)), allowed="at least 1")
    lines = bill_of(assembly, measured, rates)
    counts = sorted(set(batches))
    moved = {
        name: tuple(
            bill_of(assembly, measured, {**rates, name: replace(one, value=end)}) for end in (one.low, one.high)
        )
        for name, one in rates.items()
        if one.low < one.high and _used(name, assembly)
    }
    drawn = draw_costs(assembly, measured, rates, list(moved), prices, draws)
    missing: dict[str, Missing] = {}
    for line in lines:
        if prices.price(line.need) is None and (line.set_up or line.each):
            missing.setdefault(str(line.need), prices.missing(line.need))
    made = tuple(_batch(lines, drawn, prices, count, whole=not missing) for count in counts)
    at = made[min(1, len(made) - 1)]
    moves = _moves(lines, moved, prices, at, rates, drawn.shares(at.count))
    return Costs(assembly.habitat, assembly.revision, prices, made, moves, at.count, tuple(missing.values()))


def _used(name: str, assembly: Assembly) -> bool:
    group = name.partition(".")[0]
    return group in ("assembly", "finish") or any(group == part.way for part in assembly.parts)


def cost_of_batch(lines: Sequence[Line], prices: Prices, count: int) -> tuple[CostLine, ...]:
    """Every line of a bill with its money for a batch of `count`."""
    found: dict[Need, Decimal | None] = {}
    made = []
    for line in lines:
        if line.need not in found:
            found[line.need] = prices.price(line.need)
        price, amount = found[line.need], _amount(line.amount(count))
        made.append(CostLine(line, amount, None if price is None else price * amount))
    return tuple(made)


def sale_at(cost: Decimal, prices: Prices) -> Sale:
    """The price of one habitat that costs `cost` (rounded to the smallest coin here), and where its money goes.

    The price is the list's own where it has one, else the one that leaves the wanted margin. Fees that are a share
    are taken from the price with tax.
    """
    rules, coin = prices.selling, Decimal(1).scaleb(-minor_digits(prices.currency))
    whole = cost.quantize(coin, ROUND_HALF_UP)
    price = rules.price
    if price is None:
        net = (whole + rules.fee_fixed) / (1 - rules.margin - rules.fee_share * (1 + rules.tax))
        price = (net * (1 + rules.tax)).quantize(coin, ROUND_CEILING)
    price = price.quantize(coin, ROUND_HALF_UP)
    tax = (price - price / (1 + rules.tax)).quantize(coin, ROUND_HALF_UP)
    fees = (price * rules.fee_share + rules.fee_fixed).quantize(coin, ROUND_HALF_UP)
    return Sale(price, tax, fees, whole, price - tax - fees - whole)


def _amount(value: float) -> Decimal:
    """An amount as decimal: nine figures, far more than it has, so that products with prices stay exact."""
    return Decimal(f"{value:.9g}")


def _total(lines: Sequence[Line], prices: Prices, count: int) -> Decimal:
    return sum((one.cost for one in cost_of_batch(lines, prices, count) if one.cost is not None), Decimal(0))


def _unit(lines: Sequence[Line], prices: Prices, count: int) -> Decimal:
    return _total(lines, prices, count) * (1 + prices.selling.overhead) / count


Moved = Mapping[str, tuple[tuple[Line, ...], ...]]


def _batch(lines: tuple[Line, ...], drawn: Draws, prices: Prices, count: int, *, whole: bool) -> BatchCost:
    priced = cost_of_batch(lines, prices, count)
    making = sum((one.cost for one in priced if one.cost is not None), Decimal(0))
    middle = making * (1 + prices.selling.overhead) / count
    unit, low, high = (_amount(x) for x in drawn.unit(count))
    if not whole:
        return BatchCost(count, priced, making, middle, unit, low, high, None, None, None, (None, None, None))
    sale = sale_at(unit, prices)
    cheap, dear = (sale_at(end, prices).price for end in (low, high))
    even = drawn.break_even(float(sale.net - sale.fees), float(prices.selling.once))
    return BatchCost(count, priced, making, middle, unit, low, high, sale, cheap, dear, even)


def _moves(
    lines: tuple[Line, ...], moved: Moved, prices: Prices, at: BatchCost, rates: Rates, shares: Mapping[str, float]
) -> tuple[Move, ...]:
    """What moves the unit cost, the most first; what moves it by nothing is left out."""
    count, unit = at.count, at.middle
    found = [
        Move(name, "rate", _unit(low, prices, count), _unit(high, prices, count), rates[name].mark, shares[name])
        for name, (low, high) in moved.items()
    ]
    share = 1 + prices.selling.overhead
    by_need: dict[str, Decimal] = {}
    for one in cost_of_batch(lines, prices, count):
        if one.cost:
            by_need[str(one.line.need)] = by_need.get(str(one.line.need), Decimal(0)) + one.cost * share / count
    found += [
        Move(f"price of {k}", "price", unit - c * _OTHER_PRICE, unit + c * _OTHER_PRICE, "own")
        for k, c in by_need.items()
    ]
    return tuple(sorted((m for m in found if m.span), key=lambda m: (-m.span, m.name)))
