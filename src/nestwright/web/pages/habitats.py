"""Design: a habitat's fields beside its text, its section, its climate as it is changed, and two side by side."""

from __future__ import annotations

import difflib
import hashlib
import json
import time
from collections.abc import Callable
from functools import lru_cache
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, RedirectResponse, Response

from nestwright.document import Document, load_document
from nestwright.errors import FileError, InputError
from nestwright.web.climate_words import limit_name
from nestwright.web.compiling import compiled, compiling
from nestwright.web.design_words import beside_units, now_rows, slide_name, slide_words, water_lines
from nestwright.web.habitat_files import (
    LEAST_AIR,
    MOST_AIR,
    Overtaken,
    air_of,
    file_of,
    habitat_files,
    room_names,
    room_of,
    save,
)
from nestwright.web.habitat_text import groups_of, slides_of
from nestwright.web.jobs import Job
from nestwright.web.live_design import Clock, Opened, Opener, Overtook, Turns
from nestwright.web.merged_text import merged, recalled, remembered
from nestwright.web.named import Named
from nestwright.web.pictured import drawn_in
from nestwright.web.render import PHONE, VARY, WIDTH, faults_of, page, shown_for, workshop_at
from nestwright.web.shown import Shown
from nestwright.web.words import words_of

router = APIRouter()
ROOM = "21 degC, 45 %"
SOON = 0.7
"""Seconds that the list waits for verdicts before it is shown without them."""
MOST = 500
UNKNOWN: dict[str, Any] = {"name": "", "revision": "", "species": "", "holds": None, "first": "", "fault": ""}


_verdicts: dict[str, dict[str, Any]] = {}
"""What the list says of a habitat, by its text: the same text is proved once."""


@router.get("/habitats")
def habitats(request: Request) -> Response:
    """All habitats of the workshop, each with its verdict in one room; the first time on a computer the compiler works
    for a minute before there is one."""
    workshop = workshop_at(request)
    texts: dict[str, str] = {}
    unread: dict[str, dict[str, Any]] = {}
    for stem in habitat_files(workshop):
        try:
            texts[stem] = file_of(workshop, stem).text
        except InputError as error:
            texts[stem], unread[stem] = "", UNKNOWN | {"fault": str(error.message)}
    missing = sorted({text for text in texts.values() if text and text not in _verdicts})
    job: Job | None = None
    if missing:
        key = f"verdicts/{hashlib.sha256(chr(0).join(missing).encode()).hexdigest()}"
        title = "Climate of the habitats at rest"
        job = request.app.state.jobs.start(
            key, title, "/habitats", lambda job: _prove_all(job, missing), fresh=True, brief=True
        )
        end = time.monotonic() + SOON
        while job.going and time.monotonic() < end:
            time.sleep(0.02)
    told = {stem: unread.get(stem) or _verdicts.get(text, UNKNOWN) for stem, text in texts.items()}
    rows = [{"stem": stem, "address": f"/habitats/{quote(stem, safe='')}", **one} for stem, one in told.items()]
    going = job if job and job.going else None
    return page(request, "habitats.html", rows=rows, room=ROOM, job=going, compiling=going and not compiled())


def _prove_all(job: Job, texts: list[str]) -> None:
    if len(_verdicts) > MOST:
        _verdicts.clear()
    for n, text in enumerate(texts):
        job.report(n / len(texts))
        _verdicts[text] = _verdict(text)


def _verdict(text: str) -> dict[str, Any]:
    try:
        habitat, proof = _proved(load_document(text), ROOM, light=True)
    except (InputError, FileError) as error:
        return UNKNOWN | {"fault": str(error).split("\n")[0]}
    first = proof.first_limit.name if proof.first_limit else ""
    return {"name": habitat.name, "revision": habitat.revision, "species": habitat.species, "holds": proof.holds,
            "first": first, "fault": ""}  # fmt: skip


def _proved(document: Document, room: str, *, light: bool, going: Callable[[], None] | None = None) -> tuple[Any, Any]:
    """A habitat and its steady proof in a room; without intervals when `light`. Raises InputError."""
    from nestwright.climate.proof import NotSettled, prove
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import with_values

    habitat = with_values(document, {})
    try:
        return habitat, prove(habitat, read_room(room), uncertainty=not light, going=going)
    except NotSettled as reason:
        raise InputError("finds no steady air in this room", found=str(reason)) from None


@lru_cache(maxsize=64)
def _proved_text(text: str, path: str, room: str) -> tuple[Any, Any]:
    """`_proved` with intervals, of a text in a room that is told in full: the same is proved once."""
    return _proved(load_document(text, path), room, light=False)


def _both(text: str) -> None:
    """What the designer asks for first: the steady climate, then with its intervals."""
    document = load_document(text)
    for light in (True, False):
        _proved(document, ROOM, light=light)


def _compiling(request: Request, back: str, text: str) -> Job | None:
    """The job that has the equations compiled by a first look at a design; None once they are, and for a design with a
    fault, which whoever proves it tells."""
    return None if compiled() or not reads(text) else compiling(request.app.state.jobs, back, _both, text)


