"""What a result hangs on, in words and a table, and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.output import console, heading, plain, significant, table
from nestwright.wording.values import in_words, on_screen

if TYPE_CHECKING:
    from nestwright.sensitivity import Explained, Share

__all__ = ["called", "print_explained"]

SHOWN = 8
KELVIN = 273.15
TODAY = {
    "garden_today": ("garden today", "measure the garden: `nestwright photo`, or outline and height at the next visit"),
    "workers_today": ("workers today", "count the workers, and tell the error of the count"),
    "brood_today": ("brood today", "count the brood, or tell at a visit how much of it is seen"),
}
"""What of a colony can be looked at: how it is called and how it is found out."""
LEAVES = ("carry", "uptake")
PAST = ("start_garden", "start_workers", "start_brood")
FAILING = ("assembly.garden_fails_at", "assembly.garden_fails_over", "assembly.half_oxygen")
CAUTION = (
    "Shares rest on the ranges: a range that is told too narrow hides what a result hangs on. They say what to measure "
    "first, not that a design holds."
)


def called(one: Share) -> str:
    """An unknown in plain words."""
    if one.name in TODAY:
        return TODAY[one.name][0]
    # those of a proof are called as in the proof's own list of judgements
    return one.name if "." in one.name or one.unknown is None else in_words(one.name)


def looked(one: Share) -> str:
    """How an unknown is found out."""
    if one.name in TODAY:
        return TODAY[one.name][1]
    if one.name in LEAVES:
        return "weigh the leaves given and those left, at each visit"
    if one.name in PAST:
        return "it lies in the past: only what was written down then can tell it"
    if one.name in FAILING:
        return "no look tells it: it is of a garden that fails, and rests on judgement"
    if one.name.startswith("assembly."):
        return "a dry run of the empty build measures what it does (`nestwright dryrun`)"
    if one.name.startswith("garden."):
        return "a dry run does not tell it: readings with a garden inside do, beside the proof"
    return "no single look tells it: further visits narrow it"


def print_explained(result: Explained) -> None:
    """Print what a result hangs on."""
    out = console()
    digits = 2 if result.chance is None else 3
    ends = [significant(x, digits) for x in (result.low, result.middle, result.high)]
    unit = "" if result.unit == "1" else f" {result.unit}"
    out.print(f"[bold]{plain(result.subject)}[/bold]: {plain(result.result)}")
    out.print(f"{ends[1]}{unit}, 8 of 10 runs from {ends[0]} to {ends[2]}; {result.runs} runs")
    if result.lost:
        out.print(f"{result.lost} of the points found no rest and were left out.")
    leading, second = result.leading, result.undecided
    if leading is None:
        out.print("Nothing stands out from chance in these runs: more points or a longer record may tell more.")
    else:
        out.print(f"\nIt hangs most on: [bold]{plain(called(leading))}[/bold]. Measure next: {looked(leading)}.")
        if second is not None:
            out.print(f"Not told apart from it: {plain(called(second))}; {looked(second)}.")
    designed = any(one.total is not None for one in result.shares)
    columns = ["unknown", "range", *(["alone", "with others"] if designed else ["goes when known"]), "mark"]
    out.print(heading("Share of the variance, % (95 % of repetitions)"))
    rows = [_cells(one) for one in result.shares[:SHOWN]]
    if result.chance is not None:
        rows.append(["chance: births, deaths, growth", "", f"{100 * result.chance:.0f}", ""])
    out.print(table(columns, rows, left=(0, 1, len(columns) - 1)))
    if len(result.shares) > SHOWN:
        out.print(f"{len(result.shares) - SHOWN} more have smaller shares (--json).")
    if not designed:
        out.print("The unknowns hang together through the record, so shares may add up to more than 100 %.")
    for note in result.notes:
        out.print(f"Note: {plain(note)}")
    out.print(f"\n{CAUTION}")


def _cells(one: Share) -> list[str]:
    name = called(one) if one.unknown is not None else f"{one.name} ({len(one.members)})"
    first = _percent(one.first, one.first_error)
    parts = [first] if one.total is None else [first, _percent(one.total, one.total_error or 0.0)]
    return [name, _range(one), *parts, one.unknown.mark if one.unknown else ""]


def _range(one: Share) -> str:
    of = one.unknown
    if of is None:
        return ""
    if of.unit == "K" and of.low > KELVIN / 2:
        return f"{of.low - KELVIN:.1f} to {of.high - KELVIN:.1f} °C"
    unit, factor = on_screen(one.name, of.unit)
    ends = " to ".join(significant(factor * x, 2) for x in (of.low, of.high))
    return f"{ends} {unit}".rstrip()


def _percent(share: float, error: float) -> str:
    """ "31 ± 9", "under 3" where nothing is told from none."""
    if share <= error:
        return f"under {max(100 * (max(share, 0.0) + error), 1):.0f}"
    return f"{min(100 * share, 100):.0f} ± {max(100 * error, 1):.0f}"
