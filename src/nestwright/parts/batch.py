"""A batch of habitats: plates and sheets, which machine does what on which day, what to buy, and serial numbers.

Order: machines make parts (moulds first), castings follow their mould, work by hand on a part follows its making, and
a habitat is put together when every part is there. Days are working days, counted from 1 in what is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from nestwright.errors import InputError
from nestwright.parts.bill import HOUR, Line, bill_of, job_seconds
from nestwright.parts.cautions import making_cautions
from nestwright.parts.layouts import Layout, Product, layouts_of, made_of
from nestwright.parts.machine import Machine
from nestwright.parts.machines import Machines
from nestwright.parts.prices import Missing, Prices
from nestwright.parts.purchases import Purchase, purchases_of
from nestwright.parts.rates import Rates, shipped_rates
from nestwright.parts.schedule import Job, Run, fewest_days, list_schedule

__all__ = ["MOST", "BatchPlan", "next_serials", "plan_batch"]

MOST = 1000
"""Habitats of one design in a batch."""
_MAKING = ("printed", "resin", "laser", "milled", "turned")


@dataclass(frozen=True)
class BatchPlan:
    """What to do for `count` of every product.

    `days` working days of the plan; `fewest_days` no plan takes fewer; `airing_days` more, before ants go in.
    `money` of the purchases that have a price; with `missing` not empty it is "at least".
    """

    products: tuple[Product, ...]
    count: int
    layouts: tuple[Layout, ...]
    runs: tuple[Run, ...]
    days: int
    fewest_days: int
    airing_days: tuple[float, float]
    purchases: tuple[Purchase, ...]
    money: Decimal
    missing: tuple[Missing, ...]
    currency: str
    serials: tuple[tuple[str, str], ...]
    """(serial, habitat), in the order in which they are put together."""
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """The JSON of `nestwright batch`."""
        from nestwright.parts.batch_json import batch_dict

        return batch_dict(self)


def plan_batch(
    products: Sequence[Product], count: int, machines: Machines, prices: Prices, taken: Iterable[str] = ()
) -> BatchPlan:
    """Plan `count` of every product.

    Parameters
    ----------
    taken : iterable of str
        Serials that there are already.

    Raises
    ------
    FileError
        As `layouts_of`; for a way of making that no machine does.
    """
    if not 1 <= count <= MOST:
        raise InputError("is no size of a batch", field="--count", found=str(count), allowed=f"1 to {MOST}")
    rates = machines.rates or shipped_rates()
    forms = len(machines.of("cast")) or 1
    layouts = layouts_of(products, count, machines, prices, rates, forms)
    bills = [bill_of(one.assembly, one.measured, rates) for one in products]
    serials = _serials(products, count, taken)
    runs, bound = _schedule(products, count, machines, layouts, bills, rates, serials)
    lines = [line for bill in bills for line in bill]
    bought = purchases_of(products, count, lines, layouts, prices, rates)
    missing = tuple(Missing(one.what, one.unit) for one in bought if one.cost is None)
    airing = rates["assembly.airing"]
    return BatchPlan(
        tuple(products),
        count,
        layouts,
        runs,
        max(run.end_day for run in runs) + 1,
        bound,
        (airing.low / 86400, airing.high / 86400),
        bought,
        sum((one.cost for one in bought if one.cost is not None), Decimal(0)),
        missing,
        prices.currency,
        serials,
        tuple(dict.fromkeys(text for one in products for text in making_cautions(one.assembly))),
        _notes(products, count, machines, rates, runs, layouts),
    )


def next_serials(taken: Iterable[str], count: int) -> tuple[str, ...]:
    """The serials after those that there are: the one with the largest number at its end is counted on.

    Examples
    --------
    >>> next_serials(["0007", "0012"], 2)
    ('0013', '0014')
    >>> next_serials([], 2)
    ('0001', '0002')
    >>> next_serials(["P-9", "old"], 2)
    ('P-10', 'P-11')
    """
    known = set(taken)
    ends = [m for one in known if (m := re.fullmatch(r"(.*?)(\d{1,12})", one, re.ASCII))]
    last = max(ends, key=lambda m: (int(m[2]), m[1]), default=None)
    before, number, wide = (last[1], int(last[2]), len(last[2])) if last else ("", 0, 4)
    made: list[str] = []
    while len(made) < count:
        number += 1
        serial = f"{before}{number:0{wide}d}"
        if serial not in known:
            made.append(serial)
    return tuple(made)


def _serials(products: Sequence[Product], count: int, taken: Iterable[str]) -> tuple[tuple[str, str], ...]:
    names = [one.assembly.habitat for one in products for _ in range(count)]
    return tuple(zip(next_serials(taken, len(names)), names, strict=True))


def _schedule(
    products: Sequence[Product],
    count: int,
    machines: Machines,
    layouts: Sequence[Layout],
    bills: Sequence[tuple[Line, ...]],
    rates: Rates,
    serials: Sequence[tuple[str, str]],
) -> tuple[tuple[Run, ...], int]:
    """All runs, and the lower bound of the days."""
    jobs = [*_plate_jobs(layouts), *_piece_jobs(products, count, rates)]
    runs = list(list_schedule(jobs, machines.machines))
    done = _made_on(runs, layouts)
    bound = fewest_days(jobs, machines.machines) if jobs else 0
    for casts, forms in _castings(products, count, machines, rates, done):
        cast = list_schedule(casts, forms)
        bound = max(bound, fewest_days(casts, forms))
        runs += cast
        for run in cast:
            done[run.job.name] = max(done.get(run.job.name, (0, 0.0)), (run.end_day, run.end))
    hands = _hand_jobs(products, count, bills, done)
    ready = max(((run.end_day, run.end) for run in runs), default=(0, 0.0))
    hands += _whole_jobs(bills, products, serials, ready)
    runs += list_schedule(hands, machines.machines)
    bound = max(bound, fewest_days([replace(j, day=0, hour=0.0) for j in hands], machines.machines))
    return tuple(sorted(runs, key=lambda r: (r.day, r.machine, r.start))), bound


def _plate_jobs(layouts: Sequence[Layout]) -> list[Job]:
    jobs = []
    for one in layouts:
        if one.way in _MAKING:
            mould = any(p.piece.key[1].kind == "mould" for p in one.pieces)
            width = max(p.x + p.width for p in one.pieces)
            depth = max(p.y + p.depth for p in one.pieces)
            # a plate's box may lie on another bed turned as a whole; a sheet needs the bed that it was cut down to
            size = (width, depth, one.height if one.way in ("printed", "resin") else 0.0)
            jobs.append(Job(one.name, one.way, one.hours, size=size, rank=0 if mould else 1))
    return jobs


def _piece_jobs(products: Sequence[Product], count: int, rates: Rates) -> list[Job]:
    """Milled and turned parts: all pieces of a part as one job that can be left overnight."""
    jobs = []
    for product in products:
        for part in product.assembly.parts:
            if part.way in ("milled", "turned"):
                size = product.measured[part.name]
                hours = job_seconds(part, size, rates) * made_of(part, count, rates) / HOUR
                jobs.append(Job(part.name, part.way, hours, can_stop=True, size=size.box, rank=1))
    return jobs


def _made_on(runs: Sequence[Run], layouts: Sequence[Layout]) -> dict[str, tuple[int, float]]:
    """Day and hour at which the last piece of each part is made."""
    names = {one.name: {p.piece.name for p in one.pieces} for one in layouts}
    done: dict[str, tuple[int, float]] = {}
    for run in runs:
        for part in names.get(run.job.name, {run.job.name}):
            done[part] = max(done.get(part, (0, 0.0)), (run.end_day, run.end))
    return done


def _castings(
    products: Sequence[Product], count: int, machines: Machines, rates: Rates, done: dict[str, tuple[int, float]]
) -> Iterable[tuple[list[Job], list[Machine]]]:
    """Each cast part's castings and the forms that they stand in, day and night, once the mould is there."""
    names = [one.name for one in machines.of("cast")] or ["mould"]
    for product in products:
        for part in product.assembly.parts:
            if part.way != "cast":
                continue
            moulds = [p.name for p in product.assembly.parts if p.kind == "mould" and p.serves == part.serves]
            ready = max((done.get(name, (0, 0.0))[0] + 1 for name in moulds), default=0)
            hours = rates["cast.curing"].value / HOUR
            made = made_of(part, count, rates)
            jobs = [Job(part.name, "cast", hours, day=ready)] * made
            yield jobs, [Machine(f"{name} of {part.name}", "cast", 24.0) for name in names]


