"""`nestwright trial`: did a later revision of a design do better than the one before?"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from nestwright.cli.record import AsJson, InWorkshop, workshop_of

if TYPE_CHECKING:
    from nestwright.trial.difference import Difference
    from nestwright.trial.report import Compared, Revision, Trial, TrialColony

WORDS = {"temperature": "temperature", "relative_humidity": "humidity", "co2": "CO2"}


def trial(
    habitat: Annotated[str, typer.Argument(help="The design, by its file.", show_default=False)],
    folder: InWorkshop = None,
    out: Annotated[Path | None, typer.Option("--out", help="Picture: a .svg or .png file.", show_default=False)] = None,
    json: AsJson = False,
) -> None:
    """Compare the revisions of a design by the colonies that lived in their builds: growth, climate, losses.

    Few colonies tell little: what cannot be concluded is said, and how many colonies it would take.
    """
    from datetime import datetime

    from nestwright.cli.output import print_json
    from nestwright.cli.pictures import check_picture_name, write_picture
    from nestwright.workshop.database import reading
    from nestwright.workshop.trial import trial_of

    if out is not None:
        check_picture_name(out)
    workshop = workshop_of(folder)
    with reading(workshop.engine) as connection:
        found = trial_of(workshop, connection, habitat, datetime.now(workshop.zone).date())
    if out is not None:
        from nestwright.charts.trial import trial_chart

        write_picture(trial_chart(found), out)
    if json:
        print_json(found)
    else:
        _show(found)


def _show(found: Trial) -> None:
    from nestwright.cli.output import console, plain, table
    from nestwright.letters import count_of

    out = console()
    out.print(plain(f"{found.habitat}: {count_of(len(found.revisions), 'revision')} built"), soft_wrap=True)
    rows = [_row(one) for one in found.revisions]
    out.print(table(["revision", "builds", "colonies", "lost", "followed", "half kept for"], rows, left=(0, 5)))
    stays = [_stay(c) for one in found.revisions for c in one.colonies]
    if not stays:
        print("No colony has lived in one of its builds yet: nothing to compare.")
        return
    head = ["revision", "build", "colony", "since", "days", "growth a day", "in band: temperature, humidity, CO2"]
    out.print(table(head, stays, left=(0, 1, 2, 3, 6)))
    for remark in [f"{c.colony}: {c.remark}" for one in found.revisions for c in one.colonies if c.remark]:
        out.print(plain(remark), soft_wrap=True)
    for pair in found.compared:
        for line in compared_lines(pair):
            out.print(plain(line), soft_wrap=True)
    if not found.compared:
        print("One revision only: nothing to compare.")
    elif found.judgements:
        print("Rests on judgement: the scatter between colonies before any is seen, and what counts as told.")


def _row(one: Revision) -> list[str]:
    kept = one.survival
    if kept is None:
        return [one.name, str(one.builds), "0", "", "", ""]
    half = f"{kept.median:.0f} days" if kept.median is not None else f"more than {kept.followed:.0f} days"
    return [one.name, str(one.builds), str(kept.colonies), str(kept.losses), f"{kept.followed:.0f} d", half]


def _stay(c: TrialColony) -> list[str]:
    grown = f"{100 * c.growth.per_day:+.1f} ± {100 * c.growth.error:.1f} %" if c.growth else "not known"
    inside = ", ".join(f"{100 * c.inside[q][0]:.0f} %" if q in c.inside else "not measured" for q in WORDS)
    if not c.inside:
        inside = "not measured"
    days = f"{c.kept.days:.0f}{', lost' if c.kept.lost else ''}"
    return [c.revision, c.build, c.colony, c.since, days, grown, inside]


def compared_lines(pair: Compared) -> list[str]:
    """What one comparison says, in sentences."""
    names = f"Revision {pair.later} against {pair.earlier}"
    lines = [f"{names}, growth: {_growth(pair)}"]
    for quantity, word in WORDS.items():
        one = pair.inside.get(quantity)
        if one is not None:
            change = f"{100 * one.middle:+.0f} points ({100 * one.low:+.0f} to {100 * one.high:+.0f})"
            lines.append(f"{names}, hours inside the limit of {word}: {change}; {_told(one, pair.sure)}")
    if pair.losses is None:
        lines.append(f"{names}, losses: nothing lost, or nobody to lose; cannot be told")
    else:
        word = "more than chance makes them" if pair.losses_told else "cannot be told from chance"
        lines.append(f"{names}, losses differ: {word} (as large by chance alone: {100 * pair.losses:.0f} %)")
    return lines


def _growth(pair: Compared) -> str:
    one = pair.growth
    if one is None:
        return "cannot be told: one of them has no garden measured on two days"
    change = f"{100 * one.middle:+.1f} % a day ({100 * one.low:+.1f} to {100 * one.high:+.1f}, 8 in 10)"
    told = f"{change}; {_told(one, pair.sure)}"
    if pair.says == "cannot be told" and pair.needed is not None:
        told += (
            f"; to tell {100 * pair.wanted:.0f} % a day, at least {pair.needed} colonies of each"
            f" (there are {one.colonies[0]} and {one.colonies[1]})"
        )
    return told


def _told(one: Difference, sure: float) -> str:
    says = one.says(sure)
    if says == "cannot be told":
        return f"cannot be told (chance that it is better: {100 * one.chance:.0f} %)"
    return f"{says} (chance {100 * (one.chance if says == 'better' else 1 - one.chance):.0f} %)"
