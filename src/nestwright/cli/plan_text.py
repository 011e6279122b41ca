"""A plan in words and tables, for the terminal."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from nestwright.cli.output import CAUTIONS, console, figure, heading, plain, significant, table
from nestwright.wording.ranges import FULLER, span_of_days, volume_text
from nestwright.wording.values import in_words

if TYPE_CHECKING:
    from nestwright.colony.results import Plan, PlanStep

__all__ = ["print_plan"]

CLEAR = 2.0
"""Standard errors from which a difference is one to go by."""
STANDARD_ERROR = (
    "±: standard error, how far chance in the outcomes that were simulated can have moved the figure; a difference "
    "smaller than twice its own is none to go by."
)
DYING = "workers and garden live to the end in"
"""How the note begins that says why nothing is planned."""
THEN = "`nestwright diagnose` weighs what it may be; where the garden is gone, `nestwright rescue` says what it needs."
HANDLING = (
    "Handling: change housing by day with the escape barrier up, the new bell damp and at the garden's temperature, "
    "and nothing that draws air over the open garden."
)


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
    if now is not None and now > today:
        late = any(told(result, step.day) < now for step in result.steps)
        what = "A day that is past by then means at once. " if late else ""
        out.print(
            f"Planned from the record's last day, {span_of_days((now - today).days)} before today, {now}. {what}"
            "A visit recorded first makes a better plan."
        )
    for number, step in enumerate(result.steps, 1):
        for line in step_lines(result, number, step):
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
        out.print(table(["instead", "changes", "inside %", "cost, days", "worse by"], rows(result), left=(0, 1)))
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


def step_lines(result: Plan, number: int, step: PlanStep) -> list[str]:
    """One change in a few lines."""
    what = f"{volume_text(step.usable)} {step.name}"
    if step.kind == "bell":
        what += f", {1000 * step.diameter:.0f} mm wide and {1000 * step.height:.0f} mm high outside"
    else:
        without = " (take the bell away)" if step.name == "whole chamber" else " (add one to what is there)"
        what = f"{step.name}{without}, {volume_text(step.usable)}"
    lines = [f"{number}. {told(result, step.day)}: {what}"]
    if step.lid_off:
        lines.append("   the lid must come off: what goes in or what comes out does not pass the opening")
    elif step.kind == "bell":
        lines.append("   passes the opening" if opening_stated(result) else "   no opening stated that it must pass")
    if step.start_by is not None:
        lines.append(f"   start making it by {told(result, step.start_by)}")
    due = step.due
    if due is not None:
        lines.append(f"   {due.what}: {share_text(due.probability)}")
        today = result.forecast.fit.days
        if due.early is not None and due.late is not None and due.late <= today:
            lines.append("   it is so today already")
        elif due.early is not None:
            late = "later than the plan looks" if due.late is None else told(result, due.late)
            lines.append(f"   that day lies between {told(result, due.early)} and {late} in 8 outcomes of 10")
    before, after = ([100 * x for x in three] for three in (step.fill_before, step.fill_after))
    lines.append(f"   fill before {span_text(before)} %, after {span_text(after)} %")
    return lines


def part_text(name: str, usable: float) -> str:
    """A bell as "180 mL dome", chambers as "2 chambers, 300 L"."""
    volume = volume_text(usable)
    return f"{name}, {volume}" if name.endswith(("chamber", "chambers")) else f"{volume} {name}"


def opening_stated(result: Plan) -> bool:
    return not any(note.startswith("housing.opening is not stated") for note in result.notes)


def rows(result: Plan) -> list[list[str]]:
    """A row for each alternative."""
    return [
        [
            str(one["what"]),
            "; ".join(f"{s['date']} {part_text(s['name'], s['usable_mL'])}" for s in one["steps"]) or "none",
            span_text(one["inside_pct"]),
            figure(one["cost_days"], 0),
            cost_text(one["worse_by_days"], one["worse_by_error_days"]),
        ]
        for one in result.beaten
    ]


def told(result: Plan, day: float) -> Any:
    return result.forecast.fit.start + timedelta(days=int(day))


def share_text(share: float) -> str:
    """A chance in words that never round to all or none."""
    if share > 0.99:
        return "in nearly all outcomes"
    return "in hardly any outcome" if share < 0.01 else f"in {100 * share:.0f} % of outcomes"


def span_text(three: list[float]) -> str:
    """A middle with the range of 8 outcomes in 10."""
    low, middle, high = (figure(x, 0) for x in three)
    if low == high:
        return middle
    return f"{low} to {high}" if middle in (low, high) else f"{middle} ({low} to {high})"


def cost_text(value: float, error: float) -> str:
    """A number of days with its standard error, no finer than that."""
    decimals = 1 if error < 1 else 0
    return f"{figure(value, decimals)} ± {figure(max(error, 0.1), decimals)}"
