"""Sensors: all loggers at a glance, and one with its channels, where it stood, and how far it is trusted."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from sqlalchemy import Connection, select
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.web.named import Named, step
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.web.sensor_rows import channel_row, logger_rows, place_words
from nestwright.workshop.builds import kept_builds
from nestwright.workshop.changes import Act, act, now
from nestwright.workshop.colonies import kept_colonies
from nestwright.workshop.database import reading, writing
from nestwright.workshop.live_refused import kept_refused
from nestwright.workshop.placements import BELL, ROOM, chamber_roles, check_chamber, place_logger, placements, stay_at
from nestwright.workshop.readings import channels_of, find_channel, find_logger, span_of
from nestwright.workshop.tables import channel as channels
from nestwright.workshop.tables import logger as loggers

router = APIRouter(prefix="/sensors")


def address_of(logger: str) -> str:
    """Address of a logger's page."""
    return f"/sensors/{step(logger)}"


@router.get("")
def sensors(request: Request) -> Response:
    """All loggers: what each told last, its last day, and how far it is trusted."""
    workshop, at = workshop_at(request), now()
    with reading(workshop.engine) as connection:
        rows = logger_rows(connection, workshop, shown_for(request), at)
        refused = kept_refused(connection)
    return page(request, "sensors.html", rows=rows, at=at, refused=refused)


@router.get("/{logger}")
def sensor(request: Request, logger: Named) -> Response:
    """One logger."""
    return _sensor(request, logger)


def _sensor(request: Request, name: str, status: int = 200, **more: Any) -> Response:
    from nestwright.sensing.loggers import to_toml
    from nestwright.workshop.imports import kept_mapping

    workshop, show, at = workshop_at(request), shown_for(request), now()
    with reading(workshop.engine) as connection:
        row = find_logger(connection, name)
        rows = []
        for one in channels_of(connection, name):
            first, _, count = span_of(connection, one.id)
            rows.append(channel_row(connection, one, workshop, show, at) | {"first": first, "count": count})
        stood = placements(connection, row)
        note = connection.execute(select(loggers.c.note).where(loggers.c.id == row)).scalar() or ""
        places = _places(connection, request)
        try:
            mapping = kept_mapping(connection, name)
            told = None if mapping is None else to_toml(mapping)
        except InputError as problem:
            told = str(problem)
    home = next((one for one in stood if one.since <= at and (one.until is None or at < one.until)), None)
    known = {value: chambers for value, _, chambers in places}
    at_home = "" if home is None else f"build:{home.build}" if home.build else f"colony:{home.colony}"
    values: dict[str, Any] = {"faults": [], "entry": {}, "form": "", "home": place_words(home)} | more
    # a chamber of a design that is not known may be any word
    values["unknown"] = home is not None and bool(home.chamber) and not known.get(at_home)
    return page(
        request, "sensor.html", status, logger=name, address=address_of(name), rows=rows, note=note, mapping=told,
        stood=[(one, place_words(one)) for one in reversed(stood)], places=places, at=at, **values,
    )  # fmt: skip


def _places(connection: Connection, request: Request) -> list[tuple[str, str, list[str]]]:
    """Where a logger may stand: builds and colonies with their chambers, as (value, words, chambers)."""
    workshop = workshop_at(request)
    today = shown_for(request).today.isoformat()
    builds = kept_builds(connection)
    # many builds are of one design, and its file is read once
    design = {built.id: str(built.values["habitat"]) for built in builds}
    chambers: dict[str, list[str]] = {}
    for built in builds:
        if design[built.id] not in chambers:
            chambers[design[built.id]] = [*chamber_roles(connection, workshop.folder, built.id)]
    made = [(f"build:{built.serial}", built.serial, chambers[design[built.id]]) for built in builds]
    for kept in kept_colonies(connection):
        home = stay_at(connection, kept.id, today)
        made.append((f"colony:{kept.name}", kept.name, [] if home is None else chambers[design[home]]))
    return made


def _changing(
    request: Request, logger: str, form: str, entry: dict[str, str], write: Callable[[Act, int], Any], words: str
) -> Response:
    """One act on a logger out of a form of its page; the page again, with its faults, where it cannot be."""
    try:
        with writing(workshop_at(request).engine) as connection:
            row = find_logger(connection, logger)
            done = act(connection, words)
            write(done, row)
    except InputError as error:
        return _sensor(request, logger, 422, faults=faults_of(error), form=form, entry=entry)
    return recorded(address_of(logger), done.step)


@router.post("/{logger}/place")
def place(
    request: Request,
    logger: Named,
    stands: Annotated[str, Form()] = "",
    chamber: Annotated[str, Form()] = "",
    bell: Annotated[str, Form()] = "",
    since: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record where a logger stands from a moment on."""
    from nestwright.workshop.builds import find_build
    from nestwright.workshop.colonies import find_colony
    from nestwright.workshop.moments import moment_of
    from nestwright.workshop.typed import line_of_text, lines_of_text, moment

    workshop = workshop_at(request)

    def write(done: Act, row: int) -> None:
        at = moment_of(since, workshop.zone, "since") if since.strip() else now()
        kind, _, name = stands.partition(":")
        if kind not in ("build", "colony"):
            raise InputError("is no place", field="stands", found=repr(stands[:60]), allowed="a build or a colony")
        build = find_build(done.connection, name) if kind == "build" else None
        colony = find_colony(done.connection, name) if kind == "colony" else None
        home = build.id if build else stay_at(done.connection, colony.id, moment(at, workshop)[:10]) if colony else None
        roles = {} if home is None else chamber_roles(done.connection, workshop.folder, home)
        told = line_of_text(chamber or ROOM, "chamber")
        if bell and told.casefold() != ROOM:
            told = told.removesuffix(BELL) + BELL
        told = check_chamber(told, roles)
        at_build, at_colony = build.id if build else None, colony.id if colony else None
        place_logger(done, row, at_build, at_colony, told, at, lines_of_text(note, "note"))

    entry = {"stands": stands, "chamber": chamber, "bell": bell, "since": since, "note": note}
    return _changing(request, logger, "place", entry, write, f"place of logger {logger}")


@router.post("/{logger}/want")
def want(
    request: Request, logger: Named, channel: Annotated[str, Form()] = "", error: Annotated[str, Form()] = ""
) -> Response:
    """Record how sure a channel's sensor must be; from that follows when its calibration is due."""
    from nestwright.workshop.wanted_error import parse_wanted

    def write(done: Act, _: int) -> None:
        one = find_channel(done.connection, f"{logger}.{channel}")
        done.change(channels, one.id, {"wanted_error": parse_wanted(error, one, "error")})

    error = typed(request, error)
    entry = {"channel": channel, "error": error}
    return _changing(request, logger, "want", entry, write, f"wanted uncertainty of {logger}.{channel[:200]}")
