"""Alarms: all that are open, those that have ended, and what a person says to one: seen, or later."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.web.render import page, workshop_at
from nestwright.web.watch import newest_step
from nestwright.workshop.alarms import acknowledge, kept_alarms, snooze
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading, writing

router = APIRouter(prefix="/alarms")
MOST = 300
"""Alarms that have ended which are shown."""
SPANS = {"hour": timedelta(hours=1), "week": timedelta(days=7)}
MORNING = time(7)
"""When a new day of work begins, for what is put off until tomorrow: common practice, no source."""


@router.get("")
def alarms(request: Request) -> Response:
    """Open alarms, the oldest first, and past ones, the newest first."""
    with reading(workshop_at(request).engine) as connection:
        newest = newest_step(connection)
    # what was just recorded may have ended one
    request.app.state.watch.seen(newest)
    with reading(workshop_at(request).engine) as connection:
        found = kept_alarms(connection, ended=True, most=MOST)
    open_now = [one for one in found if one.ended is None]
    past = [one for one in found if one.ended is not None]
    return page(request, "alarms.html", open_now=open_now, past=past, most=MOST, at=now())


@router.post("/ack")
def seen(request: Request, alarm: Annotated[list[int], Form()], back: Annotated[str, Form()] = "/") -> Response:
    """Say that alarms were seen: they are told again only if they get worse."""
    with writing(workshop_at(request).engine) as connection:
        for row in _open(connection, alarm):
            acknowledge(connection, row, now())
    return _back(back)


@router.post("/snooze")
def later(
    request: Request,
    alarm: Annotated[list[int], Form()],
    span: Annotated[str, Form()],
    back: Annotated[str, Form()] = "/",
) -> Response:
    """Put alarms off: for an hour, until tomorrow morning, for a week."""
    at = now()
    zone = workshop_at(request).zone
    if span in SPANS:
        until = at + round(1000 * SPANS[span].total_seconds())
    elif span == "tomorrow":
        day = datetime.fromtimestamp(at / 1000, zone).date() + timedelta(days=1)
        until = round(1000 * datetime.combine(day, MORNING, zone).timestamp())
    else:
        raise InputError("is no span", field="span", found=repr(span[:40]), allowed="hour, tomorrow, week")
    with writing(workshop_at(request).engine) as connection:
        for row in _open(connection, alarm):
            snooze(connection, row, until, at)
    return _back(back)


def _open(connection: object, rows: list[int]) -> list[int]:
    """Those that are still open: one that ended while the page stood there needs no answer any more."""
    open_now = {one.id for one in kept_alarms(connection)}  # type: ignore[arg-type]
    return [row for row in dict.fromkeys(rows) if row in open_now]


def _back(told: str) -> Response:
    return RedirectResponse(told if told in ("/", "/alarms") else "/", 303)
