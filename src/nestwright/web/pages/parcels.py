"""Parcels: all at a glance with what they teach of delays, and one from dispatch to what to do with it first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from sqlalchemy import Connection, select
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.web.named import step
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.workshop.changes import Act, act, now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.parcel_entries import arrival_values, dispatch_values, scan_values
from nestwright.workshop.parcels import (
    KeptParcel,
    add_parcel,
    add_scan,
    complete_parcel,
    find_parcel,
    kept_parcels,
    sent_parcels,
)
from nestwright.workshop.tables import colony, logger

router = APIRouter(prefix="/parcels")


def _plain(name: str) -> str:
    return name


@router.get("")
def parcels(request: Request, of: str = "") -> Response:
    """All parcels, the newest first, and the form for one that is sent; `of` is the colony that it is to hold."""
    from nestwright.workshop.colonies import find_colony

    if of:
        with reading(workshop_at(request).engine) as connection:
            of = find_colony(connection, of).name
    return _parcels(request, entry={"colony": of})


def _parcels(request: Request, status: int = 200, **more: Any) -> Response:
    from nestwright.parcel.delay import learn_delays
    from nestwright.wording.parcels import VERDICTS, each_parcel
    from nestwright.workshop.parcel_predictions import losses_held

    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        rows = kept_parcels(connection, workshop.zone)
        colonies = connection.execute(select(colony.c.name).order_by(colony.c.name)).scalars().all()
        routes = sorted({str(one.values["route"]) for one in rows if one.values["route"]})
    learned, held = learn_delays(sent_parcels(rows)), losses_held(rows)
    delays = [learned.route(name) for name in (*sorted(learned.counts), "")]
    values: dict[str, Any] = {"faults": [], "entry": {}} | more
    held = {what: one for what, one in held.items() if one.parcels}
    lost = {"held": held, "held_each": each_parcel(held), "held_verdicts": VERDICTS}
    told = lost | {"rows": rows, "colonies": colonies, "routes": routes, "delays": delays, "now": _now(request)}
    return page(request, "parcels.html", status, **told, **values)


def _now(request: Request) -> str:
    return shown_for(request).field_moment(now())


@router.post("")
def add(
    request: Request,
    direction: Annotated[str, Form()] = "",
    name: Annotated[str, Form()] = "",
    of: Annotated[str, Form(alias="colony")] = "",
    sent: Annotated[str, Form()] = "",
    promised: Annotated[str, Form()] = "",
    route: Annotated[str, Form()] = "",
    carrier: Annotated[str, Form()] = "",
    box: Annotated[str, Form()] = "",
    pack: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record a parcel that is sent, or on its way to here."""
    from nestwright.workshop.colonies import find_colony

    workshop = workshop_at(request)
    told = {"direction": direction, "name": name, "sent": sent or "now", "promised": typed(request, promised)}
    told |= {"route": route, "carrier": carrier, "box": box, "pack": pack, "note": note}
    try:
        values = dispatch_values(told, workshop.zone, _plain)
        with writing(workshop.engine) as connection:
            held = find_colony(connection, of).id if of else None
            done = act(connection, f"parcel {values.get('name', '')}".strip())
            row = add_parcel(done, held, values)
    except InputError as error:
        return _parcels(request, 422, faults=faults_of(error), entry=told | {"colony": of})
    return recorded(f"/parcels/{row}", done.step)


@router.get("/{number}")
def parcel(request: Request, number: int, species: str = "") -> Response:
    """One parcel; `species` whose numbers hold where its colony is not told."""
    return _parcel(request, number, species=species[:100])