def _hand_jobs(
    products: Sequence[Product], count: int, bills: Sequence[tuple[Line, ...]], done: dict[str, tuple[int, float]]
) -> list[Job]:
    """Work by hand on the parts of a kind: what is prepared at once, and what follows their making."""
    jobs = []
    for product, bill in zip(products, bills, strict=True):
        of = f"{product.assembly.habitat}, " if len(products) > 1 else ""
        for line in bill:
            if line.need.kind != "labour" or line.part == product.assembly.habitat:
                continue
            day, hour = done.get(line.part, (0, 0.0))
            if line.set_up:
                jobs.append(Job(f"{of}{line.part}: preparing", "hand", line.set_up, can_stop=True))
            if line.each:
                what = f"{of}{line.part}: {_AFTER[line.task]}"
                jobs.append(Job(what, "hand", line.each * count, True, rank=day + 1, day=day, hour=hour))
    return jobs


_AFTER = {
    "printed": "taking off and finishing",
    "resin": "washing and curing",
    "laser": "film and edges",
    "milled": "clamping and finishing",
    "turned": "polishing",
    "cast": "pouring and taking out",
    "cut": "cutting",
    "bought": "unpacking",
}
"""What hands do to the pieces of a way of making, in a word for the plan."""


def _whole_jobs(
    bills: Sequence[tuple[Line, ...]],
    products: Sequence[Product],
    serials: Sequence[tuple[str, str]],
    ready: tuple[int, float],
) -> list[Job]:
    """Putting together, cleaning, checking and packing, a job a habitat, from when on all parts are there."""
    jobs = []
    day, hour = ready
    for product, bill in zip(products, bills, strict=True):
        name = product.assembly.habitat
        whole = [one for one in bill if one.need.kind == "labour" and one.part == name]
        each, set_up = sum(one.each for one in whole), sum(one.set_up for one in whole)
        mine = [serial for serial, of in serials if of == name]
        jobs.append(Job(f"{name}: bench made ready", "hand", set_up, True, rank=day + 2, day=day, hour=hour))
        jobs += [Job(f"{one}: putting together", "hand", each, True, rank=day + 3, day=day, hour=hour) for one in mine]
    return jobs


