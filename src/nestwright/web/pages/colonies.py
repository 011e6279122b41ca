"""Colonies: all at a glance, and one with its record."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from sqlalchemy import Connection, select
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.web.colony_work import address_of
from nestwright.web.named import Named
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.workshop.changes import Act, act
from nestwright.workshop.colonies import (
    Kept,
    add_bell,
    add_colony,
    colony_tables,
    find_colony,
    kept_colonies,
    model_colony,
    move_in,
    stays,
)
from nestwright.workshop.database import reading, writing
from nestwright.workshop.glimpses import glimpses
from nestwright.workshop.photos import find_photos
from nestwright.workshop.tables import build
from nestwright.workshop.visits import add_event, donations, events_between, read_visits

router = APIRouter(prefix="/colonies")
LAST = 30
"""Visits that a colony's page shows at first."""


@router.get("")
def colonies(request: Request, ended: bool = False) -> Response:
    """All colonies, those first that were not looked at for the longest."""
    today = shown_for(request).today
    with reading(workshop_at(request).engine) as connection:
        found = glimpses(connection, ended=ended)
    rows = [(one, None if one.last is None else (today - one.last).days) for one in found]
    rows.sort(key=lambda row: (bool(row[0].ended), -(row[1] if row[1] is not None else 10**6), row[0].name))
    return page(request, "colonies.html", rows=rows, ended=ended)


@router.get("/-new")
def new(request: Request) -> Response:
    """The form for a new colony."""
    return page(request, "colony_new.html", told={}, faults=[], species=_species())


