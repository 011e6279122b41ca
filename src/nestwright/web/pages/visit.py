"""The visit: one look at one colony, told with large controls; sent twice it is written once."""

from __future__ import annotations

import uuid
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Path, Request, UploadFile
from fastapi import File as Upload
from pydantic import BaseModel, Field
from sqlalchemy import Connection, func, select
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.web.colony_work import address_of
from nestwright.web.corrected_visit import correct_visit, find_visit, mark_of, told_by
from nestwright.web.named import Named, step
from nestwright.web.own_words import typed_words
from nestwright.web.preferences import preferences_of, typed
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.web.sent_visit import CLOCK_OFF, Written, write_visit
from nestwright.web.sentences import retold
from nestwright.workshop.changes import now
from nestwright.workshop.colonies import Kept, find_colony, kept_colonies
from nestwright.workshop.database import reading
from nestwright.workshop.tables import colony as colonies
from nestwright.workshop.tables import photo as photos
from nestwright.workshop.tables import visit as visits
from nestwright.workshop.visits import HEALTH, STAGES, VisitEntry, read_visits

router = APIRouter()
PLANTS = 6
"""Plants that are offered, the last given first."""
LONGEST = 4000
"""Characters of a field."""
NUMBERS = ("garden", "fill", "error", "leaves", "more_leaves", "taken", "waste", "workers", "counts")
"""Fields in which a reader writes numbers as their language does."""
EVENTS_TOLD = ("amount", "more_events")
"""Fields that tell how much, and from or to whom."""


@router.get("/visit")
def choose(request: Request, visit: int = 0, off: int = 0) -> Response:
    """Which colony to look at, that first that was not looked at for the longest; `visit` is the row just recorded,
    `off` by how many minutes the phone's clock was ahead."""
    today = shown_for(request).today
    with reading(workshop_at(request).engine) as connection:
        newest = select(visits.c.colony_id, func.max(visits.c.day)).group_by(visits.c.colony_id)
        last = {int(key): date.fromisoformat(day) for key, day in connection.execute(newest)}
        rows = [
            {"name": kept.name, "species": kept.values["species"], "last": last.get(kept.id),
             "days": None if kept.id not in last else (today - last[kept.id]).days}
            for kept in kept_colonies(connection, ended=False)
        ]  # fmt: skip
        said = _said(connection, visit)
    rows.sort(key=lambda row: (-(row["days"] if row["days"] is not None else 10**6), row["name"]))
    return page(request, "visits.html", rows=rows, said=said, off=max(-(10**9), min(off, 10**9)),
                read_at=_read_at(request))  # fmt: skip


def _read_at(request: Request) -> str:
    """When a page was made, which it shows where the network is not there and a phone opens the one that it kept."""
    return shown_for(request).moment(now())


def _said(connection: Connection, row: int) -> dict[str, Any] | None:
    """What was just recorded, in one line, with what is doubted of it."""
    from nestwright.wording.visits import visit_line
    from nestwright.workshop.doubted import remarks_on

    query = select(colonies.c.name).join(visits, visits.c.colony_id == colonies.c.id)
    name = connection.execute(query.where(visits.c.id == row)).scalar() if 0 < row < 10**12 else None
    if name is None:
        return None
    kept = find_colony(connection, name)
    entry = find_visit(connection, kept, row)
    line = visit_line(entry)
    taken = connection.execute(select(func.count()).select_from(photos).where(photos.c.visit_id == row)).scalar()
    return {"line": line[:1].upper() + line[1:], "photos": taken, "doubts": remarks_on(connection, kept, entry),
            "day": entry.day, "correct": f"/visit/{step(name)}/{row}"}  # fmt: skip


@router.get("/visit/{name}")
def form(request: Request, name: Named) -> Response:
    """The form, with what was told last beside each control."""
    with reading(workshop_at(request).engine) as connection:
        kept = find_colony(connection, name)
        last = [entry for _, entry in read_visits(connection, kept.id)]
    return _form(request, kept, last, {"uid": uuid.uuid4().hex})


@router.get("/visit/{name}/{row}")
def told_anew(request: Request, name: Named, row: Annotated[int, Path(ge=1, lt=10**12)]) -> Response:
    """The form of a visit that is in the record, to correct it."""
    with reading(workshop_at(request).engine) as connection:
        kept = find_colony(connection, name)
        return _correction(request, connection, kept, row, None)


