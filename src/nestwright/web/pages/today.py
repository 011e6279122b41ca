"""Today: what to do now and why, which alarms are open, and every colony and build at a glance."""

from __future__ import annotations

from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.web.colony_work import address_of
from nestwright.web.jobs import Job
from nestwright.web.named import step
from nestwright.web.render import page, workshop_at
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.todo import Today

router = APIRouter()
SPANS = {"hour": 3_600_000, "day": 86_400_000, "week": 7 * 86_400_000}
"""ms for which an alarm may be put off."""


@router.get("/")
def today(request: Request) -> Response:
    """The day's work. What needs a forecast is told when that is done: a fit takes seconds, this page must not."""
    workshop = workshop_at(request)
    job = _forecasts(request, workshop)
    made: Today = job.result if job.state == "done" else _look(workshop, forecasts=False)
    with reading(workshop.engine) as connection:
        from nestwright.workshop.alarms import kept_alarms

        alarms = kept_alarms(connection)
    tasks = [{"task": one, "to": _address(one.finding)} for one in made.tasks]
    return page(request, "today.html", made=made, tasks=tasks, alarms=alarms, job=job, now=now(), titles=_titles())


def _titles() -> dict[str, str]:
    from nestwright.cli.today import TITLES

    return TITLES


def _address(finding: Any) -> str:
    """Where the work of a finding is done."""
    if finding.colony is not None:
        return address_of(finding.subject)
    return f"/search?q={step(finding.subject)}"


def _forecasts(request: Request, workshop: Workshop) -> Job:
    """The look with forecasts, made once for a record and a quarter of an hour."""
    from nestwright.workshop.changes import steps

    with reading(workshop.engine) as connection:
        last = steps(connection, 1)
    quarter = datetime.now(workshop.zone).strftime("%Y-%m-%d %H:") + str(datetime.now().minute // 15)
    key = f"today/{last[0].step if last else 0}/{quarter}"
    job: Job = request.app.state.jobs.start(
        key, "Forecasts of all colonies", "/", lambda job: _look(workshop, forecasts=True, job=job)
    )
    return job


def _look(workshop: Workshop, *, forecasts: bool, job: Job | None = None) -> Today:
    from nestwright.cli.looking import garden_climate_of
    from nestwright.workshop.alarms import open_keys
    from nestwright.workshop.look import look
    from nestwright.workshop.todo import today_of

    found = look(
        workshop,
        now(),
        forecasts=forecasts,
        progress=None if job is None else lambda _, share: job.report(float(share) * 0.99),
        prepare=lambda link, kept: garden_climate_of(link, workshop, kept),
    )
    with reading(workshop.engine) as connection:
        return today_of(found, open_keys(connection), forecasts=forecasts)


@router.post("/alarms/{number}/seen")
def seen(request: Request, number: int) -> Response:
    """Say that an alarm was seen: it is told again only if it gets worse."""
    from nestwright.workshop.alarms import acknowledge

    with writing(workshop_at(request).engine) as connection:
        acknowledge(connection, number, now())
    return RedirectResponse("/#alarms", 303)


@router.post("/alarms/{number}/later")
def later(request: Request, number: int, span: Annotated[str, Form()] = "day") -> Response:
    """Put an alarm off."""
    from nestwright.workshop.alarms import snooze

    if span not in SPANS:
        raise HTTPException(422, "an hour, a day or a week")
    at = now()
    with writing(workshop_at(request).engine) as connection:
        snooze(connection, number, at + SPANS[span], at)
    return RedirectResponse("/#alarms", 303)
