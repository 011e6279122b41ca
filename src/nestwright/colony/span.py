"""Days outside the record of a file that has other faults too, so that all of it is told at once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from nestwright.colony.texts import parse_day
from nestwright.errors import InputError
from nestwright.units import UnitProblem

if TYPE_CHECKING:
    from nestwright.document import Document
    from nestwright.refusals import Place

__all__ = ["outside"]


def outside(document: Document, place: Place, rows: Sequence[tuple[date, dict[str, Any]]]) -> list[InputError]:
    """Days of visits, events and bells before the start or after the stated end, in the words of `build_colony`.

    `rows`: the days of the table of visits with their places. Days that cannot be read are told elsewhere.
    """
    tables = document.tables
    start, end = _day(tables.get("start")), _day(tables.get("end"))
    if start is None:
        return []
    days = list(rows)
    found: list[InputError] = []
    if end is not None and end < start:
        message, allowed = "lies before the start of the record", f"from {start}"
        found.append(InputError(message, found=f"{end}", allowed=allowed, **place(("end",))))
        end = None
    for table, key in (("bell", "from"), ("visit", "date"), ("event", "date")):
        listed = tables.get(table)
        for number, one in enumerate(listed if isinstance(listed, list) else []):
            day = _day(one.get(key)) if isinstance(one, dict) else None
            # a bell from before the record stands on its first day
            if day is not None and (table != "bell" or day >= start):
                days.append((day, place((table, number, key))))
    for day, where in days:
        if day < start:
            message, allowed = "lies before the start of the record", f"from {start}"
        elif end is not None and day > end:
            message, allowed = "lies after the end of the record", f"until {end}"
        else:
            continue
        found.append(InputError(message, found=f"{day}", allowed=allowed, **where))
    return sorted(found, key=lambda e: (e.file != document.path, e.line))


def _day(value: Any) -> date | None:
    try:
        return parse_day(value)
    except UnitProblem:
        return None
