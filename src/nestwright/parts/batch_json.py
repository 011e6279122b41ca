"""The JSON of a batch plan. Lengths mm, times hours, days from 1; money as texts such as "118.40"."""

from __future__ import annotations

from typing import Any

from nestwright.parts.batch import BatchPlan
from nestwright.parts.prices import minor_digits

__all__ = ["batch_dict"]


def batch_dict(plan: BatchPlan) -> dict[str, Any]:
    """See docs/guide/json.md."""
    digits = minor_digits(plan.currency)
    return {
        "habitats": [
            {
                "habitat": p.assembly.habitat,
                "revision": p.assembly.revision,
                "file": p.file,
                "sha256": p.assembly.sha256,
            }
            for p in plan.products
        ],
        "count": plan.count,
        "serials": [{"serial": serial, "habitat": habitat} for serial, habitat in plan.serials],
        "days": plan.days,
        "days_at_least": plan.fewest_days,
        "airing_days_low": plan.airing_days[0],
        "airing_days_high": plan.airing_days[1],
        "jobs": [
            {
                "job": run.job.name,
                "way": run.job.way,
                "machine": run.machine,
                "hours": run.job.hours,
                "day": run.day + 1,
                "from_hour": run.start,
                "end_day": run.end_day + 1,
                "to_hour": run.end,
                "overnight": run.overnight,
            }
            for run in plan.runs
        ],
        "layouts": [
            {
                "name": one.name,
                "way": one.way,
                "material": one.material,
                "thickness_mm": 1000 * one.thickness or None,
                "width_mm": 1000 * one.bed.width,
                "depth_mm": 1000 * one.bed.depth,
                "use_pct": 100 * one.use,
                "hours": one.hours,
                "kerf_mm": 1000 * one.kerf,
                "pieces": [
                    {"part": p.piece.name, "x_mm": 1000 * p.x, "y_mm": 1000 * p.y, "turned": p.turned}
                    for p in one.pieces
                ],
            }
            for one in plan.layouts
        ],
        "purchases": [
            {
                "what": one.what,
                "amount": float(one.amount),
                "unit": one.unit,
                "cost": None if one.cost is None else f"{round(one.cost, digits)}",
                "supplier": one.supplier,
                "for": one.for_,
            }
            for one in plan.purchases
        ],
        "currency": plan.currency,
        "money": f"{round(plan.money, digits)}",
        "money_complete": not plan.missing,
        "cautions": list(plan.cautions),
        "notes": list(plan.notes),
    }
