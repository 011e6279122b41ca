"""`nestwright parcels risk FILE`: the chance of losing garden and colony, by day of dispatch, and what to change."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from nestwright.cli.options import number, whole
from nestwright.cli.where import OnCluster, place_of
from nestwright.errors import InputError

__all__ = ["risk"]


def risk(
    file: Annotated[Path, typer.Argument(help="The parcel file.", show_default=False)],
    by_day: Annotated[
        str | None,
        typer.Option("--by-day", help="Days of dispatch to compare, 2027-01-11..2027-01-22.", show_default=False),
    ] = None,
    change: Annotated[bool, typer.Option("--change", help="Weigh other ways to pack and send it.")] = False,
    route: Annotated[
        str, typer.Option("--route", help="Route of the record whose delays hold; else any.", show_default=False)
    ] = "",
    cost: Annotated[
        list[str] | None,
        typer.Option(
            "--cost",
            help="What a change or a loss costs, in money of your own: pack=2.5; also insulation (10 mm), tape, "
            "pick_up, day, garden, colony. May be repeated.",
            show_default=False,
        ),
    ] = None,
    budget: Annotated[
        float | None,
        typer.Option(
            "--budget",
            parser=number("--budget", 0, 1e6),
            metavar="MONEY",
            help="Most that changes may cost.",
            show_default=False,
        ),
    ] = None,
    learned: Annotated[
        bool, typer.Option("--learned", help="Let packs and boxes be as the loggers inside taught (parcels learn).")
    ] = False,
    parcels: Annotated[
        int,
        typer.Option("--parcels", parser=whole("--parcels", 100, 100_000), metavar="N", help="Parcels drawn."),
    ] = 10_000,
    out: Annotated[
        Path | None,
        typer.Option("--out", help="Draw the days of --by-day, as .svg or .png.", show_default=False),
    ] = None,
    folder: Annotated[
        Path | None,
        typer.Option(
            "--workshop",
            help="The workshop whose parcels teach delays; else the one that you stand in, if any.",
            show_default=False,
        ),
    ] = None,
    cluster: OnCluster = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """The chance that a parcel loses its garden or its colony: delays, packs, box and outside air drawn many times.

    With --by-day for each day of dispatch, with --change for other ways to pack and send it, with costs. Delays are
    those learned of the workshop's record, where there is one. It gives no permission: ask authority and carrier.
    """  # fmt: skip
    from nestwright.cli.output import print_json
    from nestwright.cli.parcel_risk_text import print_by_day, print_risk, print_ways
    from nestwright.cli.progress import progress_bar
    from nestwright.document import read_document
    from nestwright.parcel.sending import as_told, parse_days, risk_by_day, risk_now, sending, ways
    from nestwright.pieces import working_at
    from nestwright.workshop.parcel_predictions import delays_and_boxes

    days, costs, place = parse_days(by_day), parse_costs(cost or []), place_of(cluster)
    if out is not None:
        from nestwright.cli.pictures import check_picture_name

        if not days:
            raise InputError("has nothing to draw", field="--out", allowed="with --by-day")
        check_picture_name(out)
    delays, boxes = delays_and_boxes(folder, learned)
    if route and route not in delays.counts:
        from nestwright.errors import nearest_name

        raise InputError(
            "is no route of the record", field="--route", found=repr(route[:80]),
            allowed=", ".join(sorted(delays.counts))[:300] or "none yet", nearest=nearest_name(route, delays.counts),
        )  # fmt: skip
    document = read_document(file)
    one = sending(document, delays, route, learned=boxes, parcels=parcels)
    result: dict[str, Any] = {"name": str(document.tables["name"]), "route": route, "parcels": one.draws.days_late.size}
    with working_at(place), progress_bar(json) as bar:
        task = bar.add_task("drawing parcels", total=1.0)

        def telling(words: str) -> Callable[[float], None]:
            return lambda share: bar.update(task, completed=share, description=words)

        now, alone = risk_now(one, telling("drawing parcels")), as_told(one)
        per_day = risk_by_day(one, days, telling("trying each day")) if days else ()
        weighed = ways(one, costs, budget=budget, progress=telling("weighing other ways")) if change else None
    if out is not None:
        from nestwright.charts.parcel_days import days_chart
        from nestwright.cli.pictures import write_picture

        write_picture(days_chart(result["name"], per_day), out)
    result["risk"] = now.to_dict()
    result["as_told"] = {"garden_lost": alone[0], "colony_lost": alone[1]}
    result["by_day"] = [r.to_dict() for r in per_day]
    result["change"] = None if weighed is None else weighed[0].to_dict()
    result["judgements"] = judged()
    if json:
        print_json(result)
        return
    print_risk(result["name"], now, one, alone)
    if per_day:
        print_by_day(per_day)
    if weighed is not None:
        print_ways(*weighed)
    if out is not None:
        print(f"\nWritten: {out}")


def judged() -> list[str]:
    from nestwright.data import read_values

    return [k for k, v in read_values("parcel_risk.toml").items() if v.mark == "judgement"]


def parse_costs(told: list[str]) -> dict[str, float]:
    """Costs from "pack=2.5". Raises InputError."""
    from nestwright.errors import nearest_name
    from nestwright.parcel.changes import COSTS

    found = {}
    for text in told:
        name, _, value = (part.strip() for part in text.partition("="))
        if name not in COSTS:
            raise InputError(
                "is nothing that has a cost here", field="--cost", found=repr(name[:40]), allowed=", ".join(COSTS),
                nearest=nearest_name(name[:40], COSTS),
            )  # fmt: skip
        found[name] = number(f"--cost {name}", 0, 1e6)(value)
    return found
