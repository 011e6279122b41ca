"""What was learned of parcels, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.output import console, heading, significant, table
from nestwright.wording.parcels import VERDICTS, each_parcel, percent

if TYPE_CHECKING:
    from nestwright.parcel.delay import DelayBelief
    from nestwright.parcel.held import Held, Predicted
    from nestwright.parcel.learning import Learned

__all__ = ["print_boxes", "print_delays", "print_held"]

ANY = "any other"
"""How a route is called that nothing was sent on."""
RESTS_ON = """\
Days are days of delivery, Monday to Friday. A route with few parcels leans on the others and, before any was sent,
on a judgement (data/delay.toml): no carrier's figures for live animals are published."""


def print_delays(learned: DelayBelief, every: int, known: int) -> None:
    """A table of routes: parcels, how many were late, the chance of the next one."""
    out = console()
    told = f"of {every} parcels tell" if every != 1 else "of 1 parcel tells"
    print(f"{known} {told} promise, dispatch and arrival: delays are learned of these.")
    out.print(heading("How late they come"))
    routes = [learned.route(name) for name in (*sorted(learned.counts), "")]
    rows = [
        [
            one.route or ANY, str(one.parcels), str(one.late), percent(one.chance_late),
            f"{percent(one.low)} to {percent(one.high)}", percent(sum(one.by_days[2:])), percent(sum(one.by_days[3:])),
        ]
        for one in routes
    ]  # fmt: skip
    head = ["route", "sent", "late", "next is late", "8 in 10", "2 days or more", "3 days or more"]
    out.print(table(head, rows))
    print(f"\n{RESTS_ON}")


NAMES = {
    "pack.power_factor": "heat of the packs, times",
    "pack.start_factor": "their time to begin, times",
    "box.leak_factor": "leaks of the box, times",
    "box.conductance_factor": "heat through its walls, times",
    "outside.offset": "outside air, K more",
}


def print_boxes(learned: Learned | None, names: list[str]) -> None:
    """What loggers inside taught of packs and boxes, beside what was thought before."""
    out = console()
    out.print(heading("Packs and boxes"))
    if learned is None:
        print("Nothing yet: it takes a parcel with a parcel file, dispatch, arrival, and a logger that was inside.")
        return
    rows = [
        [
            NAMES[one.name], significant(one.value), f"{significant(one.low)} to {significant(one.high)}",
            f"{significant(one.before_low)} to {significant(one.before_high)}",
            "outside of what was thought" if not one.before_low <= one.value <= one.before_high
            else "nothing learned" if one.width > 0.9 else "",
        ]
        for one in learned.values
    ]  # fmt: skip
    out.print(table(["value", "now", "8 in 10", "before", ""], rows, left=(0, 4)))
    print(f"From {', '.join(names[:8])}; off by {learned.off_before:.1f} K before, {learned.off_after:.1f} K after.")
    for one, other, _ in learned.tied:
        print(f"Not told apart: {NAMES[one].rpartition(',')[0]}; {NAMES[other].rpartition(',')[0]}.")
    if learned.stretch > 1.2:
        print(f"The logs do not follow the model: intervals are widened {learned.stretch:.1f} times.")


def print_held(held: dict[str, Held]) -> None:
    """Losses that were predicted beside those that were found."""
    out = console()
    out.print(heading("Losses, predicted and found"))
    if not any(one.parcels for one in held.values()):
        print("Nothing yet: it takes parcels with a parcel file that came, and what was found in them.")
        return
    rows = [
        [what, str(len(one.parcels)), significant(one.expected), f"{one.low} to {one.high}", str(one.found),
         VERDICTS[one.verdict]]
        for what, one in held.items()
    ]  # fmt: skip
    out.print(table(["lost", "of parcels", "predicted", "8 in 10", "found", ""], rows, left=(0, 5)))
    each = [[name, _came(garden), _came(colony)] for name, garden, colony in each_parcel(held)]
    out.print(table(["parcel", "garden", "colony"], each, left=(0, 1, 2)))


def _came(one: Predicted | None) -> str:
    return "not told" if one is None else f"{percent(one.chance)}: {'lost' if one.lost else 'lived'}"
