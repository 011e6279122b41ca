"""The JSON of costs: money as texts such as "118.40", so that no digit of it is lost; amounts in their units."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from nestwright.parts.costs import BatchCost, Costs, Sale
from nestwright.parts.prices import minor_digits
from nestwright.parts.rates import rate_unit

__all__ = ["costs_dict"]


def costs_dict(costs: Costs) -> dict[str, Any]:
    """See docs/guide/json.md."""
    digits = minor_digits(costs.prices.currency)
    return {
        "habitat": costs.habitat,
        "revision": costs.revision,
        "currency": costs.prices.currency,
        "prices_file": costs.prices.file,
        "prices_date": costs.prices.date.isoformat(),
        "complete": not costs.missing,
        "missing": [{"what": m.what, "unit": m.unit, "nearest": m.nearest} for m in costs.missing],
        "batches": [_batch(one, digits) for one in costs.batches],
        "bill": _bill(costs, digits),
        "moves_at_batch": costs.moves_at,
        "moves": [
            {
                "name": m.name,
                "kind": m.kind,
                "unit_cost_low_end": _money(m.low, digits),
                "unit_cost_high_end": _money(m.high, digits),
                "unit": rate_unit(m.name) if m.kind == "rate" else "10 % less and more",
                "share_pct": None if m.share is None else round(100 * m.share),
                "mark": m.mark,
            }
            for m in costs.moves
        ],
    }


def _batch(one: BatchCost, digits: int) -> dict[str, Any]:
    return {
        "count": one.count,
        "making": _money(one.making, digits),
        "unit_cost_middle": _money(one.middle, digits),
        "unit_cost": _money(one.unit, digits),
        "unit_cost_low": _money(one.low, digits),
        "unit_cost_high": _money(one.high, digits),
        "price": _sale(one.sale, digits),
        "price_low": _money(one.price_low, digits),
        "price_high": _money(one.price_high, digits),
        "break_even": one.break_even[0],
        "break_even_low": one.break_even[1],
        "break_even_high": one.break_even[2],
    }


def _sale(sale: Sale | None, digits: int) -> dict[str, Any] | None:
    if sale is None:
        return None
    return {k: _money(getattr(sale, k), digits) for k in ("price", "net", "tax", "fees", "cost", "margin")}


def _bill(costs: Costs, digits: int) -> list[dict[str, Any]]:
    """Lines of the bill, the set-up of a batch and what each habitat needs apart, with the price of one unit."""
    found = []
    for one in costs.batches[0].lines:
        price = costs.prices.price(one.line.need)
        found.append(
            {
                "part": one.line.part,
                "task": one.line.task,
                "what": str(one.line.need),
                "unit": one.line.need.unit,
                "set_up": one.line.set_up,
                "each": one.line.each,
                "unit_price": _money(price, digits + 2),
            }
        )
    return found


def _money(value: Decimal | None, digits: int) -> str | None:
    return None if value is None else f"{round(value, digits)}"
