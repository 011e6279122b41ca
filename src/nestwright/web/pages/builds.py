"""Builds: all at a glance, and one with what was measured and checked on it, its water, and who lives there."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from sqlalchemy import Connection
from starlette.responses import Response

from nestwright.errors import FileError, InputError
from nestwright.web.named import Named, step
from nestwright.web.pages.today import reading_row
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.workshop.builds import Made, add_build, check_build, find_build, kept_builds, measure_build
from nestwright.workshop.changes import Act, act, now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.designs import design_names, no_design
from nestwright.workshop.kept_designs import keep_design
from nestwright.workshop.last_readings import last_readings
from nestwright.workshop.measured_key import check_measured
from nestwright.workshop.other_species import stranger_in
from nestwright.workshop.refills import FILLED, LASTS, parse_days, told_filled, told_lasts, water_of

router = APIRouter(prefix="/builds")
ROLL = "single-60x30"
"""The label paper that is taken where none is told."""
OUTCOMES = {"passed": True, "failed": False, "": None}


def address_of(serial: str) -> str:
    """Address of a build's page."""
    return f"/builds/{step(serial)}"


@router.get("")
def builds(request: Request) -> Response:
    """All builds by serial, and the form for a new one."""
    return _builds(request)


def _builds(request: Request, status: int = 200, **more: Any) -> Response:
    from nestwright.wording.builds import checks_state

    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        rows = [(one, checks_state(one)) for one in kept_builds(connection)]
    values: dict[str, Any] = {"faults": [], "entry": {}} | more
    return page(request, "builds.html", status, rows=rows, designs=design_names(workshop.folder), **values)


