"""What is to come of a colony: forecast, plan and diagnosis, made once for a record and shown with their pictures."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any, Literal

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.web.colony_work import address_of, begin, result_of
from nestwright.web.jobs import Job
from nestwright.web.named import Named
from nestwright.web.render import PHONE, chart_response, page, shown_for, workshop_at
from nestwright.web.shown import Shown
from nestwright.web.told_units import in_units, table_in_units
from nestwright.workshop.colonies import Kept, find_colony
from nestwright.workshop.database import reading

router = APIRouter(prefix="/colonies")
Kind = Literal["forecast", "plan", "diagnosis"]
Form = Literal["svg", "json"]


def _kept(request: Request, name: str) -> Kept:
    with reading(workshop_at(request).engine) as connection:
        return find_colony(connection, name)


def _result(request: Request, kept: Kept, kind: str) -> Any:
    return result_of(request.app.state.jobs, workshop_at(request), kept, kind)


@router.get("/{name}/{kind}")
def outlook(request: Request, name: Named, kind: Kind) -> Response:
    """A forecast, plan or diagnosis; the work begins when nobody has done it for the record as it stands."""
    kept = _kept(request, name)
    jobs, workshop = request.app.state.jobs, workshop_at(request)
    job: Job = begin(jobs, workshop, kept, kind)
    values: dict[str, Any] = {"kept": kept, "address": address_of(kept.name), "kind": kind, "job": job}
    if job.state != "done":
        return page(request, "outlook_wait.html", **values)
    return page(request, f"{kind}.html", **values, **READ[kind](job.result, shown_for(request)))


@router.post("/{name}/{kind}")
def anew(request: Request, name: Named, kind: Kind) -> Response:
    """Begin again after the work failed or was stopped."""
    kept = _kept(request, name)
    begin(request.app.state.jobs, workshop_at(request), kept, kind, again=True)
    return RedirectResponse(f"{address_of(kept.name)}/{kind}", 303)


@router.get("/{name}/pictures/{picture}.{form}")
def picture(request: Request, name: Named, picture: str, form: Form, narrow: bool = False) -> Response:
    """A chart of finished work; `narrow` as wide as a phone."""
    if picture not in PICTURES:
        raise HTTPException(404)
    kind, draw = PICTURES[picture]
    done = _result(request, _kept(request, name), kind)
    if done is None:
        raise HTTPException(404)
    width, text = (PHONE, PHONE) if narrow else (720, 640)
    return chart_response(request, draw(done, width), form, text)


def _read_forecast(told: Any, show: Shown) -> dict[str, Any]:
    from nestwright.colony.fit import STRANGE
    from nestwright.wording.forecast import (
        FLOWS,
        SPACE,
        date_rows,
        growth_lines,
        later_days,
        leaves_line,
        past_line,
        table_rows,
        today_rows,
    )
    from nestwright.wording.last_reading import readings_apart
    from nestwright.wording.values import in_words

    result, today = told.forecast, show.today
    later = later_days(result, today)
    fill = result.bands.get("fill")
    strange = [note for note in result.notes if note.startswith(tuple(STRANGE.values()))]
    return {
        "told": told,
        "strange": strange,
        "notes": [note for note in result.notes if note not in strange],
        "losses": _told_here(told.losses),
        "over": fill is not None and float(fill.high[0]) > 1,
        "last": result.fit.start + timedelta(days=result.fit.days),
        "past": past_line(result, today),
        "rows": today_rows(result),
        "later": later,
        "today": today_rows(result, later) if 0 < later <= result.horizon else [],
        "apart": readings_apart(told, later),
        "growth": growth_lines(told),
        "tables": [table_in_units(*table_rows(result, kinds, later), show) for kinds in (SPACE, FLOWS)],
        "leaves": leaves_line(result),
        "dates": [[in_units(cell, show) for cell in row] for row in date_rows(result, today)],
        "judged": [in_words(name) for name in result.fit.judgements],
    }


def _read_plan(found: Any, show: Shown) -> dict[str, Any]:
    from nestwright.wording.plan import HANDLING, rows, since_line, step_lines
    from nestwright.wording.values import in_words

    today = show.today
    steps = [step_lines(found, number, one, today) for number, one in enumerate(found.steps, 1)]
    judged = [in_words(name) for name in (*found.judgements, *found.forecast.fit.judgements)]
    return {
        "found": found,
        "since": since_line(found, today),
        "steps": steps,
        "rows": [[in_units(str(cell), show) for cell in row] for row in rows(found, today)],
        "judged": judged,
        "handling": HANDLING,
    }


def _read_diagnosis(made: Any, show: Shown) -> dict[str, Any]:
    from nestwright.wording.diagnosis import FIRST, RESCUE_HERE, next_steps, since_text, size_text, weight_text
    from nestwright.wording.values import in_words

    found, losses, gone = made
    told = {"found": found, "losses": _told_here(losses), "gone": gone}
    if found is None:
        return told | {"rows": [], "next": [RESCUE_HERE if gone else FIRST], "judged": []}
    # what was told as gone comes before a weighing that takes no account of it
    causes = sorted(found.causes, key=lambda cause: gone and cause.name == "nothing")
    rows = [
        [cause.says, weight_text(cause.weight), since_text(cause, found.start), size_text(cause), cause.note]
        for cause in causes
        if cause.weight >= 0.01
    ]
    steps = [RESCUE_HERE] if gone else next_steps(found, show.today)
    judged = [in_words(name) for name in found.judgements]
    return told | {"rows": rows, "next": steps, "judged": judged}


def _told_here(losses: Iterable[str]) -> list[str]:
    """What the record tells as lost, without the command that a file is given to."""
    return [line.removesuffix(": see `nestwright rescue FILE`") for line in losses]


READ = {"forecast": _read_forecast, "plan": _read_plan, "diagnosis": _read_diagnosis}


def _growth(told: Any, width: int) -> Any:
    from nestwright.charts.growth import growth_chart

    return growth_chart(told.forecast, width)


def _leaves(told: Any, width: int) -> Any:
    from nestwright.charts.leaves import demand_chart

    return demand_chart(told.forecast, width)


def _brood(told: Any, width: int) -> Any:
    from nestwright.charts.brood import brood_chart

    return brood_chart(told.forecast, width)


def _dates(told: Any, width: int) -> Any:
    from nestwright.charts.dates import dates_chart

    return dates_chart(told.forecast, width)


def _bells(found: Any, width: int) -> Any:
    from nestwright.charts.bells import plan_chart

    return plan_chart(found, width)


def _evidence(made: Any, width: int) -> Any:
    from nestwright.charts.evidence import evidence_chart

    if made[0] is None:
        raise HTTPException(404)
    return evidence_chart(made[0], width)


PICTURES = {
    "growth": ("forecast", _growth),
    "leaves": ("forecast", _leaves),
    "brood": ("forecast", _brood),
    "dates": ("forecast", _dates),
    "bells": ("plan", _bells),
    "evidence": ("diagnosis", _evidence),
}
"""Name of a picture: the work that it is of, and how it is drawn."""
