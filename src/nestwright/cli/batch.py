"""`nestwright batch FILE... --count N`: what to make when on which machine, what lies on which sheet, what to buy."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.cli.options import whole
from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.habitat.model import Habitat
    from nestwright.parts.batch import BatchPlan
    from nestwright.workshop.folder import Workshop

SHOWN_JOBS = 40


def batch(
    files: Annotated[list[Path], typer.Argument(help="Habitat files.", show_default=False)],
    count: Annotated[
        int,
        typer.Option(
            "--count", parser=whole("--count", 1, 1000), metavar="N", help="How many of each.", show_default=False
        ),
    ],
    prices: Annotated[
        Path | None,
        typer.Option("--prices", help="Price list, TOML or CSV; else the workshop's parts/prices.toml."),
    ] = None,
    machines: Annotated[
        Path | None, typer.Option("--machines", help="Machines; else the workshop's parts/machines.toml.")
    ] = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="New folder for plan, layouts, purchases, quality sheets.", show_default=False),
    ] = None,
    record: Annotated[
        bool, typer.Option("--record", help="Add the builds with their checks still to do to the workshop's record.")
    ] = False,
    folder: Annotated[
        Path | None,
        typer.Option("--workshop", help="Its folder; else the one that the first file is in.", show_default=False),
    ] = None,
    unmarked: Annotated[bool, typer.Option("--unmarked", help="Engrave no names on what the laser cuts.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
) -> None:
    """Plan a batch: plates, sheets, machines by day, purchases, serial numbers, a quality sheet for every build."""
    from contextlib import ExitStack

    from nestwright.cli.making import machines_for, prices_for, product_of
    from nestwright.cli.output import print_json
    from nestwright.cli.progress import progress_bar
    from nestwright.new_folder import check_new_folder, new_folder
    from nestwright.parts.batch import plan_batch

    workshop = _workshop(folder, files[0], needed=record)
    if out is not None:
        check_new_folder(out, "a batch")
    habitats: dict[str, Habitat] = {}
    products = []
    for file in files:
        habitat, product = product_of(file)
        if habitat.name in habitats:
            raise InputError("two files are of one habitat", file=str(file), field="name", found=repr(habitat.name))
        habitats[habitat.name] = habitat
        products.append(product)
    list_ = prices_for(prices, files[0])
    with progress_bar(as_json) as bar, ExitStack() as stack:
        task = bar.add_task("planning the batch", total=None)
        plan = plan_batch(products, count, machines_for(machines, files[0], needed=True), list_, _taken(workshop))
        if out is not None:
            fresh = stack.enter_context(new_folder(out, "a batch", "batch"))

            def told(done: int, of: int) -> None:
                bar.update(task, description=f"writing file {done} of {of}")

            _write(plan, habitats, fresh, told, named=not unmarked)
        if record and workshop is not None:
            _record(workshop, plan, habitats)
    if as_json:
        print_json({**plan.to_dict(), "recorded": record})
    else:
        print_plan(plan, out, record)


def _workshop(told: Path | None, first: Path, *, needed: bool) -> Workshop | None:
    from nestwright.workshop.folder import find_workshop

    try:
        return find_workshop(told or first.resolve().parent)
    except InputError:
        if needed or told is not None:
            raise
        return None


def _taken(workshop: Workshop | None) -> list[str]:
    """Serials of the builds that there are."""
    if workshop is None:
        return []
    from nestwright.workshop.builds import kept_builds
    from nestwright.workshop.database import reading

    with reading(workshop.engine) as connection:
        return [one.serial for one in kept_builds(connection)]


def _write(plan: BatchPlan, habitats: dict[str, Habitat], folder: Path, told: Any, *, named: bool) -> None:
    from nestwright.cli.output import CAUTIONS, as_json
    from nestwright.parts.batch_files import write_batch

    write_batch(plan, habitats, folder, as_json(plan.to_dict()), (*plan.cautions, CAUTIONS["law"]), told, named=named)


def _record(workshop: Workshop, plan: BatchPlan, habitats: dict[str, Habitat]) -> None:
    """Add every build, and what is to be checked on it, in one act that can be taken back."""
    from nestwright.cli.record import acting
    from nestwright.parts.quality import points_of
    from nestwright.workshop.builds import add_build, check_build
    from nestwright.workshop.kept_designs import keep_design

    products = {p.assembly.habitat: p for p in plan.products}
    names = ", ".join(habitats)
    with acting(workshop, f"batch of {plan.count}: {names}"[:200]) as done:
        for serial, name in plan.serials:
            product, habitat = products[name], habitats[name]
            values = {
                "serial": serial,
                "habitat": workshop.placed(Path(product.file)),
                "revision": habitat.revision,
                "made": None,
                "stands": "",
                "note": f"planned in a batch of {plan.count}",
            }
            build = add_build(done, values)
            for point in points_of(habitat, product.assembly):
                if not point.measures:
                    check_build(done, build, point.what, None, "", None, point.why)
        for design in {Path(p.file).resolve() for p in plan.products}:
            if design.is_relative_to(workshop.folder):
                keep_design(workshop, design.relative_to(workshop.folder).as_posix())


def print_plan(plan: BatchPlan, out_folder: Path | None, recorded: bool) -> None:
    """A plan in words and tables."""
    from nestwright.cli.output import CAUTIONS, console, heading, plain, significant, table

    out = console()
    names = ", ".join(f"{p.assembly.habitat}, revision {p.assembly.revision}" for p in plan.products)
    first, last = plan.serials[0][0], plan.serials[-1][0]
    said = "recorded" if recorded else "proposed, not recorded"
    out.print(f"[bold]{plan.count} of {plain(names)}[/bold]; serials {plain(first)} to {plain(last)}, {said}")
    low, high = plan.airing_days
    out.print(
        f"{plan.days} working days; no plan takes fewer than {plan.fewest_days}. Then {low:.0f} to {high:.0f} days of "
        "airing before ants go in."
    )
    out.print(heading("Machines"))
    rows = [
        [run.machine, f"day {run.day + 1}", _clock(run.start), _until(run), significant(run.job.hours, 2), run.job.name]
        for run in plan.runs[:SHOWN_JOBS]
    ]
    out.print(table(["machine", "", "from h", "to", "hours", "job"], rows, left=(0, 1, 5)))
    if len(plan.runs) > SHOWN_JOBS:
        out.print(f"and {len(plan.runs) - SHOWN_JOBS} more: --out FOLDER or --json has all")
    if plan.layouts:
        out.print(heading("Plates and sheets"))
        rows = [
            [one.name, str(len(one.pieces)), f"{1000 * one.bed.width:.0f} x {1000 * one.bed.depth:.0f} mm",
             f"{100 * one.use:.0f} %", significant(one.hours, 2) if one.hours else "by hand"]
            for one in plan.layouts[:SHOWN_JOBS]
        ]  # fmt: skip
        out.print(table(["what", "pieces", "size", "covered", "hours"], rows))
    out.print(heading(f"To buy, {plan.currency}"))
    rows = [
        [one.what, f"{one.amount}", one.unit, "no price" if one.cost is None else f"{one.cost}", one.supplier]
        for one in plan.purchases
    ]
    out.print(table(["what", "amount", "", "cost", "supplier"], rows, left=(0, 2, 4)))
    out.print(f"Together {'at least ' if plan.missing else ''}{plan.money} {plan.currency} without tax.")
    for note in plan.notes:
        out.print(f"\n{plain(note)}" if note is plan.notes[0] else plain(note))
    out.print(heading("Cautions"))
    for caution in (*plan.cautions, CAUTIONS["law"]):
        out.print(plain(caution))
    if out_folder is not None:
        out.print(f"Written to {plain(str(out_folder))}", soft_wrap=True)


def _clock(hour: float) -> str:
    return f"{hour:.1f}"


def _until(run: Any) -> str:
    return _clock(run.end) if run.end_day == run.day else f"day {run.end_day + 1}, {_clock(run.end)}"
