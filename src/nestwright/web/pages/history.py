"""History: what was recorded, the newest first, and taking it back."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import parse_qsl, urlencode, urlsplit

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.web.faults import wants_json
from nestwright.web.named import Row
from nestwright.web.render import faults_of, page, recorded, workshop_at
from nestwright.workshop.changes import last_step, steps, undo, undone_by
from nestwright.workshop.database import reading, writing
from nestwright.workshop.told_steps import visits_told

router = APIRouter(prefix="/history")
MOST = 200


@router.get("")
def history(request: Request, most: Annotated[int, Query(ge=1, le=5000)] = MOST) -> Response:
    """The last acts, `most` of them."""
    return _history(request, most)


def _history(request: Request, most: int = MOST, refused: InputError | None = None) -> Response:
    from nestwright.wording.visits import visit_line

    with reading(workshop_at(request).engine) as connection:
        found = steps(connection, most)
        told = {step: visit_line(entry) for step, entry in visits_told(connection, found).items()}
    faults = [] if refused is None else faults_of(refused)
    return page(request, "history.html", 422 if faults else 200, steps=found, told=told, most=most, faults=faults)


def _refused(request: Request, error: InputError) -> Response:
    if wants_json(request):
        raise error
    return _history(request, refused=error)


@router.post("/{step}/undo")
def take_back(request: Request, step: Row) -> Response:
    """Take back one act. Where another window took it back before, the page that asked says so."""
    try:
        with writing(workshop_at(request).engine) as connection:
            if undone_by(connection, step) is not None:
                return recorded(_came_from(request), step)
            undo(connection, step)
            last = steps(connection, 1)
    except InputError as error:
        return _refused(request, error)
    return recorded("/history", last[0].step if last else None)


def _came_from(request: Request) -> str:
    """The page of this server that a form was sent from, without the step that it told of."""
    told = urlsplit(request.headers.get("referer", ""))
    if told.netloc != request.headers.get("host") or not told.path.startswith("/") or told.path.startswith("//"):
        return "/history"
    asked = urlencode([one for one in parse_qsl(told.query) if one[0] != "done"])
    return told.path + (f"?{asked}" if asked else "")


@router.post("/undo")
def take_back_last(request: Request) -> Response:
    """Take back the newest act."""
    try:
        with writing(workshop_at(request).engine) as connection:
            last = last_step(connection)
            if last is not None:
                undo(connection, last.step)
            newest = steps(connection, 1)
    except InputError as error:
        return _refused(request, error)
    return recorded("/history", newest[0].step if newest and last else None)
