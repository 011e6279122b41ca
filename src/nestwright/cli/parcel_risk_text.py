"""The risk of a parcel as text: chances with their range, days of dispatch, other ways to send it."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from nestwright.cli.output import console, heading, table
from nestwright.wording.parcel_risk import CAUTION, alone_text, chance_text, change_text, percent
from nestwright.wording.passage import ANTS, CAUSES

if TYPE_CHECKING:
    from nestwright.parcel.changes import Change
    from nestwright.parcel.risk import Choice, Risk, Weighed
    from nestwright.parcel.sending import Sending

__all__ = ["print_by_day", "print_risk", "print_ways"]


def print_risk(name: str, one: Risk, of: Sending, told_alone: tuple[float, float]) -> None:
    """The chances of the parcel as the file tells it, by how late it comes, and what goes first; `told_alone`, those of
    the one journey in which nothing is drawn."""
    out = console()
    told = f"; delays of {of.route}" if of.route else ""
    known = sum(n for n, _ in of.delays.counts.values())
    learned = f"learned of {known} parcel{'s' if known > 1 else ''}" if known else "before any parcel: judgement"
    print(f"{name}: sent {one.sent:%a %Y-%m-%d}, due {one.due:%a %Y-%m-%d}; {one.parcels:,} parcels drawn{told}")
    print(f"The garden is lost: {chance_text(one.garden)}")
    print(f"The colony is lost: {chance_text(one.colony)}")
    for of_what, causes, words in (("garden", one.causes, CAUSES), ("ants", one.ants_causes, ANTS)):
        if causes:
            told_causes = (f"{words[cause]} {percent(share)} %" for cause, share in causes[:3])
            print(f"What loses the {of_what}: {', '.join(told_causes)}")
    garden, colony = (alone_text(share) for share in told_alone)
    alone = (
        f"The one journey of the file, on time and with every value in its middle, would lose the garden with {garden} "
        f"and the colony with {colony}. The chances above are of parcels that differ from it: late, leakier or "
        "tighter, with weaker or stronger packs, other air outside, another place of the cup. The middle journey does "
        "not meet what the bad ones meet."
    )
    print(textwrap.fill(alone, 112))
    out.print(heading("By how late it comes"))
    rows = [
        [
            "on time" if r.days_late == 0 else f"{r.days_late} day{'s' if r.days_late > 1 else ''}",
            *(chance_text(x) for x in (r.share, r.garden, r.colony)),
        ]
        for r in one.by_late[:5]
    ]  # fmt: skip
    out.print(table(["late by", "of the parcels", "garden lost", "colony lost"], rows))
    print(f"Days of delivery, Monday to Friday ({learned}). In brackets: 8 in 10 of what is not known.")
    print("\n" + textwrap.fill(CAUTION, 112))


def print_by_day(days: Sequence[Risk]) -> None:
    """A table of the days of dispatch, the least chance of losing the garden marked."""
    out = console()
    out.print(heading("By day of dispatch"))
    best = min(days, key=lambda one: one.garden.mean)
    rows = [
        [
            f"{one.sent:%a %Y-%m-%d}", f"{one.due:%a %d}", chance_text(one.garden), chance_text(one.colony),
            CAUSES[one.causes[0][0]] if one.causes else "", "least" if one is best else "",
        ]
        for one in days
    ]  # fmt: skip
    out.print(table(["sent", "due", "garden lost", "colony lost", "first", ""], rows, left=(0, 1, 4, 5)))
    print("All days meet the same packs, boxes and delays; they differ by outside air and by the days between.")


def print_ways(weighed: Weighed, changes: Mapping[str, Change]) -> None:
    """Other ways to send it, the least expected cost first."""
    out = console()
    out.print(heading("What to change"))
    best = changes[weighed.best]
    within = "" if weighed.budget is None else f" within {weighed.budget:g}"
    print(f"Best{within}: {change_text(best)}")
    rows = [_row(one, changes[one.key], weighed) for one in weighed.choices]
    out.print(table(["", "way", "costs", "garden lost", "colony lost", "takes off", "expected"], rows, left=(0, 1)))
    said = (
        f"Costs are money of your own. Expected: what it costs more, with a lost garden at {weighed.garden_worth:g} "
        f"and a lost colony at {weighed.colony_worth:g} on top (--cost). =: no worse than the least expected cost by "
        "more than chance; the best is the cheapest of these. Takes off: of the chance of losing the garden. Two "
        "changes at once are tried of the five best single ones."
    )
    print(textwrap.fill(said, 112))


def _row(one: Choice, change: Change, weighed: Weighed) -> list[str]:
    mark = ">" if one.key == weighed.best else "=" if one.as_good else ""
    saved = "" if abs(one.saved) < max(2 * one.saved_error, 5e-4) else f"{100 * one.saved:+.1f} %"
    return [
        mark, change_text(change), f"{one.cost:+.2f}" if one.cost else "0", chance_text(one.risk.garden),
        chance_text(one.risk.colony), saved, f"{one.expected:.2f}",
    ]  # fmt: skip
