"""From a page's values to its HTML, and from a chart to what the browser draws."""

from __future__ import annotations

import hashlib
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from fastapi import HTTPException
from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from nestwright.web.jobs import Job
from nestwright.web.named import step
from nestwright.web.preferences import preferences_of
from nestwright.web.refused import faults_of, field_named, refused_said
from nestwright.web.sentences import retold, said, said_all, said_each
from nestwright.web.shown import Shown
from nestwright.web.told_units import in_units
from nestwright.web.typeset import typeset, unbroken
from nestwright.web.words import words_of
from nestwright.workshop.folder import Workshop

__all__ = [
    "NAVIGATION",
    "PHONE",
    "VARY",
    "chart_response",
    "faults_of",
    "job_at",
    "page",
    "recorded",
    "shown_for",
    "workshop_at",
]

NAVIGATION = (
    ("/", "Today", "t"),
    ("/colonies", "Colonies", "c"),
    ("/habitats", "Habitats", "h"),
    ("/builds", "Builds", "b"),
    ("/sensors", "Sensors", "s"),
    ("/history", "History", "y"),
)
"""Address, name and key of each place."""
STATIC = Path(__file__).parent / "static"
WIDTH, PHONE = 640, 380
"""px of a picture, and of one that is drawn for a phone."""
VARY = {"vary": "cookie, accept-language"}
"""What is shown in the reader's language and units is kept for that reader only."""


@cache
def _environment(language: str) -> Environment:
    made = Environment(
        loader=PackageLoader("nestwright.web", "templates"),
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    made.install_gettext_translations(words_of(language), newstyle=True)  # type: ignore[attr-defined]
    made.globals["asset"] = _asset
    made.filters["field_named"] = field_named
    made.filters["measured"] = in_units
    made.filters["refused"] = refused_said
    made.filters["retold"] = retold
    made.filters["said"] = said
    made.filters["said_all"] = said_all
    made.filters["said_each"] = said_each
    made.filters["step"] = step
    made.filters["typeset"] = typeset
    return made


@cache
def _asset(name: str) -> str:
    """Address of a static file, with its sum, so that it may be kept for ever."""
    return f"/static/{name}?{hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:10]}"


def workshop_at(request: Request) -> Workshop:
    """The workshop of the application that is asked."""
    found: Workshop = request.app.state.workshop
    return found


def job_at(request: Request, job: str, of: str = "") -> Job:
    """The job of this number, of those whose key begins with `of`; 404 where there is none."""
    found: Job | None = request.app.state.jobs.find(job)
    if found is None or not found.key.startswith(of):
        raise HTTPException(404)
    return found


def shown_for(request: Request) -> Shown:
    """How values are shown to the reader of this request."""
    zone = workshop_at(request).zone
    return Shown(preferences_of(request), zone, datetime.now(zone).date())


def page(request: Request, template: str, status: int = 200, **values: Any) -> HTMLResponse:
    """A page from its template. Every template has `show` (Shown), `choice`, `_` for words, `here` (its path),
    `navigation`, `workshop_name`, `bench` (asked from this computer itself) and `done`, the step just recorded."""
    choice = preferences_of(request)
    done = request.query_params.get("done", "")
    html = (
        _environment(choice.language)
        .get_template(template)
        .render(
            show=shown_for(request),
            choice=choice,
            here=request.url.path,
            navigation=NAVIGATION,
            workshop_name=workshop_at(request).folder.resolve().name,
            bench=bool(getattr(request.state, "bench", False)),
            lan=bool(request.app.state.lan),
            done=_done(request, done),
            **values,
        )
    )
    return HTMLResponse(unbroken(html), status, headers=VARY)


def _done(request: Request, told: str) -> dict[str, Any] | None:
    """The act that was just recorded, in words, so that it can be taken back."""
    if not (told.isascii() and told.isdecimal() and len(told) < 12):
        return None
    from nestwright.workshop.changes import steps
    from nestwright.workshop.database import reading

    with reading(workshop_at(request).engine) as connection:
        found = steps(connection, 1, only=int(told))
    if not found:
        return None
    one = found[0]
    kind, _, of = one.act.partition(": ")
    act = of if kind in ("undo", "redo") else one.act
    return {"step": one.step, "act": act, "back": kind == "undo", "undone": one.undone_by is not None}


def recorded(where: str, step: int | None) -> RedirectResponse:
    """The answer to a form that was recorded: the page `where`, which says what was done and offers to take it back."""
    mark = "&" if "?" in where else "?"
    return RedirectResponse(where if step is None else f"{where}{mark}done={step}", 303)


def chart_response(request: Request, chart: Any, form: str, width: int = WIDTH) -> Response:
    """A chart in the reader's language as `json` (a Vega specification that the browser draws) or `svg`; `width` is
    what its lines of text may fill, px."""
    from nestwright.charts.render import to_svg, to_vega
    from nestwright.web.pictured import pictured_in

    chart = pictured_in(chart, shown_for(request), width)
    if form == "svg":
        return Response(to_svg(chart), media_type="image/svg+xml", headers=VARY)
    return JSONResponse(to_vega(chart), headers=VARY)
