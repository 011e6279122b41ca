"""What acts of the history told: the visits that they wrote, as they wrote them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from sqlalchemy import Connection, select

from nestwright.workshop.changes import Step
from nestwright.workshop.tables import brood, change, colony, count, event, feeding, visit
from nestwright.workshop.visits import VisitEntry, entry_of_rows

__all__ = ["visits_told"]

PARTS = (count, brood, feeding, event)


def visits_told(connection: Connection, steps: Sequence[Step]) -> dict[int, VisitEntry]:
    """The visit that each of `steps` wrote or corrected, by step, whatever became of it since; none of a step that
    wrote several, as a colony's file does."""
    if not steps:
        return {}
    numbers = [one.step for one in steps]
    query = select(change.c.step, change.c.of_table, change.c.after).where(
        change.c.step.between(min(numbers), max(numbers)), change.c.after != "", change.c.undoes.is_(None),
        change.c.of_table.in_([one.name for one in (visit, *PARTS)]),
    )  # fmt: skip
    whole: dict[int, list[dict[str, Any]]] = {}
    parts: dict[int, dict[str, list[Any]]] = {}
    for step, table, after in connection.execute(query.order_by(change.c.id)):
        row = json.loads(after)
        if table == visit.name:
            whole.setdefault(step, []).append(row)
        else:
            parts.setdefault(step, {}).setdefault(table, []).append(row)
    names = {int(row): str(name) for row, name in connection.execute(select(colony.c.id, colony.c.name))}
    told = {}
    for step, rows in whole.items():
        if len(rows) > 1:
            continue
        row = rows[0]
        own = {
            one.name: [part for part in parts.get(step, {}).get(one.name, []) if part["visit_id"] == row["id"]]
            for one in PARTS
        }
        told[step] = entry_of_rows(row, own, names)
    return told