def reads(text: str) -> bool:
    """Whether a text is a habitat without fault."""
    from nestwright.habitat.file import with_values

    try:
        with_values(load_document(text), {})
    except InputError:
        return False
    return True


@router.get("/habitats/{stem}")
def design(request: Request, stem: Named, room: str = ROOM, saved: bool = False) -> Response:
    """The designer, in a room of air that does not change; `saved` after a press on Save."""
    file = file_of(workshop_at(request), stem)
    said = ("well" if reads(file.text) else "faulty") if saved else ""
    return shown_design(request, stem, file.text, remembered(file.text), air=air_of(room), saved=said)


def shown_design(request: Request, stem: str, text: str, base: str, status: int = 200, **more: Any) -> HTMLResponse:
    """The designer with a text that need not be the saved one; `base` is the sum of the saved text it was made from.
    `more`: faults, theirs and change (another person's text), unsaved, put (values just put in), sizing (as asked),
    air (degC and % of the room)."""
    faults: list[dict[str, Any]] = more.pop("faults", [])
    name: Any = ""
    try:
        document = load_document(text)
        name = document.tables.get("name")
        groups, slides = groups_of(document), slides_of(document)
    except InputError as error:
        faults, groups, slides = faults or faults_of(error), (), ()
    from nestwright.climate.size_free import WINDOW_FORM

    workshop = workshop_at(request)
    address = f"/habitats/{quote(stem, safe='')}"
    asked = {"free": [], "bounds": {}, "where": "window", "window": WINDOW_FORM} | more.pop("sizing", {})
    celsius, humidity = more.pop("air", None) or air_of(ROOM)
    named = slide_words(shown_for(request))
    values = {
        "theirs": None,
        "change": [],
        "both": False,
        "unsaved": False,
        "saved": "",
        "put": [],
        "sizing": asked,
    } | more
    return page(
        request,
        "design.html",
        status,
        stem=stem,
        called_by=name if isinstance(name, str) and name.strip() else stem,
        address=address,
        compiling=None if faults else _compiling(request, address, text),
        text=text,
        base=base,
        groups=groups,
        slides=slides,
        faults=faults,
        rooms=room_names(workshop),
        room=f"{celsius:g} degC, {humidity:g} %",
        celsius=celsius,
        least_air=LEAST_AIR,
        most_air=MOST_AIR,
        humidity=humidity,
        beside=beside_units(shown_for(request)),
        named=named,
        called={one.key: slide_name(named, one) for one in slides},
        others=[s for s in habitat_files(workshop) if s != stem],
        **values,
    )


@router.post("/habitats/{stem}")
def keep(
    request: Request,
    stem: Named,
    text: Annotated[str, Form()],
    base: Annotated[str, Form()] = "",
    name: Annotated[str, Form()] = "",
    room_t: Annotated[str, Form()] = "",
    room_h: Annotated[str, Form()] = "",
) -> Response:
    """Save the text: under its own name, or as another file. What another person saved meanwhile is never lost."""
    workshop = workshop_at(request)
    text = text.replace("\r\n", "\n")
    target = name.strip() or stem
    room = f"{room_t} degC, {room_h} %" if room_t and room_h else ROOM
    air = air_of(room)
    try:
        save(workshop, target, text, base if target == stem else "")
    except Overtaken as other:
        if target != stem:
            error = InputError("there is a habitat of this name already", field="name", found=target)
            return shown_design(request, stem, text, base, 409, faults=faults_of(error), air=air)
        began = recalled(base)
        both = None if began is None else merged(began, other.text, text)
        mine = text if both is None else both
        _ = words_of(shown_for(request).choice.language).gettext
        lines = other.text.splitlines(), mine.splitlines()
        change = list(difflib.unified_diff(*lines, _("saved"), _("yours"), lineterm="", n=1))
        return shown_design(request, stem, mine, remembered(other.text), 409, theirs=other.text, change=change,
                            both=both is not None, unsaved=True, air=air)  # fmt: skip
    except InputError as error:
        return shown_design(request, stem, text, base, 422, faults=faults_of(error), air=air)
    kept = "?saved=true" if room == ROOM else f"?room={quote(room)}&saved=true"
    return RedirectResponse(f"/habitats/{quote(target, safe='')}{kept}", 303)


class Change(BaseModel):
    """A habitat's text, values to set in it by dotted key, and a room."""

    text: str = Field(max_length=200_000)
    values: dict[str, str] = Field(default_factory=dict, max_length=200)
    room: str = Field(default=ROOM, max_length=80)
    light: bool = True
    points: int = Field(default=15, ge=5, le=40)
    page: str = Field(default="", max_length=40)
    """Which page asks: its newest light change puts an end to what it asked before with intervals."""
    narrow: bool = Field(default=False, description="Whether the drawing is for a phone.")


OPENER = Opener()
TURNS = Turns()
LATELY: dict[tuple[str, str, bool], tuple[Any, Any]] = {}
"""The last habitats proved, by text and room."""