def _correction(
    request: Request, connection: Connection, kept: Kept, row: int, told: dict[str, Any] | None, **more: Any
) -> Response:
    old = find_visit(connection, kept, row)
    earlier = [entry for at, entry in read_visits(connection, kept.id) if at != row and entry.day <= old.day]
    entries = told_by(old) | {"uid": uuid.uuid4().hex} if told is None else told
    return _form(request, kept, earlier, entries, correcting={"row": row, "was": mark_of(old), "day": old.day}, **more)


def _form(request: Request, kept: Kept, last: list[VisitEntry], told: dict[str, Any], **more: Any) -> Response:
    from nestwright.colony.form import EVENTS

    status = 422 if more.get("faults") else 200
    correcting = more.get("correcting")
    plants = list(dict.fromkeys(f.plant for v in reversed(last) for f in v.feedings if f.plant))[:PLANTS]
    language = preferences_of(request).language
    told = told | {name: typed_words(told.get(name, ""), language) for name in ("workers", "counts")}
    told |= {name: typed_words(told.get(name, ""), language, event=True) for name in EVENTS_TOLD}
    before = _before(last)
    if "workers" in before:
        text, day = before["workers"]
        before["workers"] = (typed_words(text, language), day)
    return page(
        request,
        "visit.html",
        status,
        kept=kept,
        address=f"/visit/{step(kept.name)}" + (f"/{correcting['row']}" if correcting else ""),
        correcting=correcting,
        back=address_of(kept.name),
        last=before,
        plants=plants,
        health=HEALTH,
        stages=STAGES,
        events=EVENTS,
        told=told,
        faults=more.get("faults", []),
        read_at=_read_at(request),
    )


def _before(visits: list[VisitEntry]) -> dict[str, tuple[str, date]]:
    """What was told last, by the names of the form's fields, each with the day that it is of; of fill and garden the
    newer, since each follows from the other."""
    told: dict[str, tuple[str, date]] = {}
    for one in visits:
        if one.fill_pct is not None or one.garden_ml is not None:
            told.pop("fill", None)
            told.pop("garden", None)
        if one.fill_pct is not None:
            told["fill"] = (f"{one.fill_pct:g}", one.day)
        if one.garden_ml is not None:
            told["garden"] = (f"{one.garden_ml:g}", one.day)
        for count in one.counts:
            if count.what == "workers":
                told["workers"] = (count.text, one.day)
        if one.feedings:
            first = one.feedings[0]
            unit = "" if first.unit == "g" else f" {first.unit}"
            told["leaves"] = (f"{first.amount:g}{unit}", one.day)
            told["given"] = (f"{first.amount:g} {first.unit} {first.plant}".strip(), one.day)
    return told


Text = Annotated[str, Form(max_length=LONGEST)]


def told_of(
    request: Request,
    uid: Text = "",
    day: Text = "",
    garden: Text = "",
    fill: Text = "",
    error: Text = "",
    workers: Text = "",
    counts: Text = "",
    eggs: Text = "",
    larvae: Text = "",
    pupae: Text = "",
    leaves: Text = "",
    plant: Text = "",
    more_leaves: Text = "",
    taken: Text = "",
    waste: Text = "",
    health: Annotated[list[str] | None, Form(max_length=20)] = None,
    event: Text = "",
    amount: Text = "",
    more_events: Text = "",
    note: Text = "",
    made: Text = "",
    now: Text = "",
    corrects: Text = "",
    was: Text = "",
) -> dict[str, Any]:
    """What a form tells of a visit. `uid`: its mark, made where it was told; a mark that is known is not written again.
    `made`, `now`: the sender's clock when it was told and when it is sent, ms since 1970, UTC. All else may be empty;
    a number alone is in mL, % or g. `corrects`, `was`: row of a visit of the record and the mark of what it told."""
    told: dict[str, Any] = dict(locals())
    del told["request"]
    told |= {name: typed(request, told[name]) for name in NUMBERS}
    told |= {name: typed(request, told[name], event=True) for name in EVENTS_TOLD}
    return told | {"health": health or []}


ToldForm = Annotated[dict[str, Any], Depends(told_of)]
Pictures = Annotated[list[UploadFile] | None, Upload()]