def _parcel(request: Request, number: int, status: int = 200, *, species: str = "", **more: Any) -> Response:
    from nestwright.data import species_names
    from nestwright.wording.parcels import risk_text
    from nestwright.wording.receiving import CAUTION, COUNT_HERE, journey_line, step_text, verdict_text, warming_text
    from nestwright.workshop.parcel_predictions import other_dispatch
    from nestwright.workshop.visits import HEALTH

    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        one = find_parcel(connection, workshop.zone, str(number))
        told = _first(connection, workshop, one, species)
        loggers = connection.execute(select(logger.c.name).where(logger.c.id > 0).order_by(logger.c.name)).scalars()
        names = list(loggers)
    first: dict[str, Any] | None = None
    if told is not None:
        said = [COUNT_HERE if s.key == "count" else step_text(s) for s in told.steps]
        steps = [(words, warming_text(told) if s.key in ("warm", "cool") else [])
                 for s, words in zip(told.steps, said, strict=True)]  # fmt: skip
        first = {"verdict": verdict_text(told), "journey": journey_line(told.journey), "steps": steps}
        # under way what was computed is the whole of the promised way
        first["ahead"] = told.journey.known_by == "computed" and not one.values["arrived"]
        first |= {"caution": CAUTION, "rescue": _rescue_command(told)}
    values: dict[str, Any] = {"faults": [], "entry": {}, "form": ""} | more
    kept = one.to_dict()["predicted"]
    chances = [(what, risk_text(kept, what)) for what in ("garden", "colony")] if kept else []
    return page(
        request, "parcel.html", status, one=one, first=first, loggers=names, species=species_names(),
        health=tuple(HEALTH), now=_now(request), predicted=kept, moved=other_dispatch(one), chances=chances, **values,
    )  # fmt: skip


def _first(connection: Connection, workshop: Workshop, one: KeptParcel, species: str) -> Any:
    """What to do first with it; None where its species is not known."""
    from nestwright.data import load_species, species_names
    from nestwright.parcel.receiving import receive
    from nestwright.workshop.parcel_logs import found_in
    from nestwright.workshop.parcel_predictions import journey_as_it_went, species_of

    name = species_of(connection, one, workshop.folder) or species
    if name not in species_names():
        return None
    card = load_species(name)
    return receive(card, journey_as_it_went(connection, one, workshop.folder, workshop.zone, card), found_in(one))


def _rescue_command(told: Any) -> str:
    if told.garden != "lost" or told.found.workers is None:
        return ""
    return f'nestwright rescue "{told.species}" --workers {told.found.workers:.0f}'


def _changing(
    request: Request, number: int, form: str, entry: dict[str, str], write: Callable[[Act, KeptParcel], Any], words: str
) -> Response:
    """One act on a parcel out of a form of its page; the page again, with its faults, where it cannot be."""
    workshop = workshop_at(request)
    try:
        with writing(workshop.engine) as connection:
            one = find_parcel(connection, workshop.zone, str(number))
            done = act(connection, words.format(one.name))
            write(done, one)
    except InputError as error:
        return _parcel(request, number, 422, faults=faults_of(error), form=form, entry=entry)
    return recorded(f"/parcels/{step(str(number))}", done.step)


@router.post("/{number}/scan")
def scan(
    request: Request,
    number: int,
    at: Annotated[str, Form()] = "",
    place: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record that it was seen on its way."""
    entry = {"at": at, "place": place, "note": note}
    zone = workshop_at(request).zone
    return _changing(
        request, number, "scan", entry, lambda done, one: add_scan(done, one, scan_values(entry, zone, _plain)),
        "scan of parcel {}",
    )  # fmt: skip


@router.post("/{number}/arrived")
def arrived(
    request: Request,
    number: int,
    at: Annotated[str, Form(alias="arrived")] = "",
    garden: Annotated[str, Form()] = "",
    health: Annotated[list[str] | None, Form()] = None,
    workers: Annotated[str, Form()] = "",
    dead: Annotated[str, Form()] = "",
    state: Annotated[str, Form()] = "",
    inside: Annotated[str, Form(alias="logger")] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record that it has arrived, and what was found in it."""
    from nestwright.workshop.readings import find_logger

    entry = {"arrived": at, "garden": typed(request, garden), "health": " ".join(health or ())}
    entry |= {
        "workers": typed(request, workers),
        "dead": typed(request, dead),
        "state": state,
        "logger": inside,
        "note": note,
    }
    zone = workshop_at(request).zone

    def write(done: Act, one: KeptParcel) -> None:
        values = arrival_values(entry, zone, _plain)
        if inside:
            values["logger_id"] = find_logger(done.connection, inside)
        complete_parcel(done, one, values)

    return _changing(request, number, "arrived", entry, write, "arrival of parcel {}")
