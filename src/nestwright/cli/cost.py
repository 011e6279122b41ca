"""`nestwright cost FILE`: what a habitat costs to make in batches, its price, and what moves it most."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.errors import InputError

if TYPE_CHECKING:
    from decimal import Decimal

    from nestwright.parts.costs import BatchCost, Costs

KINDS = {
    "stock": "material",
    "bought": "bought items",
    "machine": "machines",
    "labour": "labour",
    "energy": "energy",
    "packing": "packing",
}
MOST = 100_000
SHOWN_MOVES = 8


def cost(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    prices: Annotated[
        Path | None,
        typer.Option("--prices", help="Price list, TOML or CSV; else the workshop's parts/prices.toml."),
    ] = None,
    machines: Annotated[
        Path | None,
        typer.Option("--machines", help="Machines and own rates; else the workshop's parts/machines.toml."),
    ] = None,
    batch: Annotated[str, typer.Option("--batch", help="Sizes of batches, with commas.")] = "1,10,50,200",
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """What one habitat costs to make in batches of several sizes: bill, unit cost with its range, price, break-even."""
    from nestwright.cli.making import machines_for, prices_for, product_of
    from nestwright.cli.output import print_json
    from nestwright.parts.costs import cost_of_habitat
    from nestwright.parts.rates import shipped_rates

    counts = batches_of(batch)
    _, product = product_of(file)
    list_ = prices_for(prices, file)
    rates = machines_for(machines, file, needed=False).rates or shipped_rates()
    found = cost_of_habitat(product.assembly, product.measured, rates, list_, counts)
    if as_json:
        print_json(found)
    else:
        print_costs(found)


def batches_of(text: str) -> list[int]:
    """Sizes of batches as "1,10,50". Raises InputError."""
    found: list[int] = []
    for one in text.split(","):
        plain = one.strip()
        if not (plain.isascii() and plain.isdigit() and len(plain) <= 6 and 1 <= int(plain) <= MOST):
            allowed = f"whole numbers from 1 to {MOST} with commas, as 1,10,50,200"
            raise InputError("is no size of a batch", field="--batch", found=repr(plain[:40]), allowed=allowed)
        found.append(int(plain))
    if len(found) > 12:
        raise InputError("too many batches", field="--batch", found=str(len(found)), allowed="up to 12")
    return found


def print_costs(costs: Costs) -> None:
    """Costs in words and tables; figures that rest on rates with the digits that their range leaves them."""
    from nestwright.cli.output import console, heading, plain, significant, table

    out, money = console(), costs.prices.currency
    at_least = "at least " if costs.missing else ""
    out.print(
        f"[bold]{plain(costs.habitat)}[/bold], revision {plain(costs.revision)}; prices of {costs.prices.date} from "
        f"{plain(costs.prices.file)}, {money}, cost without tax",
        soft_wrap=True,
    )
    if costs.prices.note:
        out.print(plain(costs.prices.note))
    out.print(heading(f"Batches, {money} for one habitat"))
    rows = [_row(one, at_least) for one in costs.batches]
    head = ["batch", "unit cost", "8 in 10 from", "to", "price with tax", "tax", "fees", "margin", "pays from"]
    out.print(table(head, rows, left=()))
    made = next(one for one in costs.batches if one.count == costs.moves_at)
    out.print(heading(f"What one of {made.count} costs at the middle of every rate, {money}"))
    out.print(table(["what", "cost", "share"], _kinds(made, costs), left=(0,)))
    out.print(heading(f"What moves the unit cost most, {money}, batch of {made.count}"))
    moves = [
        [
            m.name,
            significant(float(m.low), 3),
            significant(float(m.high), 3),
            "" if m.share is None else f"{100 * m.share:.0f} %",
            m.mark if m.kind == "rate" else "10 % either way",
        ]
        for m in costs.moves[:SHOWN_MOVES]
    ]
    out.print(table(["assumption", "at its low end", "at its high end", "of the spread", ""], moves, left=(0, 4)))
    if costs.missing:
        out.print(heading("No price in the list for"))
        rows = [[m.what, f"a {m.unit}" if m.unit != "each" else "each", m.nearest] for m in costs.missing]
        out.print(table(["what", "per", "nearest entry"], rows, left=(0, 1, 2)))
        out.print("Without these there is no total and no price: what is shown is the rest.")
    own = sum(m.kind == "rate" and m.mark == "own" for m in costs.moves)
    out.print(
        "\nUnit cost is the median of all rates drawn from their ranges at once; 8 in 10 of the draws lie from and to. "
        "Prices are taken as certain."
        + ("" if own else " All rates are judgements of this program: tell your own in parts/machines.toml.")
        + " Material is costed by what goes in, not by whole sheets bought: see `nestwright batch`."
    )


def _row(one: BatchCost, at_least: str) -> list[str]:
    from nestwright.cli.output import decimals_within, figure

    decimals = decimals_within(float(one.low), float(one.high), 2)
    unit, low, high = (figure(float(value), decimals) for value in (one.unit, one.low, one.high))
    cells = [str(one.count), at_least + unit]
    if one.sale is None:
        return [*cells, *["open"] * 3, *[""] * 4]
    sale = one.sale
    middle, soon, late = ("never" if n is None else str(n) for n in one.break_even)
    pays = middle if soon == late else f"{middle} ({soon} to {late})"
    return [*cells, low, high, *(f"{v}" for v in (sale.price, sale.tax, sale.fees, sale.margin)), pays]


def _kinds(made: BatchCost, costs: Costs) -> list[list[str]]:
    """Cost of one by kind, the overhead at the end."""
    from nestwright.cli.output import significant

    sums: dict[str, Decimal] = {}
    for line in made.lines:
        if line.cost is not None:
            kind = KINDS[line.line.need.kind]
            sums[kind] = sums.get(kind, 0 * line.cost) + line.cost / made.count
    overhead = costs.prices.selling.overhead
    if overhead:
        sums["overhead"] = made.making * overhead / made.count
    rows = sorted(sums.items(), key=lambda kv: -kv[1])
    return [[k, significant(float(v), 2), f"{float(100 * v / made.middle):.0f} %"] for k, v in rows if v]