@router.post("/api/habitats/live", tags=["habitats"])
def live(request: Request, change: Change) -> Response:
    """The steady climate of a habitat as it is being changed: `text` with the values in it, `proof` as
    `nestwright climate --json` gives it (without intervals when `light`) and `html` of its tables. The header
    `server-timing` says what took how long."""
    clock = Clock()
    going = TURNS.take(change.page) if change.light else TURNS.watch(change.page)
    opened = OPENER.changed(change.text, change.values)
    clock("read")
    try:
        _, proof = _proved_now(opened, room_of(workshop_at(request), change.room), light=change.light, going=going)
    except Overtook:
        return Response(status_code=204)
    clock("solve")
    show = shown_for(request)
    html = page(
        request,
        "live.html",
        proof=proof,
        light=change.light,
        first=limit_name(show, proof.first_limit.name) if proof.first_limit else "",
        limits=now_rows(show, proof, light=change.light),
        water=water_lines(show, proof),
    ).body
    clock("tables")
    told = json.dumps({"text": opened.text, "proof": proof.to_dict(), "html": bytes(html).decode()})
    clock("json")
    # as it is: the way through a model and a packer costs more than the whole solution
    headers = {"content-encoding": "identity", "server-timing": clock.header()}
    return Response(told, media_type="application/json", headers=headers)


@router.post("/api/habitats/section", tags=["habitats"])
def live_section(request: Request, change: Change) -> Response:
    """The cross-section of a habitat as it is being changed, as SVG."""
    opened = OPENER.changed(change.text, change.values)
    habitat, proof = _proved_now(opened, room_of(workshop_at(request), change.room), light=True)
    drawn = _section(habitat, proof, shown_for(request), narrow=change.narrow)
    return Response(drawn, media_type="image/svg+xml", headers={"content-encoding": "identity"})


def _proved_now(opened: Opened, room: str, *, light: bool, going: Callable[[], None] | None = None) -> tuple[Any, Any]:
    """As `_proved`; the section that follows the figures is drawn from the same proof."""
    key = (opened.text, room, light)
    found = LATELY.get(key)
    if found is None:
        found = _proved(opened.document, room, light=light, going=going)
        if not room.endswith(".toml"):  # a room's file may be another one by then
            LATELY[key] = found
            while len(LATELY) > 6:
                LATELY.pop(next(iter(LATELY)), None)
    return found


@router.post("/api/habitats/window", tags=["habitats"])
def window_map(request: Request, change: Change) -> dict[str, Any]:
    """The room air at which the habitat holds its limits, as `nestwright window --json` gives it."""
    from nestwright.climate.room_window import window
    from nestwright.habitat.file import with_values

    document = OPENER.changed(change.text, change.values).document
    told = dict(window(with_values(document, {}), None, points=change.points).to_dict())
    # as the page calls them; what a program reads is `limits`
    show = shown_for(request)
    return told | {"limits_said": [limit_name(show, name) for name in told["limits"]]}


@router.get("/compare")
def compare(request: Request, a: str, b: str, room: str = ROOM) -> Response:
    """Two habitats, or two revisions of one, side by side in one room."""
    workshop, show = workshop_at(request), shown_for(request)
    where = room_of(workshop, room)
    one = file_of(workshop, a)
    job = _compiling(request, f"{request.url.path}?{request.url.query}", one.text)
    if job is not None:
        return page(request, "job.html", job=job)
    sides = []
    for stem in (a, b):
        file = file_of(workshop, stem)
        # a room file may change, and what it reads too
        prove = _proved_text if where == room else _proved_text.__wrapped__
        habitat, proof = prove(file.text, file.told, where)
        names = ("name", "value", "interval", "margin", "says")
        rows = [[row[name] for name in names] for row in now_rows(show, proof, light=False)]
        first = limit_name(show, proof.first_limit.name) if proof.first_limit else ""
        sides.append({"stem": stem, "habitat": habitat, "proof": proof, "first": first, "rows": rows,
                      "water": water_lines(show, proof), "text": file.text})  # fmt: skip
    lines = difflib.unified_diff(sides[0]["text"].splitlines(), sides[1]["text"].splitlines(), lineterm="", n=1)
    change = ["…" if line.startswith("@@") else line for line in list(lines)[2:]]
    return page(request, "compare.html", sides=sides, change=change, room=room, rooms=room_names(workshop), a=a, b=b,
                files=habitat_files(workshop))  # fmt: skip


@router.get("/habitats/{stem}/section.svg")
def section(request: Request, stem: Named, room: str = ROOM, narrow: bool = False) -> Response:
    """The cross-section of a habitat in a room; `narrow` as wide as a phone."""
    workshop = workshop_at(request)
    file = file_of(workshop, stem)
    habitat, proof = _proved(load_document(file.text, file.told), room_of(workshop, room), light=True)
    drawn = _section(habitat, proof, shown_for(request), narrow=narrow)
    return Response(drawn, media_type="image/svg+xml", headers=VARY)


def _section(habitat: Any, proof: Any, show: Shown, *, narrow: bool) -> str:
    """The drawing in the reader's language and degrees."""
    from nestwright.charts.section import section_svg

    fahrenheit = show.choice.temperature == "degF"
    return drawn_in(section_svg(habitat, proof, PHONE if narrow else WIDTH, fahrenheit=fahrenheit), show)