@router.post("")
def add(
    request: Request,
    serial: Annotated[str, Form()] = "",
    habitat: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    stands: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record a habitat that was made."""
    from nestwright.habitat.file import read_habitat
    from nestwright.workshop.typed import LONGEST_NAME, day_of, line_of_text, lines_of_text

    workshop = workshop_at(request)
    entry = {"serial": serial, "habitat": habitat, "day": day, "stands": stands, "note": note}
    try:
        if habitat not in design_names(workshop.folder):
            raise no_design(habitat, workshop.folder, "habitat")
        name = Path("habitats") / f"{habitat}.toml"
        values = {
            "serial": line_of_text(serial, "serial", most=LONGEST_NAME),
            "habitat": str(name),
            "revision": read_habitat(workshop.folder / name).revision,
            "made": day_of(day.strip() or None, workshop, "day").isoformat(),
            "stands": line_of_text(stands, "stands", needed=False),
            "note": lines_of_text(note, "note"),
        }
        with writing(workshop.engine) as connection:
            done = act(connection, f"build {values['serial']}")
            add_build(done, values)
            keep_design(workshop, str(name))
    except (InputError, FileError) as error:
        return _builds(request, 422, faults=faults_of(error), entry=entry)
    return recorded(address_of(values["serial"]), done.step)


@router.get("/{serial}")
def build(request: Request, serial: Named) -> Response:
    """One build."""
    return _build(request, serial)


def _build(request: Request, serial: str, status: int = 200, **more: Any) -> Response:
    from nestwright.papers.labels import sheets
    from nestwright.web.habitat_files import room_names
    from nestwright.workshop.photos import find_photos

    workshop, show, at = workshop_at(request), shown_for(request), now()
    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
        last = last_readings(connection, workshop.folder, at, serial=made.serial)
        readings = [reading_row(one, show, at) for one in last]
        stranger = stranger_in(connection, workshop, made)
        photos = find_photos(connection, build_id=made.id)
    values: dict[str, Any] = {"faults": [], "entry": {}, "form": ""} | more
    values["stranger"] = stranger
    return page(
        request, "build.html", status, made=made, address=address_of(made.serial), water=water_of(made),
        design=Path(str(made.values["habitat"])).stem, sheets=sheets().values(), roll=ROLL, rooms=room_names(workshop),
        readings=readings, photos=photos,
        measured=[one for one in made.measured if one["what"] not in (LASTS, FILLED)],
        filled=[one for one in reversed(made.measured) if one["what"] == FILLED][:6],
        checks=[one for one in made.checks if one["what"] != "dry run"],
        dry_runs=[one for one in reversed(made.quality) if one["what"] == "dry run"], **values,
    )  # fmt: skip


def _changing(
    request: Request, serial: str, form: str, entry: dict[str, str], write: Callable[[Act, Made], Any], words: str
) -> Response:
    """One act on a build out of a form of its page; the page again, with its faults, where it cannot be."""
    workshop = workshop_at(request)
    try:
        with writing(workshop.engine) as connection:
            made = _found(connection, serial)
            done = act(connection, words.format(made.serial))
            write(done, made)
    except InputError as error:
        return _build(request, serial, 422, faults=faults_of(error), form=form, entry=entry)
    return recorded("/" if entry.get("back") == "/" else address_of(serial), done.step)


def _found(connection: Connection, serial: str) -> Made:
    return find_build(connection, serial)


@router.post("/{serial}/measure")
def measure(
    request: Request,
    serial: Named,
    what: Annotated[str, Form()] = "",
    value: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record a value that was measured."""
    from nestwright.workshop.typed import day_of, line_of_text, lines_of_text

    def write(done: Act, made: Made) -> None:
        on = day_of(day.strip() or None, workshop_at(request), "day").isoformat()
        told = line_of_text(what, "what"), line_of_text(value, "value")
        check_measured(told[0], workshop_at(request).folder / made.values["habitat"])
        measure_build(done, made.id, *told, on, lines_of_text(note, "note"))

    value = typed(request, value)
    entry = {"what": what, "value": value, "day": day, "note": note}
    return _changing(request, serial, "measure", entry, write, "measured value of build {}")


@router.post("/{serial}/check")
def check(
    request: Request,
    serial: Named,
    what: Annotated[str, Form()] = "",
    outcome: Annotated[str, Form()] = "",
    value: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
) -> Response:
    """Record a point of the quality check: passed, failed, or still to do."""
    from nestwright.workshop.typed import day_of, line_of_text, lines_of_text

    def write(done: Act, made: Made) -> None:
        if outcome not in OUTCOMES:
            raise InputError("is no outcome", field="outcome", found=repr(outcome[:40]), allowed="passed, failed, none")
        on = day_of(day.strip() or None, workshop_at(request), "day").isoformat()
        told, figure = line_of_text(what, "what"), line_of_text(value, "value", needed=False)
        check_build(done, made.id, told, OUTCOMES[outcome], figure, on, lines_of_text(note, "note"))

    entry = {"what": what, "outcome": outcome, "value": value, "day": day, "note": note}
    return _changing(request, serial, "check", entry, write, "check of build {}")


@router.post("/{serial}/filled")
def filled(
    request: Request,
    serial: Named,
    amount: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    back: Annotated[str, Form()] = "",
) -> Response:
    """Record that the water was filled."""
    from nestwright.workshop.typed import day_of, line_of_text

    def write(done: Act, made: Made) -> None:
        on = day_of(day.strip() or None, workshop_at(request), "day")
        told_filled(done, made, on, line_of_text(amount, "amount", needed=False))

    amount = typed(request, amount)
    entry = {"amount": amount, "day": day, "back": back}
    return _changing(request, serial, "filled", entry, write, "water of build {}")


@router.post("/{serial}/lasts")
def lasts(request: Request, serial: Named, days: Annotated[str, Form()] = "") -> Response:
    """Record how long the water lasts."""
    from nestwright.workshop.typed import day_of

    days = typed(request, days)

    def write(done: Act, made: Made) -> None:
        told_lasts(done, made, parse_days(days, "days"), day_of(None, workshop_at(request)))

    return _changing(request, serial, "lasts", {"days": days}, write, "water of build {}")
