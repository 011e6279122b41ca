"""What was learned of parcels and predicted of one, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.output import console, heading, significant, table

if TYPE_CHECKING:
    from nestwright.parcel.delay import DelayBelief
    from nestwright.workshop.parcels import KeptParcel

__all__ = ["predicted_lines", "print_delays"]

ANY = "any other"
"""How a route is called that nothing was sent on."""
RESTS_ON = """\
Days are days of delivery, Monday to Friday. A route with few parcels leans on the others and, before any was sent,
on a judgement (data/delay.toml): no carrier's figures for live animals are published."""


def print_delays(learned: DelayBelief, every: int, known: int) -> None:
    """A table of routes: parcels, how many were late, the chance of the next one."""
    out = console()
    print(f"{known} of {every} parcels tell promise, dispatch and arrival: delays are learned of these.")
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


def percent(share: float) -> str:
    """A chance with two digits at most, never nought."""
    return "under 0.1 %" if share < 0.001 else f"{significant(100 * share, 2 if share < 0.995 else 3)} %"


def predicted_lines(one: KeptParcel) -> list[str]:
    """What was computed of a parcel when it was sent, beside what was found."""
    told = one.to_dict()["predicted"]
    return [f"Predicted at dispatch: {told['words']}"] if told.get("words") else []
