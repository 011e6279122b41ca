"""A plan in words: each change in a few lines, alternatives as rows."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from nestwright.wording.figures import figure
from nestwright.wording.ranges import span_of_days, volume_text

if TYPE_CHECKING:
    from nestwright.colony.results import Plan, PlanStep

__all__ = [
    "CLEAR",
    "HANDLING",
    "cost_text",
    "dated_text",
    "opening_stated",
    "part_text",
    "rows",
    "share_text",
    "since_line",
    "span_text",
    "step_lines",
    "told",
]

CLEAR = 2.0
"""Standard errors from which a difference is one to go by."""
HANDLING = (
    "Handling: change housing by day with the escape barrier up, the new bell damp and at the garden's temperature, "
    "and nothing that draws air over the open garden."
)


def dated_text(day: date, now: date | None) -> str:
    """A day, and that it is past where it lies before today."""
    return f"{day}, past" if now is not None and day < now else f"{day}"


def since_line(result: Plan, now: date | None) -> str:
    """What it means that the record ends before today; "" where it does not, or today is not known."""
    last = told(result, result.forecast.fit.days)
    if now is None or now <= last:
        return ""
    ago = span_of_days((now - last).days)
    if any(told(result, step.day) < now for step in result.steps):
        return (
            f"The record ends {ago} before today, {now}, too long ago for a plan: days that are past mean at once. "
            "Record a visit first."
        )
    return (
        f"The record ends {ago} before today, {now}; no change is put into the days gone by. "
        "A visit recorded first makes a better plan."
    )


def step_lines(result: Plan, number: int, step: PlanStep, now: date | None = None) -> list[str]:
    """One change in a few lines. `now`: today, where it is known; days before it are said to be past."""
    what = f"{volume_text(step.usable)} {step.name}"
    if step.kind == "bell":
        what += f", {1000 * step.diameter:.0f} mm wide and {1000 * step.height:.0f} mm high outside"
    else:
        without = " (take the bell away)" if step.name == "whole chamber" else " (add one to what is there)"
        what = f"{step.name}{without}, {volume_text(step.usable)}"
    lines = [f"{number}. {dated_text(told(result, step.day), now)}: {what}"]
    if step.lid_off:
        lines.append("   the lid must come off: what goes in or what comes out does not pass the opening")
    elif step.kind == "bell":
        lines.append("   passes the opening" if opening_stated(result) else "   no opening stated that it must pass")
    if step.start_by is not None:
        lines.append(f"   start making it by {dated_text(told(result, step.start_by), now)}")
    due = step.due
    if due is not None:
        lines.append(f"   {due.what}: {share_text(due.probability)}")
        today = result.forecast.fit.days
        if due.early is not None and due.late is not None and due.late <= today:
            lines.append("   it is so today already")
        elif due.early is not None:
            late = "later than the plan looks" if due.late is None else dated_text(told(result, due.late), now)
            early = dated_text(told(result, due.early), now)
            lines.append(f"   that day lies between {early} and {late} in 8 outcomes of 10")
    before, after = ([100 * x for x in three] for three in (step.fill_before, step.fill_after))
    lines.append(f"   fill before {span_text(before)} %, after {span_text(after)} %")
    return lines


def part_text(name: str, usable: float) -> str:
    """A bell as "180 mL dome", chambers as "2 chambers, 300 L"."""
    volume = volume_text(usable)
    return f"{name}, {volume}" if name.endswith(("chamber", "chambers")) else f"{volume} {name}"


def opening_stated(result: Plan) -> bool:
    return not any(note.startswith("the opening is not stated") for note in result.notes)


def rows(result: Plan, now: date | None = None) -> list[list[str]]:
    """A row for each alternative. `now` as in `step_lines`."""
    return [
        [
            str(one["what"]),
            "; ".join(
                f"{dated_text(date.fromisoformat(s['date']), now)} {part_text(s['name'], s['usable_mL'])}"
                for s in one["steps"]
            )
            or "none",
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
