"""The visit: one look at one colony, told with large controls; sent twice it is written once."""

from __future__ import annotations

import re
import uuid
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request, UploadFile
from fastapi import File as Upload
from sqlalchemy import Connection, select
from starlette.responses import Response

from nestwright.errors import InputError
from nestwright.units import shown
from nestwright.web.colony_work import address_of
from nestwright.web.named import Named, step
from nestwright.web.render import faults_of, page, recorded, shown_for, workshop_at
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import Kept, find_colony, model_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.doubted import doubts_of
from nestwright.workshop.entries import Told, entry_of
from nestwright.workshop.photos import add_photo
from nestwright.workshop.tables import visit as visits
from nestwright.workshop.visits import HEALTH, STAGES, VisitEntry, add_visit, read_visits

router = APIRouter(prefix="/visit")
PLANTS = 6
"""Plants that are offered, the last given first."""
UID = re.compile(r"[0-9a-f-]{16,64}")


@router.get("/{name}")
def form(request: Request, name: Named) -> Response:
    """The form, with what was told last beside each control."""
    with reading(workshop_at(request).engine) as connection:
        kept = find_colony(connection, name)
        last = [entry for _, entry in read_visits(connection, kept.id)]
    return _form(request, kept, last, {"uid": uuid.uuid4().hex})


def _form(request: Request, kept: Kept, last: list[VisitEntry], told: dict[str, Any], **more: Any) -> Response:
    status = 422 if more.get("faults") else 200
    plants = list(dict.fromkeys(f.plant for v in reversed(last) for f in v.feedings if f.plant))[:PLANTS]
    values: dict[str, Any] = {
        "garden": next((v.garden_ml for v in reversed(last) if v.garden_ml is not None), None),
        "fill": next((v.fill_pct for v in reversed(last) if v.fill_pct is not None), None),
        "workers": next((c.text for v in reversed(last) for c in v.counts if c.what == "workers"), ""),
        "given": next((f"{f.amount:g} {f.unit} {f.plant}".strip() for v in reversed(last) for f in v.feedings), ""),
    }
    return page(
        request,
        "visit.html",
        status,
        kept=kept,
        address=f"/visit/{step(kept.name)}",
        back=address_of(kept.name),
        last=values,
        plants=plants,
        health=HEALTH,
        stages=STAGES,
        told=told,
        faults=more.get("faults", []),
    )


@router.post("/{name}")
def record(
    request: Request,
    name: Named,
    uid: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
    garden: Annotated[str, Form()] = "",
    fill: Annotated[str, Form()] = "",
    error: Annotated[str, Form()] = "",
    workers: Annotated[str, Form()] = "",
    eggs: Annotated[str, Form()] = "",
    larvae: Annotated[str, Form()] = "",
    pupae: Annotated[str, Form()] = "",
    leaves: Annotated[str, Form()] = "",
    plant: Annotated[str, Form()] = "",
    taken: Annotated[str, Form()] = "",
    waste: Annotated[str, Form()] = "",
    health: Annotated[list[str] | None, Form()] = None,
    event: Annotated[str, Form()] = "",
    note: Annotated[str, Form()] = "",
    pictures: Annotated[list[UploadFile] | None, Upload()] = None,
) -> Response:
    """Record the visit and its photographs in one act; a form that is sent again is known and not written again."""
    workshop = workshop_at(request)
    looked = {"eggs": eggs, "larvae": larvae, "pupae": pupae}
    told = {"uid": uid, "day": day, "garden": garden, "fill": fill, "error": error, "workers": workers, **looked,
            "leaves": leaves, "plant": plant, "taken": taken, "waste": waste, "health": health or [], "event": event,
            "note": note}  # fmt: skip
    data = [(one.filename or "picture", one.file.read()) for one in pictures or [] if one.filename]
    try:
        entry = _entry(told, shown_for(request).today.isoformat())
        with writing(workshop.engine) as connection:
            kept = find_colony(connection, name)
            there = _written(connection, entry.uid)
            if there is not None:
                return recorded(address_of(kept.name), None)
            done = act(connection, f"visit of {kept.name} on {entry.day}")
            row = add_visit(done, kept.id, entry)
            model_colony(connection, kept)
            doubts = doubts_of(connection, kept.id, entry)
            for called, content in data:
                add_photo(done, workshop, content, shown=called[:100], owner=kept.name, colony_id=kept.id, visit_id=row)
    except InputError as problem:
        with reading(workshop.engine) as connection:
            kept = find_colony(connection, name)
            last = [one for _, one in read_visits(connection, kept.id)]
        return _form(request, kept, last, told, faults=faults_of(problem))
    where = address_of(kept.name) + (f"?doubt={step(' '.join(doubts))}" if doubts else "")
    return recorded(where, done.step)


def _written(connection: Connection, uid: str) -> int | None:
    found = connection.execute(select(visits.c.id).where(visits.c.uid == uid)).scalar()
    return None if found is None else int(found)


def _entry(told: dict[str, Any], today: str) -> VisitEntry:
    """The entry of what a form tells. Raises InputError."""
    from datetime import date

    if not UID.fullmatch(told["uid"]):
        raise InputError("is no mark of a visit: open the form anew", field="uid", found=shown(told["uid"][:40]))

    def united(value: str, unit: str) -> str | None:
        """A bare number in the unit that stands beside its field."""
        plain = value.strip()
        return f"{plain} {unit}" if re.fullmatch(r"[\d.,]+", plain) else plain or None

    given = united(told["leaves"], "g")
    entry = entry_of(
        Told(
            date=told["day"].strip() or today,
            garden=united(told["garden"], "mL"),
            fill=united(told["fill"], "%"),
            garden_error=united(told["error"], "%"),
            counts={"workers": told["workers"].strip()} if told["workers"].strip() else {},
            seen=tuple(s for s in STAGES if told[s] == "seen"),
            not_seen=tuple(s for s in STAGES if told[s] == "not"),
            feedings=(f"{given} {told['plant'].strip()}".strip(),) if given else (),
            leaves_taken=united(told["taken"], "g"),
            waste=united(told["waste"], "g"),
            health=tuple(told["health"]),
            events=(told["event"].strip(),) if told["event"].strip() else (),
            note=told["note"].strip(),
            uid=told["uid"],
        ),
        lambda name: {"field": {"garden_error": "error", "leaves_taken": "taken", "date": "day"}.get(name, name)},
    )
    if entry.day > date.fromisoformat(today):
        raise InputError("is still to come", field="day", found=str(entry.day), allowed=f"until today, {today}")
    return entry
