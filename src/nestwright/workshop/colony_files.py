"""A colony file into the record, visit by visit."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.workshop.changes import Act
from nestwright.workshop.colonies import add_bell, add_colony
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry, add_event, add_visit

if TYPE_CHECKING:
    from nestwright.colony.form import ColonyForm, EventForm, VisitForm

__all__ = ["add_colony_file", "record_form"]


def add_colony_file(done: Act, path: Path, name: str = "") -> int:
    """Write the colony of a file, with its table of visits, under its own name or another.

    Raises InputError (FileError) for a file that cannot be used, or a name that is taken.
    """
    from nestwright.colony.file import read_colony, read_forms

    read_colony(path)  # judged as a whole before anything is written
    form, visits, events = read_forms(path)
    return record_form(done, form, visits, events, name)


def record_form(done: Act, form: ColonyForm, visits: list[VisitForm], events: list[EventForm], name: str = "") -> int:
    """Write a colony that was read; its row."""
    arrival, housing = form.arrival, form.housing
    row = add_colony(
        done,
        {
            "name": name or form.name,
            "species": form.species,
            "start": form.start.isoformat(),
            "queen": form.queen.state,
            "leaves": form.leaves,
            "climate": form.climate,
            "arrival_garden_ml": arrival.garden,
            "arrival_garden_error_pct": _percent(arrival.garden_error),
            "arrival_workers": _count(arrival.workers),
            "arrival_brood": _count(arrival.brood),
            "chamber_ml": housing.chamber,
            "opening_mm": _mm(housing.opening),
            "lid_mm": _mm(housing.lid),
            "headroom_mm": _mm(housing.headroom),
            "making_days": housing.making_time,
            "chamber_days": housing.chamber_time,
            "ended": None if form.end is None else form.end.isoformat(),
            "note": form.note,
        },
    )
    for one in form.bell:
        sizes = {"usable_ml": one.usable, "diameter_mm": _mm(one.diameter), "height_mm": _mm(one.height)}
        add_bell(done, row, {"day": one.from_.isoformat(), "kind": one.kind, "name": one.name, **sizes})
    for seen in visits:
        add_visit(done, row, _visit(seen))
    for happened in events:
        add_event(done, row, *_event(happened))
    return row


def _mm(metres: float | None) -> float | None:
    return None if metres is None else round(1e3 * metres, 6)


def _percent(share: float | None) -> float | None:
    return None if share is None else round(100 * share, 9)


def _count(told: Any) -> str:
    from nestwright.colony.texts import format_count

    return "" if told is None else format_count(told)


def _visit(form: VisitForm) -> VisitEntry:
    counted = form.workers
    taken = form.leaves_taken
    return VisitEntry(
        day=form.date,
        garden_ml=form.garden,
        fill_pct=_percent(form.fill),
        garden_error_pct=_percent(form.garden_error),
        counts=() if counted is None else (Count("workers", counted.how, float(counted.low), float(counted.high)),),
        seen=tuple(form.seen),
        not_seen=tuple(form.not_seen),
        feedings=() if form.leaves is None else (Feeding(form.leaves.value, form.leaves.unit, form.plant),),
        leaves_taken=None if taken is None else taken.value,
        leaves_taken_unit=None if taken is None else taken.unit,
        waste_g=form.waste,
        note=form.note,
    )


def _event(form: EventForm) -> tuple[date, EventEntry]:
    amount = ""
    if form.amount is not None:
        value, unit = form.amount.value, form.amount.unit
        if form.amount.counted is not None:
            amount = _count(form.amount.counted)
        else:
            amount = f"{100 * value:.12g} %" if unit == "share" else f"{value!r} {unit}"
    return form.date, EventEntry(form.what, amount, form.plant, "", form.note)
