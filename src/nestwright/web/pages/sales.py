"""Sales: who has which build, what came back and was said, whom to recall, what is in stock; buyers shown, erased."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form, Request
from starlette.responses import JSONResponse, Response

from nestwright.errors import InputError
from nestwright.web.preferences import preferences_of, typed
from nestwright.web.render import faults_of, page, recorded, workshop_at
from nestwright.web.words import ungrouped
from nestwright.workshop.buyers import about_buyer, add_buyer, buyers, erase_buyer, find_buyer
from nestwright.workshop.changes import Act, act
from nestwright.workshop.database import reading, writing
from nestwright.workshop.sales import (
    add_feedback,
    by_revision,
    in_stock,
    parts_in_stock,
    recall,
    sales,
    sell,
    take_back,
)

router = APIRouter(prefix="/sales")
KINDS = ("praise", "question", "fault")


@router.get("")
def look(request: Request, design: str = "", revision: str = "") -> Response:
    """All sales, and the recall list of a design when one is asked for."""
    return _page(request, design=design, revision=revision)


def _page(request: Request, status: int = 200, *, design: str = "", revision: str = "", **more: Any) -> Response:
    values: dict[str, Any] = {"faults": [], "entry": {}, "form": "", "recalled": None} | more
    with reading(workshop_at(request).engine) as connection:
        found = sales(connection)
        values |= {
            "sold": [(one, Path(one.habitat).stem) for one in found],
            "out": [one for one in found if one.returned is None],
            "buyers": [one for one in buyers(connection) if not one["erased"]],
            "revisions": by_revision(connection),
            "stock": [(one, Path(str(one.values["habitat"])).stem) for one in in_stock(connection)],
            "stocked": parts_in_stock(connection),
            "design": design,
            "revision": revision,
        }
        if design:
            try:
                values["recalled"] = recall(connection, design, revision or None)
            except InputError as error:
                status, values["faults"] = 422, faults_of(error)
    return page(request, "sales.html", status, **values)


def _changing(request: Request, form: str, entry: dict[str, str], words: str, write: Callable[[Act], Any]) -> Response:
    """One act out of a form; the page again, with its faults, where it cannot be."""
    try:
        with writing(workshop_at(request).engine) as connection:
            done = act(connection, words)
            write(done)
    except InputError as error:
        return _page(request, 422, faults=faults_of(error), form=form, entry=entry)
    return recorded("/sales", done.step)


def _day(request: Request, day: str) -> str:
    from nestwright.workshop.typed import day_of

    return day_of(day.strip() or None, workshop_at(request), "day").isoformat()


@router.post("/buyers")
def new_buyer(
    request: Request, name: Annotated[str, Form()] = "", contact: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Add a buyer."""
    from nestwright.workshop.typed import line_of_text

    def write(done: Act) -> None:
        told = line_of_text(name, "name"), line_of_text(contact, "contact", needed=False)
        add_buyer(done, *told, _day(request, day), "")

    # the act's words stay in the history when a buyer is erased: no name in them
    return _changing(request, "buyer", {"name": name, "contact": contact}, "buyer added", write)


@router.post("/sold")
def sold(
    request: Request, build: Annotated[str, Form()] = "", buyer: Annotated[str, Form()] = "",
    price: Annotated[str, Form()] = "", parcel: Annotated[str, Form()] = "", day: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Record that a build went to a buyer."""
    from nestwright.workshop.parcels import find_parcel
    from nestwright.workshop.typed import line_of_text, price_of

    zone = workshop_at(request).zone

    def write(done: Act) -> None:
        amount, currency = price_of(typed(request, ungrouped(price, preferences_of(request).language)))
        row = int(find_buyer(done.connection, buyer)["id"])
        number = find_parcel(done.connection, zone, parcel).id if parcel.strip() else None
        values = {"day": _day(request, day), "price": amount, "currency": currency, "parcel_id": number}
        sell(done, line_of_text(build, "build"), row, values)

    entry = {"build": build, "buyer": buyer, "price": price, "parcel": parcel}
    return _changing(request, "sold", entry, f"sale of build {build[:200]}", write)


@router.post("/returned")
def returned(
    request: Request, build: Annotated[str, Form()] = "", reason: Annotated[str, Form()] = "",
    day: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Record that a sold build came back."""
    from nestwright.workshop.typed import line_of_text

    def write(done: Act) -> None:
        take_back(done, build, _day(request, day), line_of_text(reason, "reason", needed=False))

    return _changing(request, "returned", {"build": build, "reason": reason}, f"return of build {build[:200]}", write)


@router.post("/feedback")
def feedback(
    request: Request, build: Annotated[str, Form()] = "", kind: Annotated[str, Form()] = "",
    words: Annotated[str, Form()] = "", day: Annotated[str, Form()] = "",
) -> Response:  # fmt: skip
    """Record what a buyer says of a build."""
    from nestwright.workshop.typed import lines_of_text

    def write(done: Act) -> None:
        told = lines_of_text(words, "words")
        if not told.strip():
            raise InputError("is empty", field="words", allowed="what was said, up to 2000 characters")
        if kind not in KINDS:
            raise InputError("is no kind", field="kind", found=repr(kind[:40]), allowed=", ".join(KINDS))
        add_feedback(done, build, kind, told, _day(request, day))

    entry = {"build": build, "kind": kind, "words": words}
    return _changing(request, "feedback", entry, f"feedback on build {build[:200]}", write)


@router.get("/about")
def about(request: Request, name: str = "") -> Response:
    """All that is kept of one buyer, to be handed to them."""
    try:
        with reading(workshop_at(request).engine) as connection:
            found = about_buyer(connection, name)
    except InputError as error:
        return _page(request, 422, faults=faults_of(error), form="erase")
    return JSONResponse(found, headers={"content-disposition": 'attachment; filename="buyer.json"'})


@router.post("/erase")
def erase(request: Request, buyer: Annotated[str, Form()] = "", name: Annotated[str, Form()] = "") -> Response:
    """Erase a buyer, when their name is typed once more."""
    try:
        if not name.strip() or name.strip().casefold() != buyer.strip().casefold():
            allowed = "the buyer's name, typed once more"
            raise InputError("is not the name of this buyer", field="name", found=repr(name[:40]), allowed=allowed)
        erase_buyer(workshop_at(request), buyer)
    except InputError as error:
        return _page(request, 422, faults=faults_of(error), form="erase", entry={"buyer": buyer})
    return recorded("/sales", None)