@router.post("/visit/{name}")
def record(request: Request, name: Named, told: ToldForm, pictures: Pictures = None) -> Response:
    """Record the visit and its photographs in one act; a form that is sent again is known and not written again."""
    try:
        done = write_visit(workshop_at(request), name, told, _read(pictures))
    except InputError as problem:
        with reading(workshop_at(request).engine) as connection:
            kept = find_colony(connection, name)
            last = [one for _, one in read_visits(connection, kept.id)]
        return _form(request, kept, last, told, faults=faults_of(problem))
    return recorded(_next(done), done.step)


@router.post("/visit/{name}/{row}")
def correct(
    request: Request, name: Named, row: Annotated[int, Path(ge=1, lt=10**12)], told: ToldForm, pictures: Pictures = None
) -> Response:
    """Put what is told in the place of what the visit told, as one act that can be taken back."""
    told = told | {"corrects": str(row)}
    try:
        done = correct_visit(workshop_at(request), name, told, _read(pictures))
    except InputError as problem:
        with reading(workshop_at(request).engine) as connection:
            kept = find_colony(connection, name)
            return _correction(request, connection, kept, row, told, faults=faults_of(problem))
    return recorded(_corrected(done), done.step)


def _corrected(done: Written) -> str:
    """The colony's page after a correction, with what is doubted of it."""
    return address_of(done.colony) + (f"?corrected={done.row}" if done.remarks else "")


def _read(pictures: list[UploadFile] | None) -> list[tuple[str, bytes]]:
    return [(one.filename or "picture", one.file.read()) for one in pictures or [] if one.filename]


def _next(done: Written) -> str:
    """Where a person goes on after a visit: the colonies that are due next."""
    off = f"&off={round(done.off / 60_000)}" if abs(done.off) > CLOCK_OFF else ""
    return f"/visit?visit={done.row}{off}"


class Recorded(BaseModel):
    """A visit that is in the record."""

    visit: int = Field(description="Its row.")
    step: int | None = Field(description="The step of the history that can be taken back.")
    again: bool = Field(description="Whether an earlier sending had written it; nothing was written this time.")
    remarks: list[str] = Field(description="What is kept and yet doubted.")
    clock_off_s: int = Field(description="Seconds by which the sender's clock is ahead of this computer's.")
    day: str = Field(description="Today by this computer's clock, in the workshop's zone.")
    next: str = Field(description="The page that says so.")


class Fault(BaseModel):
    """One thing that is wrong."""

    message: str
    field: str
    found: str
    allowed: str
    nearest: str
    line: str | int
    file: str
    text: str


class Faults(BaseModel):
    """Why nothing was written."""

    error: str
    faults: list[Fault]


@router.post("/api/visits", tags=["visits"], responses={422: {"model": Faults}})
def take(
    request: Request,
    told: ToldForm,
    colony: Annotated[str, Form(max_length=LONGEST)] = "",
    workshop: Annotated[str, Form(max_length=LONGEST)] = "",
    pictures: Pictures = None,
) -> Recorded:
    """Record a visit of `colony` as a phone sends it, perhaps long after it was told, perhaps not for the first time.
    `workshop`: name of the workshop that it was told for; it is not written into another one. With `corrects` it is the
    correction of a visit."""
    here = workshop_at(request)
    name = here.folder.resolve().name
    if workshop and workshop != name:
        raise InputError(
            "this visit was told for another workshop", field="workshop", found=workshop[:80], allowed=name
        )
    if told["corrects"]:
        done = correct_visit(here, colony, told, _read(pictures))
        place = _corrected(done)
    else:
        done = write_visit(here, colony, told, _read(pictures))
        place = _next(done)
    show = shown_for(request)
    where = place if done.step is None else recorded(place, done.step).headers["location"]
    return Recorded(
        visit=done.row,
        step=done.step,
        again=done.again,
        remarks=[retold(one, show) for one in (*done.remarks, *_clock(done.off))],
        clock_off_s=round(done.off / 1000),
        day=datetime.now(here.zone).date().isoformat(),
        next=where,
    )


def _clock(off: int) -> list[str]:
    if abs(off) <= CLOCK_OFF:
        return []
    way = "ahead" if off > 0 else "behind"
    return [f"the phone's clock is {abs(off) / 60_000:.0f} min {way}: the visit stands at its time by this computer"]
