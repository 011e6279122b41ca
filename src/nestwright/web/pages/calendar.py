"""What comes as a calendar file, of the last look that the page took."""

from __future__ import annotations

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import Response

from nestwright.web.render import workshop_at
from nestwright.web.watch import Sight, newest_step
from nestwright.workshop.alarms import open_keys
from nestwright.workshop.calendar import edition_of, ics_of
from nestwright.workshop.coming import coming_of
from nestwright.workshop.database import reading
from nestwright.workshop.todo import today_of

router = APIRouter()


@router.get("/calendar.ics")
def calendar(request: Request) -> Response:
    """The file of `nestwright calendar`, to download or subscribe to; 503 before the first look."""
    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        sight: Sight | None = request.app.state.watch.seen(newest_step(connection))
        if sight is None:
            raise HTTPException(503)
        alarms, edition = open_keys(connection), edition_of(connection, sight.look.today)
    coming = coming_of(sight.look, today_of(sight.look, alarms))
    headers = {"content-disposition": 'attachment; filename="tasks.ics"'}
    return Response(ics_of(coming, edition, workshop.zone), media_type="text/calendar; charset=utf-8", headers=headers)
