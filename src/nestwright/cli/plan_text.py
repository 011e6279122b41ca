"""A plan in words and tables, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from nestwright.cli.output import CAUTIONS, console, figure, heading, plain, significant, table
from nestwright.wording.plan import CLEAR, HANDLING, cost_text, rows, since_line, span_text, step_lines
from nestwright.wording.ranges import FULLER, span_of_days
from nestwright.wording.values import in_words

if TYPE_CHECKING:
    from nestwright.colony.results import Plan

__all__ = ["print_plan"]

STANDARD_ERROR = (
    "±: standard error, how far chance in the outcomes that were simulated can have moved the figure; a difference "
    "smaller than twice its own is none to go by."
)
DYING = "workers and garden live to the end in"
"""How the note begins that says why nothing is planned."""
THEN = "`nestwright diagnose` weighs what it may be; where the garden is gone, `nestwright rescue` says what it needs."


def print_plan(result: Plan, losses: Sequence[str] = (), now: date | None = None) -> None:
    """Print a plan: each change, what it is worth, what it beat, and what it rests on. `losses` come first.

    `now`: today, where the record has one; days of the plan that are past by then are said to be.
    """
    out, fit = console(), result.forecast.fit
    today = fit.start + timedelta(days=fit.days)
    out.print(f"[bold]{plain(fit.colony)}[/bold], {plain(fit.species)}")
    for line in losses:
        out.print(plain(line))
    length, ahead = span_of_days(fit.days), span_of_days(result.forecast.horizon)
    out.print(f"Record of {length} from {fit.start}; plan of {ahead} from {today}")
    low, high = (100 * x for x in result.band)
    fill = span_text([100 * float(b[0]) for b in (result.fill.low, result.fill.middle, result.fill.high)])
    out.print(f"Fill on {today} {fill} %; the card's band is {figure(low, 0)} to {figure(high, 0)} %")
    if float(result.fill.middle[0]) > 1:
        out.print(FULLER)
    out.print(heading("What to do"))
    if since_line(result, now):
        out.print(since_line(result, now))
    for number, step in enumerate(result.steps, 1):
        for line in step_lines(result, number, step, now):
            out.print(plain(line))
    if len(result.steps) > 1:
        out.print("[dim]The first change is to be made; plan again before the next, with what was seen by then.[/dim]")
    dying = next((note for note in result.notes if note.startswith(DYING)), "")
    if dying:
        out.print(f"{plain(dying[:1].upper() + dying[1:])}. {THEN}")
    else:
        if not result.steps:
            out.print("Nothing: leave the housing as it is.")
        _worth(result, out)
    if result.beaten:
        out.print(heading("What else was tried, over the same outcomes"))
        out.print(table(["instead", "changes", "inside %", "cost, days", "worse by"], rows(result, now), left=(0, 1)))
        alike = [str(b["what"]) for b in result.beaten if b["worse_by_days"] <= CLEAR * b["worse_by_error_days"]]
        if alike:
            out.print(f"[dim]Not clearly worse: {plain('; '.join(alike))}.[/dim]")
    out.print(heading("Rests on judgement"))
    out.print("Weighing: " + ", ".join(map(in_words, result.judgements)))
    if fit.judgements:
        out.print("Growth: " + ", ".join(map(in_words, fit.judgements)))
    if set(result.notes) - {dying, *losses}:
        out.print(heading("Notes"))
    for note in result.notes:
        if note != dying and note not in losses:
            out.print(plain(note))
    out.print(heading("Cautions"))
    out.print(HANDLING)
    out.print(CAUTIONS["law"])


def _worth(result: Plan, out: Any) -> None:
    """Time inside the band and cost, with what ± means."""
    out.print(heading("What it is worth"))
    out.print(f"Time inside the band: {span_text([100 * x for x in result.inside])} %")
    out.print(
        f"Cost: as bad as {cost_text(result.cost, result.cost_error)} days just outside the band. A day further "
        f"outside counts more, and each change of housing counts {significant(result.handling_days)} days"
    )
    out.print(f"[dim]{STANDARD_ERROR}[/dim]")
