"""Sizing: what is free in a habitat is searched for, shown with its margins, and put into the text when wanted."""

from __future__ import annotations

from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.document import load_document
from nestwright.errors import InputError
from nestwright.web.design_words import slide_name, slide_words
from nestwright.web.habitat_files import air_of, file_of, room_of
from nestwright.web.habitat_sizing import Sizing, asked, find_sizes
from nestwright.web.habitat_text import slides_of
from nestwright.web.jobs import Job
from nestwright.web.live_design import Opener
from nestwright.web.named import Named
from nestwright.web.pages.habitats import ROOM, shown_design
from nestwright.web.preferences import typed
from nestwright.web.render import faults_of, job_at, page, shown_for, workshop_at

router = APIRouter(prefix="/habitats")
Table = tuple[list[str], list[list[str]]]
WINDOW, HERE = "window", "here"
"""Where to hold: in a window of room air, in the room that the designer shows, or else a room file by its name."""


@router.post("/{stem}/size")
def begin(
    request: Request,
    stem: Named,
    text: Annotated[str, Form()],
    base: Annotated[str, Form()] = "",
    key: Annotated[list[str] | None, Form()] = None,
    low: Annotated[list[str] | None, Form()] = None,
    high: Annotated[list[str] | None, Form()] = None,
    free: Annotated[list[str] | None, Form()] = None,
    where: Annotated[str, Form()] = WINDOW,
    window: Annotated[str, Form()] = "",
    room_t: Annotated[str, Form()] = "",
    room_h: Annotated[str, Form()] = "",
) -> Response:
    """Begin a search with the text as it stands in the designer; nothing is saved."""
    workshop = workshop_at(request)
    file_of(workshop, stem)
    text = text.replace("\r\n", "\n")
    bounds = {
        k: (typed(request, a), typed(request, b)) for k, a, b in zip(key or [], low or [], high or [], strict=False)
    }
    here = f"{room_t} degC, {room_h} %" if room_t and room_h else ROOM
    try:
        told = "" if where == WINDOW else here if where == HERE else where
        room = room_of(workshop, told) if told else ""
        what = asked(stem, text, base, free or [], bounds, room, window)
    except InputError as error:
        sizing = {"free": free or [], "bounds": bounds, "where": where, "window": window}
        return shown_design(request, stem, text, base, 422, faults=faults_of(error), sizing=sizing, air=_air(here))
    job: Job = request.app.state.jobs.start(what.key, "Sizing", "", lambda job: find_sizes(what, job))
    job.back = f"/habitats/{quote(stem, safe='')}/size/{job.id}"
    return RedirectResponse(job.back, 303)


@router.get("/{stem}/size/{job}")
def look(request: Request, stem: Named, job: str) -> Response:
    """How far a search is, and what it found."""
    from nestwright.data import limit_tolerances
    from nestwright.wording.cautions import CAUTIONS
    from nestwright.wording.sizes import free_rows, side_rows, size_verdict, trade_rows

    going = job_at(request, job, "size:")
    values: dict[str, Any] = {"stem": stem, "address": f"/habitats/{quote(stem, safe='')}", "job": going}
    made: Sizing | None = going.result
    if made is None or made.found is None:
        faults = faults_of(made.error) if made and made.error else []
        return page(request, "sizing.html", found=None, faults=faults, **values)
    found = made.found
    named = slide_words(shown_for(request))
    called = {one.key: slide_name(named, one) for one in slides_of(load_document(made.asked.text))}
    heated = any(one.key.startswith("heater.") for one in found.free)
    return page(
        request,
        "sizing.html",
        found=found,
        verdict=size_verdict(found),
        tolerances=limit_tolerances(),
        free=_called(free_rows(found), called),
        sides=side_rows(found),
        trade=None if found.trade_off is None else _called(trade_rows(found.trade_off), called),
        cautions=[CAUTIONS["heater"]] * heated + [CAUTIONS["law"]],
        **values,
    )


def _called(table: Table, called: dict[str, str]) -> Table:
    """A table with sizes named as in the designer, in the place of their keys."""
    head, rows = table
    return [called.get(one, one) for one in head], [[called.get(row[0], row[0]), *row[1:]] for row in rows]


@router.post("/{stem}/size/{job}")
def use(request: Request, stem: Named, job: str, put: Annotated[str, Form()] = "") -> Response:
    """Back in the designer: with the values found in the text (`put`), or with the text as it was. Not saved."""
    made: Sizing | None = job_at(request, job, "size:").result
    if made is None or made.asked.stem != stem:
        raise HTTPException(404)
    what = made.asked
    if not put or made.found is None:
        return shown_design(request, stem, what.text, what.base, unsaved=True, air=_air(what.room))
    values = {one.key: one.best for one in made.found.free}
    text = Opener().changed(what.text, values).text
    return shown_design(request, stem, text, what.base, unsaved=True, put=list(values.items()), air=_air(what.room))


def _air(room: str) -> tuple[float, float] | None:
    """The designer's room where a search was in one; None where it was in a window, or in a room of a file."""
    try:
        return air_of(room)
    except InputError:
        return None
