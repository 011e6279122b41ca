"""Climate: a habitat or a build over a room's year, its window, and what was measured beside what was predicted."""

from __future__ import annotations

import tomllib
from pathlib import Path
from threading import Lock
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.web.climate_measured import Measured, builds_of, compared, measured_in, measured_of
from nestwright.web.climate_year import RESULTS, Asked, Year, asked, begin, found
from nestwright.web.habitat_files import file_of, room_names
from nestwright.web.named import Named
from nestwright.web.pictured import Declared, narrowed
from nestwright.web.render import PHONE, VARY, WIDTH, chart_response, faults_of, page, shown_for, workshop_at
from nestwright.workshop.builds import Made, find_build
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop
from nestwright.workshop.other_species import stranger_in

router = APIRouter(prefix="/climate")
DRAWING = Lock()
"""One picture is drawn at a time: a page asks for several at once, each in two forms."""
EXAMPLE = "21 degC, 45 %"


@router.get("/{stem}")
def climate(request: Request, stem: Named, room: str = "") -> Response:
    """A habitat's climate in a room; the work begins when nobody has done it for these files."""
    return _climate(request, stem, None, room)


@router.post("/{stem}")
def anew(request: Request, stem: Named, room: Annotated[str, Form()] = "") -> Response:
    """Begin again after the work failed or was stopped."""
    return _anew(request, stem, None, room)


@router.get("/build/{serial}")
def climate_of_build(request: Request, serial: Named, room: str | None = None) -> Response:
    """A build's climate: of its habitat, in the room that it stands in unless another is named."""
    made, stem = _build(workshop_at(request), serial)
    return _climate(request, stem, made, _stands(workshop_at(request), made) if room is None else room)


@router.post("/build/{serial}")
def anew_of_build(request: Request, serial: Named, room: Annotated[str, Form()] = "") -> Response:
    """Begin again after the work failed or was stopped."""
    made, stem = _build(workshop_at(request), serial)
    return _anew(request, stem, made, room)


def _build(workshop: Workshop, serial: str) -> tuple[Made, str]:
    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    return made, Path(str(made.values["habitat"])).stem


def _stranger(workshop: Workshop, made: Made | None) -> str:
    if made is None:
        return ""
    with reading(workshop.engine) as connection:
        return stranger_in(connection, workshop, made)


def _stands(workshop: Workshop, made: Made) -> str:
    """The room file of the place where a build stands, "" where that is not told as one."""
    name = Path(str(made.values["stands"] or "")).name
    return name if name in room_names(workshop) else ""


def _measured(workshop: Workshop, stem: str, made: Made | None) -> tuple[Measured | None, list[str]]:
    """What was measured in a build, or in the first of a habitat's builds that has readings; serials of the others."""
    if made is not None:
        return measured_in(workshop, made), []
    all_of = measured_of(workshop, builds_of(workshop, stem))
    return (all_of[0] if all_of else None), [one.made.serial for one in all_of[1:]]


def _asked(request: Request, stem: str, made: Made | None, room: str) -> tuple[Asked, Measured | None, list[str]]:
    workshop = workshop_at(request)
    measured, others = _measured(workshop, stem, made)
    told = asked(workshop, file_of(workshop, stem), room, made, measured)
    return told, measured, others


def _anew(request: Request, stem: str, made: Made | None, room: str) -> Response:
    told, _, _ = _asked(request, stem, made, room)
    begin(request.app.state.jobs, told, again=True)
    return RedirectResponse(told.address, 303)


def _climate(request: Request, stem: str, made: Made | None, room: str) -> Response:
    faults: list[dict[str, Any]] = []
    entry = room if room not in room_names(workshop_at(request)) else ""
    try:
        told, measured, others = _asked(request, stem, made, room)
    except InputError as error:
        if error.field != "room":
            raise
        faults = faults_of(error)
        told, measured, others = _asked(request, stem, made, "")
    parts = found(told)
    job = None if parts is not None else begin(request.app.state.jobs, told)
    values: dict[str, Any] = {
        "told": told,
        "made": made,
        "stranger": _stranger(workshop_at(request), made),
        "stem": stem,
        "address": told.address.partition("?")[0],
        "rooms": _rooms(workshop_at(request)),
        "example": EXAMPLE,
        "entry": entry,
        "faults": faults,
        "job": job,
        "others": others,
        "builds": [] if made else [one.serial for one in builds_of(workshop_at(request), stem)],
        "measured": measured,
    }
    values |= _read_year(request, told, parts) | _read_measured(request, told, measured, parts)
    return page(request, "climate.html", 422 if faults else 200, **values)


def _rooms(workshop: Workshop) -> list[tuple[str, str]]:
    """File and name of each room of the workshop."""
    made = []
    for file in room_names(workshop):
        try:
            text = (workshop.folder / "rooms" / file).read_text("utf-8-sig")
            name = tomllib.loads(text).get("name", "")
        except (OSError, ValueError):
            name = ""  # what is wrong with the file is told when it is chosen
        made.append((file, name if isinstance(name, str) and name else file.removesuffix(".toml")))
    return made