def _notes(
    products: Sequence[Product],
    count: int,
    machines: Machines,
    rates: Rates,
    runs: Sequence[Run],
    layouts: Sequence[Layout],
) -> tuple[str, ...]:
    notes = ["The longest job first on the machine that is done soonest: a good plan, no optimum."]
    spares = {
        part.name: more
        for product in products
        for part in product.assembly.parts
        if part.kind not in ("mould", "coupon") and (more := made_of(part, count, rates) - count * part.quantity) > 0
    }
    if spares:
        notes.append("Spares, for what fails: " + ", ".join(f"{n} {name}" for name, n in spares.items()) + ".")
    if any(part.way == "cast" for one in products for part in one.assembly.parts) and not machines.of("cast"):
        notes.append('One form of each cast part: tell more with [[machine]] way = "cast", hours = 24.')
    longer = sorted({run.job.name for run in runs if run.overnight})
    if longer:
        notes.append(f"Longer than its machine's day, so through the night: {', '.join(longer)}.")
    measured = [one for one in machines.machines if one.offset is not None and one.way in ("printed", "resin")]
    for one in measured:
        assert one.offset is not None
        hole, outside, error = (f"{1e3 * v:+.2f}" for v in (one.offset.hole, one.offset.spigot, one.offset.error))
        notes.append(
            f"{one.name}: holes come out {hole} mm, outsides {outside} mm off, as measured (+- {error[1:]} mm). The "
            "files of printed parts are at their true size: set this in the slicer."
        )
    kerfs = {f"{1e3 * kerf:.2f}" for layout in layouts if (kerf := layout.kerf)}
    if kerfs:
        notes.append(f"On the sheets a cut {', '.join(kerfs)} mm wide is taken off: lines lie half of it outside.")
    own = sum(one.mark == "own" for one in rates.values())
    if own < len(rates):
        notes.append(f"{len(rates) - own} of {len(rates)} rates are judgements of this program, not measured by you.")
    return tuple(notes)
