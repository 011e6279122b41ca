"""What to buy for a batch: whole sheets, tubes and packs, and what is sold by weight."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from nestwright.parts.bill import Line, round_stock
from nestwright.parts.layouts import Layout, Product, made_of
from nestwright.parts.prices import Need, Prices, minor_digits, unit_price
from nestwright.parts.rates import Rates

__all__ = ["Purchase", "bars_of", "purchases_of"]


@dataclass(frozen=True)
class Purchase:
    """`amount` of `unit` (sheets, bars, packs, m, m2, kg, each); `cost` in money, None where no price is known."""

    what: str
    amount: Decimal
    unit: str
    cost: Decimal | None
    supplier: str = ""
    for_: str = ""


def purchases_of(
    products: Sequence[Product],
    count: int,
    lines: Iterable[Line],
    layouts: Sequence[Layout],
    prices: Prices,
    rates: Rates,
) -> tuple[Purchase, ...]:
    """The purchase list of `count` of every product.

    `lines` are the bills of all products. Sheets are counted as they were laid out, tubes and rods as their pieces are
    cut from them; all else is the bill's amount, with what is lost on the way.
    """
    found = [*_sheets(layouts, prices), *_bars(products, count, prices, rates)]
    laid = {p.piece.name for one in layouts if one.thickness for p in one.pieces}
    sums: dict[Need, Decimal] = {}
    who: dict[Need, list[str]] = {}
    for line in lines:
        need = line.need
        by_area = need.unit == "m2" and line.part not in laid
        by_amount = need.kind in ("bought", "packing") or (need.kind == "stock" and (need.unit == "kg" or by_area))
        if by_amount:
            sums[need] = sums.get(need, Decimal(0)) + Decimal(f"{line.amount(count):.9g}")
            who.setdefault(need, []).append(line.part)
    for need, amount in sums.items():
        parts = ", ".join(dict.fromkeys(who[need]))
        price = prices.price(need)
        if need.kind == "stock":
            up = _up(amount, Decimal("0.01"))
            suppliers = [s.supplier for s in prices.sold(need)]
            cost = None if price is None else price * up
            found.append(Purchase(str(need), up, need.unit, cost, suppliers[0] if suppliers else "", parts))
        else:
            item = prices.item(need) if need.kind == "bought" else None
            pack = item.pack if item else 1
            packs = _up(amount / pack, Decimal(1))
            unit = "each" if pack == 1 else f"packs of {pack}"
            cost = None if price is None else price * pack * packs
            found.append(Purchase(str(need), packs, unit, cost, item.supplier if item else "", parts))
    # what is paid is paid in whole coins, line by line
    coin = Decimal(1).scaleb(-minor_digits(prices.currency))
    return tuple(
        replace(one, cost=None if one.cost is None else one.cost.quantize(coin, ROUND_HALF_UP)) for one in found
    )


def _up(value: Decimal, step: Decimal) -> Decimal:
    return (value / step).to_integral_value(ROUND_CEILING) * step


def _sheets(layouts: Sequence[Layout], prices: Prices) -> list[Purchase]:
    groups: dict[tuple[str, str, float], list[Layout]] = {}
    for one in layouts:
        if one.thickness:
            groups.setdefault((one.bed.name, one.material, one.thickness), []).append(one)
    found = []
    for (name, material, thickness), sheets in groups.items():
        need = Need("stock", "m2", "", material, "sheet", thickness)
        entry = next((s for s in prices.sold(need) if s.size and name.startswith(f"{s} of {_size(s.size)}")), None)
        area = Decimal(f"{sheets[0].bed.width * sheets[0].bed.depth * len(sheets):.9g}")
        price = prices.price(need)
        cost = entry.price * len(sheets) if entry and entry.per == "each" else None if price is None else price * area
        parts = ", ".join(dict.fromkeys(p.piece.name for one in sheets for p in one.pieces))
        what = name if entry else f"{need} of {_size((sheets[0].bed.width, sheets[0].bed.depth))}"
        found.append(Purchase(what, Decimal(len(sheets)), "sheets", cost, entry.supplier if entry else "", parts))
    return found


def _size(size: tuple[float, float]) -> str:
    return " x ".join(f"{1000 * side:.4g}" for side in size) + " mm"


def _bars(products: Sequence[Product], count: int, prices: Prices, rates: Rates) -> list[Purchase]:
    cuts: dict[Need, list[float]] = {}
    who: dict[Need, list[str]] = {}
    for product in products:
        for part in product.assembly.parts:
            if part.way == "turned" or (part.way == "cut" and part.sheet is None):
                form, outer, wall, length = round_stock(part, product.measured[part.name])
                more = 2 * rates["turned.allowance"].value if part.way == "turned" else 0.0
                need = Need("stock", "m", "", part.material, form, 0.0, outer, wall)
                cuts.setdefault(need, []).extend([length + more] * made_of(part, count, rates))
                who.setdefault(need, []).append(part.name)
    found = []
    for need, lengths in cuts.items():
        price, kerf, parts = prices.price(need), rates["cut.kerf"].value, ", ".join(dict.fromkeys(who[need]))
        long = [s for s in prices.sold(need) if s.length and s.length + 1e-9 >= max(lengths)]
        bar = min(long, key=lambda s: s.outer, default=None)
        if bar is None:
            metres = _up(Decimal(f"{sum(lengths) + kerf * len(lengths):.9g}"), Decimal("0.01"))
            found.append(Purchase(str(need), metres, "m", None if price is None else price * metres, "", parts))
            continue
        bars = bars_of(lengths, bar.length, kerf)
        each = bar.price if bar.per == "each" else (unit_price(bar, "m") or Decimal(0)) * Decimal(f"{bar.length:.9g}")
        what = f"{bar}, {1000 * bar.length:.4g} mm long"
        found.append(Purchase(what, Decimal(bars), "bars", each * bars, bar.supplier, parts))
    return found


def bars_of(lengths: Sequence[float], bar: float, kerf: float) -> int:
    """Bars that pieces are cut from, the longest piece first, each from the first bar that still has it.

    At most 11/9 of the fewest and 6/9 of one more: G. Dosa, The tight bound of first fit decreasing bin-packing
    algorithm is FFD(I) <= 11/9 OPT(I) + 6/9, LNCS 4614 (2007) 1-11, doi:10.1007/978-3-540-74450-4_1.
    """
    left: list[float] = []
    for length in sorted(lengths, reverse=True):
        for number, room in enumerate(left):
            if length <= room + 1e-9:
                left[number] = room - length - kerf
                break
        else:
            left.append(bar - length - kerf)
    return len(left)
