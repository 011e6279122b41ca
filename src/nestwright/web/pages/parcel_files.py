"""Parcel files: written or sent, checked, and their risk as long work with its pictures."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal
from urllib.parse import quote

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi import File as Upload
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.parcel.changes import Change
from nestwright.web.habitat_files import MOST, Overtaken, file_of, habitat_files, save
from nestwright.web.jobs import Job
from nestwright.web.merged_text import sum_of
from nestwright.web.named import Named
from nestwright.web.parcel_work import FOLDER, Asked, Found, read_text, work
from nestwright.web.pictured import Declared, narrowed
from nestwright.web.render import PHONE, WIDTH, chart_response, faults_of, job_at, page, shown_for, workshop_at
from nestwright.web.sentences import retold
from nestwright.web.shown import Shown
from nestwright.web.words import words_of

router = APIRouter(prefix="/parcels/files")


def _address(stem: str) -> str:
    return f"/parcels/files/{quote(stem, safe='')}"


@router.get("")
def files(request: Request) -> Response:
    """The parcel files of the workshop, and the form for one more."""
    return _files(request)


def _files(request: Request, status: int = 200, **more: Any) -> Response:
    rows = [(stem, _address(stem)) for stem in habitat_files(workshop_at(request), FOLDER)]
    return page(request, "parcel_files.html", status, rows=rows, **({"faults": [], "name": ""} | more))


@router.post("")
def send(
    request: Request,
    name: Annotated[str, Form()] = "",
    file: Annotated[UploadFile | None, Upload()] = None,
) -> Response:
    """Keep a parcel file that was sent, or begin one from the example, under a name of its own."""
    from nestwright.workshop.example import example_workshop

    workshop, stem = workshop_at(request), name.strip()
    try:
        if file is not None and file.filename:
            stem = stem or file.filename.replace("\\", "/").rpartition("/")[2].removesuffix(".toml")
            told = file.file.read(4 * MOST + 1)
            try:
                text = told.decode("utf-8-sig")
            except UnicodeDecodeError:
                raise InputError("cannot be read as text in UTF-8", field="file") from None
        else:
            text = (example_workshop() / FOLDER / "winter.toml").read_text("utf-8")
        save(workshop, stem, text, "", FOLDER)
    except Overtaken:
        taken = InputError("there is a parcel file of this name already", field="name", found=stem)
        return _files(request, 422, faults=faults_of(taken), name=name)
    except InputError as error:
        return _files(request, 422, faults=faults_of(error), name=name)
    return RedirectResponse(_address(stem), 303)


@router.get("/{stem}")
def look(request: Request, stem: Named) -> Response:
    """A parcel file as text, with what is wrong with it."""
    file = file_of(workshop_at(request), stem, FOLDER)
    return _shown(request, stem, file.text, sum_of(file.text))


def _shown(request: Request, stem: str, text: str, base: str, status: int = 200, **more: Any) -> Response:
    from nestwright.workshop.database import reading
    from nestwright.workshop.parcels import kept_parcels, sent_parcels

    workshop = workshop_at(request)
    faults = more.pop("faults", None)
    if faults is None:
        try:
            read_text(workshop, stem, text)
            faults = []
        except InputError as error:
            faults = faults_of(error)
    with reading(workshop.engine) as connection:
        routes = sorted({one.route for one in sent_parcels(kept_parcels(connection, workshop.zone)) if one.route})
    values = {
        "theirs": None,
        "asked": {"first": "", "last": "", "route": "", "ways": False, "draws": 10_000},
        "saved": False,
    } | more
    return page(
        request, "parcel_file.html", status, stem=stem, address=_address(stem), text=text, base=base, faults=faults,
        routes=routes, **values,
    )  # fmt: skip


@router.post("/{stem}")
def change(
    request: Request,
    stem: Named,
    text: Annotated[str, Form()],
    base: Annotated[str, Form()] = "",
    first: Annotated[str, Form()] = "",
    last: Annotated[str, Form()] = "",
    route: Annotated[str, Form()] = "",
    ways: Annotated[str, Form()] = "",
    draws: Annotated[int, Form(ge=100, le=10_000)] = 10_000,
    then: Annotated[Literal["save", "risk"], Form()] = "save",
) -> Response:
    """Save the text, faults and all, unless it is no TOML; or begin with the risk of the text as it stands, which
    saves nothing."""
    from nestwright.parcel.sending import parse_days

    workshop, text = workshop_at(request), text.replace("\r\n", "\n")
    file_of(workshop, stem, FOLDER)
    told = {"first": first, "last": last, "route": route, "ways": bool(ways), "draws": draws}
    if then == "save":
        try:
            save(workshop, stem, text, base, FOLDER)
        except Overtaken as other:
            return _shown(request, stem, text, sum_of(other.text), 409, theirs=other.text, asked=told)
        except InputError as error:
            return _shown(request, stem, text, base, 422, faults=faults_of(error), asked=told)
        return _shown(request, stem, text, sum_of(text), saved=True, asked=told)
    try:
        read_text(workshop, stem, text)
        days = tuple(parse_days(f"{first or last}..{last or first}", "last")) if first or last else ()
    except InputError as error:
        return _shown(request, stem, text, base, 422, faults=faults_of(error), asked=told)
    what = Asked(stem, text, days, route, bool(ways), draws)
    job: Job = request.app.state.jobs.start(what.key, "Drawing parcels", "", lambda job: work(workshop, what, job))
    job.back = f"{_address(stem)}/risk/{job.id}"
    return RedirectResponse(job.back, 303)


@router.get("/{stem}/risk/{job}")
def risk(request: Request, stem: str, job: str) -> Response:
    """How far the work is, and the risk that came of it."""
    from nestwright.wording.parcel_risk import CAUTION, alone_text, chance_text
    from nestwright.wording.passage import ANTS, CAUSES

    going = job_at(request, job, "parcel-risk/")
    values: dict[str, Any] = {"stem": stem, "address": _address(stem), "job": going, "found": None, "faults": []}
    if going.error is not None:
        values["faults"] = faults_of(going.error)
    made: Found | None = going.result
    if made is None:
        return page(request, "parcel_risk.html", 422 if going.error else 200, **values)
    shown = shown_for(request)
    both = (("garden", made.risk.causes, CAUSES), ("ants", made.risk.ants_causes, ANTS))
    causes = [(what, [(words[c], share) for c, share in told[:3]]) for what, told, words in both]
    best, rows = "", []
    if made.ways is not None:
        weighed, changes = made.ways
        best = _changed(changes[weighed.best], shown)
        rows = [
            [_changed(changes[c.key], shown), f"{c.cost:+.2f}" if c.cost else "0", chance_text(c.risk.garden),
             chance_text(c.risk.colony), f"{c.expected:.2f}"]
            for c in weighed.choices[:20]
        ]  # fmt: skip
    return page(
        request, "parcel_risk.html", **values | {"found": made}, garden=chance_text(made.risk.garden),
        colony=chance_text(made.risk.colony), causes=causes, best=best, ways=rows, caution=CAUTION,
        late=[
            (r.days_late, *(chance_text(x) for x in (r.share, r.garden, r.colony)))
            for r in made.risk.by_late[:5]
        ],
        alone=[alone_text(share) for share in made.alone],
        days=[[_on(d.sent, shown), _on(d.due, shown), chance_text(d.garden), chance_text(d.colony)]
              for d in made.days],
    )  # fmt: skip


def _changed(one: Change, show: Shown) -> str:
    """What is done otherwise; of several things each is said in the reader's language."""
    from nestwright.wording.parcel_risk import change_text

    joined = ", " + words_of(show.choice.language).gettext("and") + " "
    return joined.join(retold(change_text(part), show) for part in one.parts or (one,))


def _on(day: date, show: Shown) -> str:
    return f"{show.weekday(day)}, {show.day(day)}"


@router.get("/{stem}/risk/{job}/{picture}.{form}")
def drawn(
    request: Request,
    stem: str,
    job: str,
    picture: Literal["journey", "days"],
    form: Literal["json", "svg"],
    narrow: bool = False,
) -> Response:
    """The journey, or the risk by day of dispatch, as a picture; `narrow` as wide as a phone."""
    from nestwright.charts.parcel import parcel_chart
    from nestwright.charts.parcel_days import days_chart

    made: Found | None = job_at(request, job, "parcel-risk/").result
    if made is None or (picture == "days" and not made.days):
        raise HTTPException(404)
    width = PHONE if narrow else WIDTH
    chart = parcel_chart(made.passage, width) if picture == "journey" else days_chart(made.passage.name, made.days)
    if narrow:
        return chart_response(request, narrowed(Declared(chart.to_dict(validate=False)), PHONE), form, PHONE)
    return chart_response(request, chart, form)
