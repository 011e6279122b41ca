"""History: what was recorded, the newest first, and taking it back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import Response

from nestwright.web.named import Row
from nestwright.web.render import page, recorded, workshop_at
from nestwright.workshop.changes import last_step, steps, undo
from nestwright.workshop.database import reading, writing
from nestwright.workshop.told_steps import visits_told

router = APIRouter(prefix="/history")
MOST = 200


@router.get("")
def history(request: Request, most: Annotated[int, Query(ge=1, le=5000)] = MOST) -> Response:
    """The last acts, `most` of them."""
    from nestwright.wording.visits import visit_line

    with reading(workshop_at(request).engine) as connection:
        found = steps(connection, most)
        told = {step: visit_line(entry) for step, entry in visits_told(connection, found).items()}
    return page(request, "history.html", steps=found, told=told, most=most)


@router.post("/{step}/undo")
def take_back(request: Request, step: Row) -> Response:
    """Take back one act."""
    with writing(workshop_at(request).engine) as connection:
        undo(connection, step)
        last = steps(connection, 1)
    return recorded("/history", last[0].step if last else None)


@router.post("/undo")
def take_back_last(request: Request) -> Response:
    """Take back the newest act."""
    with writing(workshop_at(request).engine) as connection:
        last = last_step(connection)
        if last is not None:
            undo(connection, last.step)
        newest = steps(connection, 1)
    return recorded("/history", newest[0].step if newest and last else None)