def _read_year(request: Request, told: Asked, parts: dict[str, Any] | None) -> dict[str, Any]:
    """The proof over the year as the page shows it."""
    from nestwright.web import climate_words as words
    from nestwright.web.design_words import water_lines
    from nestwright.wording.as_built import build_line, built_rows, built_verdict
    from nestwright.wording.cautions import CAUTIONS
    from nestwright.wording.figures import share_text

    year: Year | None = None if parts is None else parts.get("built") or parts.get("year")
    cautions = [CAUTIONS["heater"]] if told.habitat.heaters else []
    values: dict[str, Any] = {"year": year, "habitat": told.habitat, "cautions": [*cautions, CAUTIONS["law"]]}
    if year is None:
        return values
    show, proof = shown_for(request), year.proof.mean
    values_judged, bands = words.judged(show, proof)
    first = proof.first_limit
    limits = words.limit_rows(show, year.proof)
    walls, wet = words.wall_rows(show, proof)
    return values | {
        "key": told.keys.get("built") or told.keys["year"],
        "proof": proof,
        "run": year.proof,
        "hours": float(year.proof.time[-1]) / 3600,
        "first_name": words.limit_name(show, first.name) if first else "",
        "first_margin": words.margin_text(show, first) if first else "",
        "failed": sum(not one.held for one in proof.limits),
        "sure": all(one.sure for one in proof.limits),
        "limits": limits,
        "worst": limits[0] if limits else {"when": ""},
        "longest": words.longest_outside(show, year.proof),
        "weeks": words.week_rows(show, year.proof),
        "air": words.air_rows(show, proof),
        "walls": walls,
        "wet": wet,
        "water": water_lines(show, proof),
        "values_judged": values_judged,
        "bands": bands,
        "window": year.window,
        "inside": show.figures(share_text(100 * (year.window.share_inside or 0.0))),
        "ends": [(side, words.limit_name(show, name or "")) for side, name in year.window.ends.items()],
        "build_line": build_line(year.built, proof.revision) if year.built else "",
        "as_built": built_verdict(year.built),
        "built_limits": built_rows(year.built) if year.built else [],
    }


def _read_measured(
    request: Request, told: Asked, measured: Measured | None, parts: dict[str, Any] | None
) -> dict[str, Any]:
    """What was measured, beside the run in the measured room, else in the chosen one, else alone."""
    from nestwright.web import climate_words as words

    if measured is None or measured.fault:
        return {"beside": [], "compared": None, "in_room": "", "how": "", "now": now()}
    run, intervals = None, {}
    if parts is not None and "intervals" in parts:
        run, intervals = parts.get("measured") or parts["year"].proof, parts["intervals"]
    made = compared(measured, run, intervals)
    # the page's pictures are of these figures
    RESULTS.put(made.key, (made, run))
    show = shown_for(request)
    return {
        "beside": [words.beside_row(show, one) for one in made.rows],
        "compared": made,
        "in_room": run.mean.room if run is not None else "",
        "how": words.how_text(show, made.how) if made.how and measured.room is None else "",
        "now": now(),
    }


@router.get("/results/{key}.{form}")
def document(key: str, form: Literal["json", "csv"]) -> Response:
    """A finished proof as `nestwright climate --year` gives it: its JSON, or its run as a table."""
    from nestwright.wording.figures import as_json

    year = RESULTS.get(key)
    if not isinstance(year, Year):
        raise HTTPException(404)
    if form == "json":
        return JSONResponse(as_json(year.to_dict()))
    from nestwright.climate.run_columns import columns

    if RESULTS.get(f"{key}.csv") is None:
        import polars

        RESULTS.put(f"{key}.csv", polars.DataFrame(columns(year.proof)).write_csv())
    return Response(
        RESULTS.get(f"{key}.csv"),
        media_type="text/csv",
        headers={"content-disposition": 'attachment; filename="run.csv"'},
    )


@router.get("/results/{key}/{picture}.{form}")
def picture(request: Request, key: str, picture: str, form: Literal["svg", "json"], narrow: bool = False) -> Response:
    """A chart of finished work; `narrow` as wide as a phone. It never changes: its address names all that it is of."""
    choice = shown_for(request).choice
    name = f"{key}/{picture}.{choice.language}.{choice.temperature}.{form}{'.narrow' if narrow else ''}"
    kept = RESULTS.get(name)
    if kept is None:
        with DRAWING:
            width = PHONE if narrow else WIDTH
            chart = _declared(key, picture, width)
            made = chart_response(request, chart, form, width)
        kept = RESULTS.put(name, (bytes(made.body), made.media_type))
    return Response(kept[0], media_type=kept[1], headers={"cache-control": "private, max-age=86400", **VARY})


def _declared(key: str, picture: str, width: int) -> Declared:
    """A chart's declaration, made once for all of its forms."""
    name = f"{key}/{picture}.{width}"
    return RESULTS.get(name) or RESULTS.put(name, _chart(key, picture, width))


def _chart(key: str, picture: str, width: int) -> Declared:
    result = RESULTS.get(key)
    if isinstance(result, Year) and picture == "year":
        from nestwright.charts.year import year_chart

        made = Declared(year_chart(result.proof).to_dict(validate=False))
        return narrowed(made, width) if width < WIDTH else made
    if isinstance(result, Year) and picture == "window":
        from nestwright.charts.window import window_chart

        return Declared(window_chart(result.window, width).to_dict(validate=False))
    if isinstance(result, tuple) and picture.isascii() and picture.isdecimal() and int(picture) < len(result[0].rows):
        from nestwright.charts.beside import beside_chart

        beside, run = result
        one = beside.rows[int(picture)]
        limits = [] if run is None else run.mean.limits
        limit = next((m for m in limits if (m.zone, m.quantity) == (one.chamber, one.quantity)), None)
        ends = (limit.low, limit.high) if limit else (None, None)
        return Declared(beside_chart(one, ends, width, first=beside.first).to_dict(validate=False))
    raise HTTPException(404)
