"""A visit in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.workshop.visits import VisitEntry

__all__ = ["visit_line"]


def visit_line(entry: VisitEntry) -> str:
    """A visit in one line."""
    from nestwright.wording.ranges import three

    parts = []
    error = "" if entry.garden_error_pct is None else f" (error {three(entry.garden_error_pct)} %)"
    if entry.garden_ml is not None:
        parts.append(f"garden {three(entry.garden_ml)} mL{error}")
    if entry.fill_pct is not None:
        parts.append(f"fill {three(entry.fill_pct)} %{error}")
    parts += [f"{c.text} {c.what}" for c in entry.counts]
    parts += [f"seen: {', '.join(entry.seen)}"] if entry.seen else []
    parts += [f"not seen: {', '.join(entry.not_seen)}"] if entry.not_seen else []
    parts += [f"given {f.amount:g} {f.unit} {f.plant}".rstrip() for f in entry.feedings]
    if entry.leaves_taken is not None:
        parts.append(f"leaves taken {entry.leaves_taken:g} {entry.leaves_taken_unit}")
    parts += [f"waste {entry.waste_g:g} g"] if entry.waste_g is not None else []
    parts += [f"garden {', '.join(entry.health)}"] if entry.health else []
    for e in entry.events:
        parts.append(" ".join(x for x in (e.what, e.amount, e.plant, f"({e.other})" if e.other else "", e.note) if x))
    parts += [entry.note] if entry.note else []
    return "; ".join(parts) or "looked at, nothing told"