@router.post("/-new")
def add(
    request: Request,
    name: Annotated[str, Form()] = "",
    species: Annotated[str, Form()] = "",
    start: Annotated[str, Form()] = "",
    origin: Annotated[str, Form()] = "",
    queen: Annotated[str, Form()] = "laying",
    garden: Annotated[str, Form()] = "",
    workers: Annotated[str, Form()] = "",
    brood: Annotated[str, Form()] = "",
    chamber: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Add a colony."""
    from nestwright.workshop.colonies import values_of
    from nestwright.workshop.typed import day_of, line_of_text, lines_of_text

    workshop = workshop_at(request)
    garden, chamber, workers, brood = (typed(request, one) for one in (garden, chamber, workers, brood))
    told = {"name": name, "species": species, "start": start, "origin": origin, "queen": queen, "garden": garden,
            "workers": workers, "brood": brood, "chamber": chamber, "note": note}  # fmt: skip
    try:
        plain = (v.strip() or None for v in (garden, workers, brood, chamber))
        values = values_of(name, species, queen, *plain)
        values |= {"origin": line_of_text(origin, "origin", needed=False), "note": lines_of_text(note, "note")}
        values["start"] = day_of(start.strip() or None, workshop, "start").isoformat()
        with writing(workshop.engine) as connection:
            done = act(connection, f"colony {values['name']}")
            add_colony(done, values)
            kept = find_colony(connection, values["name"])
            model_colony(connection, kept)
    except InputError as error:
        faults = faults_of(error)
        return page(request, "colony_new.html", 422, told=told, faults=faults, species=_species())
    return recorded(address_of(kept.name), done.step)


def _species() -> list[str]:
    from nestwright.data import species_names

    return list(species_names())


@router.get("/{name}")
def colony(request: Request, name: Named, all_visits: bool = False, corrected: int = 0) -> Response:
    """One colony: where it lives, what was seen and done; `corrected` is the row of a visit just corrected."""
    return _colony(request, name, all_visits=all_visits, corrected=corrected)


def _colony(
    request: Request, name: str, status: int = 200, *, all_visits: bool = False, corrected: int = 0, **more: Any
) -> Response:
    from nestwright.colony.form import EVENTS
    from nestwright.units import parse_quantity
    from nestwright.wording.visits import visit_line
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.doubted import remarks_on
    from nestwright.workshop.other_species import other_species
    from nestwright.workshop.parcels import parcels

    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        kept = find_colony(connection, name)
        visits = read_visits(connection, kept.id)
        entry = next((one for row, one in visits if row == corrected), None)
        remarks = [] if entry is None else list(remarks_on(connection, kept, entry))
        tables = colony_tables(connection, kept)
        row = next(one for one in glimpses(connection, ended=True) if one.name == kept.name)
        values: dict[str, Any] = {
            "lived": stays(connection, kept.id),
            "boxes": parcels(connection, kept.id),
            "given": donations(connection, kept.id),
            "photos": find_photos(connection, colony_id=kept.id)[-6:],
            "builds": _serials(connection),
            "happened": events_between(connection, kept.id),
            "others": [one.name for one in kept_colonies(connection) if one.name != kept.name],
            "events": EVENTS,
        }
        lives = find_build(connection, values["lived"][-1][1]) if values["lived"] else None
    values["remarks"] = remarks
    values["stranger"] = "" if lives is None else other_species(workshop, lives, kept.values["species"])
    lines = [(id_, entry.day, _without_day(visit_line(entry))) for id_, entry in reversed(visits)]
    shown = lines if all_visits else lines[:LAST]
    volumes = [parse_quantity(one["usable"], "volume") * 1e6 if "usable" in one else None for one in tables["bell"]]
    values["bells"] = list(zip(tables["bell"], volumes, strict=True))
    told = {"faults": [], "form": "", "entry": {}} | more
    return page(request, "colony.html", status, kept=kept, tables=tables, row=row, visits=shown,
                total=len(lines), address=address_of(kept.name), **values, **told)  # fmt: skip


def _without_day(line: str) -> str:
    return line[:1].upper() + line[1:]


def _serials(connection: Connection) -> list[str]:
    return list(connection.execute(select(build.c.serial).order_by(build.c.serial)).scalars())


def _changing(request: Request, name: str, form: str, entry: dict[str, str], write: Any) -> Response:
    """One act on a colony out of a form of its page; the page again, with its faults, where it cannot be."""
    workshop = workshop_at(request)
    try:
        with writing(workshop.engine) as connection:
            kept = find_colony(connection, name)
            done = write(connection, kept)
            model_colony(connection, find_colony(connection, kept.name))
    except InputError as error:
        return _colony(request, name, 422, faults=faults_of(error), form=form, entry=entry)
    return recorded(address_of(name), done.step)


@router.post("/{name}/bell")
def bell(
    request: Request,
    name: Named,
    usable: Annotated[str, Form()] = "",
    diameter: Annotated[str, Form()] = "",
    height: Annotated[str, Form()] = "",
    called: Annotated[str, Form()] = "",
    chamber: Annotated[bool, Form()] = False,
    day: Annotated[str, Form()] = "",
) -> Response:
    """Record a bell that was set over the garden, or that the whole chamber is open to it."""
    from nestwright.units import parse_quantity
    from nestwright.workshop.typed import checked, day_of, line_of_text

    usable, diameter, height = (typed(request, one) for one in (usable, diameter, height))

    def write(connection: Connection, kept: Kept) -> Act:
        sizes = {"diameter": diameter.strip() or None, "height": height.strip() or None}
        values = {
            "day": day_of(day.strip() or None, workshop_at(request), "day").isoformat(),
            "kind": "chamber" if chamber else "bell",
            "name": line_of_text(called, "called", needed=False),
            "usable_ml": checked(lambda t: parse_quantity(t, "volume") * 1e6, usable.strip() or None, "usable"),
            **{f"{k}_mm": checked(lambda t: parse_quantity(t, "length") * 1e3, v, k) for k, v in sizes.items()},
        }
        done = act(connection, f"{values['kind']} of {kept.name} on {values['day']}")
        add_bell(done, kept.id, values)
        return done

    entry = {"usable": usable, "diameter": diameter, "height": height, "called": called, "day": day}
    return _changing(request, name, "bell", entry, write)


@router.post("/{name}/move")
def move(
    request: Request, name: Named, build: Annotated[str, Form()] = "", day: Annotated[str, Form()] = ""
) -> Response:
    """Record that a colony lives in a build from a day on."""
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.typed import day_of

    def write(connection: Connection, kept: Kept) -> Act:
        made = find_build(connection, build)
        done = act(connection, f"move of {kept.name} to build {made.serial}")
        move_in(done, kept.id, made.id, day_of(day.strip() or None, workshop_at(request), "day").isoformat())
        return done

    return _changing(request, name, "move", {"build": build, "day": day}, write)


@router.post("/{name}/event")
def event(
    request: Request,
    name: Named,
    what: Annotated[str, Form()] = "",
    amount: Annotated[str, Form()] = "",
    other: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record what was done to a colony, or befell it, at no visit."""
    from nestwright.workshop.entries import event_told
    from nestwright.workshop.typed import day_of, lines_of_text

    amount = typed(request, amount, event=True)

    def write(connection: Connection, kept: Kept) -> Act:
        on = day_of(day.strip() or None, workshop_at(request), "day")
        told = f"{what} {amount.strip()}" + (f" from {other}" if other else "")
        entry = event_told(told, on.isoformat(), lambda _: {"field": "amount"})
        if entry.other != other:
            raise InputError("is told where nothing goes from one colony to another", field="other", found=other[:80])
        done = act(connection, f"event of {kept.name} on {on}")
        add_event(done, kept.id, on, replace(entry, note=lines_of_text(note, "note")))
        if other:
            model_colony(connection, find_colony(connection, other))
        return done

    entry = {"what": what, "amount": amount, "other": other, "day": day, "note": note}
    return _changing(request, name, "event", entry, write)


@router.post("/{name}/end")
def end(
    request: Request, name: Named, reason: Annotated[str, Form()] = "", day: Annotated[str, Form()] = ""
) -> Response:
    """Record that a colony's record ends."""
    from nestwright.workshop.tables import colony as colony_table
    from nestwright.workshop.typed import day_of, line_of_text

    def write(connection: Connection, kept: Kept) -> Act:
        done = act(connection, f"end of {kept.name}")
        told = {"ended": day_of(day.strip() or None, workshop_at(request), "day").isoformat()}
        done.change(colony_table, kept.id, told | {"end_reason": line_of_text(reason, "reason", needed=False)})
        return done

    return _changing(request, name, "end", {"reason": reason, "day": day}, write)


@router.get("/{name}/visit")
def visit_of(name: Named) -> Response:
    """The visit's form."""
    return RedirectResponse(f"/visit/{address_of(name).rsplit('/', 1)[1]}", 303)
