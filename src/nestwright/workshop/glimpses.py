"""What was last told of each colony, out of a few queries however many there are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, func, or_, select

from nestwright.workshop.colonies import kept_colonies
from nestwright.workshop.tables import photo, visit

__all__ = ["Glimpse", "glimpses"]


@dataclass(frozen=True)
class Glimpse:
    """One colony: the day of its last visit, the garden (mL) or fill (%) last told with its error (%) and day, the
    health last noted, and its newest photograph."""

    name: str
    species: str
    ended: str
    last: date | None
    garden: float | None
    fill: float | None
    error: float | None
    told: date | None
    health: tuple[str, ...]
    photo: int | None


def glimpses(connection: Connection, *, ended: bool = False) -> list[Glimpse]:
    """One for each colony, by name."""
    last = dict(connection.execute(select(visit.c.colony_id, func.max(visit.c.day)).group_by(visit.c.colony_id)).all())
    seen = _newest(connection, visit, or_(visit.c.garden_ml.is_not(None), visit.c.fill_pct.is_not(None)))
    health = _newest(connection, visit, visit.c.health != "")
    pictures = _newest(connection, photo, photo.c.colony_id.is_not(None))
    made = []
    for kept in kept_colonies(connection, ended=ended):
        row, day = seen.get(kept.id), last.get(kept.id)
        made.append(
            Glimpse(
                name=kept.name,
                species=str(kept.values["species"]),
                ended=str(kept.values["ended"] or ""),
                last=date.fromisoformat(day) if day else None,
                garden=row and row["garden_ml"],
                fill=row and row["fill_pct"],
                error=row and row["garden_error_pct"],
                told=date.fromisoformat(row["day"]) if row else None,
                health=tuple(w for w in health[kept.id]["health"].split(", ") if w) if kept.id in health else (),
                photo=pictures[kept.id]["id"] if kept.id in pictures else None,
            )
        )
    return made


def _newest(connection: Connection, table: Any, which: Any) -> dict[int, Any]:
    """The last row of each colony that fulfils `which`, in the order in which a colony's page shows them."""
    order = [table.c[name].desc() for name in ("day", "at", "taken", "id") if name in table.c]
    rank = func.row_number().over(partition_by=table.c.colony_id, order_by=order).label("rank")
    ranked = select(table, rank).where(which).subquery()
    return {row["colony_id"]: row for row in connection.execute(select(ranked).where(ranked.c.rank == 1)).mappings()}
