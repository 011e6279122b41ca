"""A plan in words: each change in a few lines, alternatives as rows."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from nestwright.wording.figures import figure
from nestwright.wording.ranges import volume_text

if TYPE_CHECKING:
    from nestwright.colony.results import Plan, PlanStep

__all__ = [
    "CLEAR",
    "HANDLING",
    "cost_text",
    "opening_stated",
    "part_text",
    "rows",
    "share_text",
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
