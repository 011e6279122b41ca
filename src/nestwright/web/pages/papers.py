"""Papers of a build: label, certificate, care sheet and dossier, the same as those of the commands."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from datetime import date, datetime
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.files import plain_name
from nestwright.web.habitat_files import room_of
from nestwright.web.jobs import Job
from nestwright.web.named import Named
from nestwright.web.pages.builds import ROLL, address_of
from nestwright.web.preferences import preferences_of
from nestwright.web.render import faults_of, page, workshop_at
from nestwright.workshop.builds import find_build
from nestwright.workshop.changes import last_step
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop

router = APIRouter(prefix="/builds")
ROOM = "21 degC, 45 %"
MOST_SKIPPED = 999
YEAR_SHARE = 0.5
"""Of a dossier's time that a room's record takes."""
Kind = Literal[
    "label.pdf", "certificate.pdf", "care-sheet.pdf", "care-sheet-large.pdf", "care-sheet.html", "dossier.pdf"
]
TITLES = {"care": "Care sheet", "dossier": "Dossier of the design"}


@router.get("/{serial}/papers/{kind}")
def paper(
    request: Request,
    serial: Named,
    kind: Kind,
    room: str = ROOM,
    language: str = "",
    year: bool = False,
    sheet: str = ROLL,
    skip: Annotated[int, Query(ge=0, le=MOST_SKIPPED)] = 0,
) -> Response:
    """A paper of a build; one that takes long is waited for. `room`, and whether its whole record is run through (of a
    dossier, `year`), are of the papers with a proof; `sheet` and the places of it that are used up are the label's."""
    from nestwright.papers.words import languages, words_of

    workshop = workshop_at(request)
    own = preferences_of(request).language
    spoken = language or (own if own in languages() else "en")
    try:
        words_of(spoken)
        if kind == "label.pdf":
            return _file(_label(request, workshop, serial, spoken, sheet, skip), serial, kind)
        if kind == "certificate.pdf":
            return _file(_certificate(workshop, serial, spoken), serial, kind)
        # a page reads no file of the computer but those of its workshop
        job = _job(request, workshop, serial, kind, room_of(workshop, room), spoken, year)
    except InputError as error:
        return _refused(request, serial, error)
    if job.going:
        return page(request, "job.html", job=job)
    if job.error is not None:
        return _refused(request, serial, job.error)
    if job.state != "done":
        return RedirectResponse(address_of(serial), 303)
    return _file(job.result, serial, kind)


def _today(workshop: Workshop) -> date:
    return datetime.now(workshop.zone).date()


def _certificate(workshop: Workshop, serial: str, language: str) -> bytes:
    from nestwright.papers.certificate import certificate_of, certificate_pdf
    from nestwright.workshop.kept_designs import design_name

    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    return certificate_pdf(certificate_of(made, design_name(workshop, made)), _today(workshop), language)


def _label(request: Request, workshop: Workshop, serial: str, language: str, sheet: str, skip: int) -> bytes:
    from nestwright.papers.labels import labels_pdf, lay_labels, sheet_of
    from nestwright.workshop.kept_designs import design_name

    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    facts = [(made.serial, design_name(workshop, made), made.values["revision"] or "", made.values["made"] or "")]
    # the code leads to this page, where the care sheet for a phone is
    address = f"{request.url.scheme}://{request.url.netloc}/builds/"
    laid = lay_labels(facts, sheet_of(sheet), address=address, skip=skip)
    return labels_pdf(laid, _today(workshop), language)


def _job(request: Request, workshop: Workshop, serial: str, kind: str, room: str, language: str, year: bool) -> Job:
    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
        step = last_step(connection)
    design = workshop.folder / str(made.values["habitat"])
    told = (kind, room, language, str(year), serial, str(step.step if step else 0), str(_today(workshop)))
    try:
        file = design.read_bytes()
    except OSError:
        file = b""  # the work itself says what is wrong
    rests = hashlib.sha256("\0".join(told).encode() + file).hexdigest()
    care = kind.startswith("care-sheet")

    def work(job: Job) -> bytes:
        if care:
            return _care(workshop, serial, kind, room, language, job)
        return _dossier(workshop, serial, room, language, year, job)

    title = TITLES["care" if care else "dossier"]
    back = str(request.url.path) + (f"?{request.url.query}" if request.url.query else "")
    return request.app.state.jobs.start(f"paper/{rests}", title, back, work)


def _care(workshop: Workshop, serial: str, kind: str, room: str, language: str, job: Job) -> bytes:
    from nestwright.papers.care import care_html, care_pdf
    from nestwright.papers.care_made import design_of_build, make_care

    care, field = make_care(design_of_build(workshop, serial), room, lambda share, words: job.report(share))
    if kind.endswith(".html"):
        return care_html(care, field, language).encode()
    return care_pdf(care, field, _today(workshop), language, large=kind == "care-sheet-large.pdf")


def _dossier(workshop: Workshop, serial: str, room: str, language: str, year: bool, job: Job) -> bytes:
    from nestwright.climate.proof import prove_year
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat
    from nestwright.papers.dossier_made import make_dossier
    from nestwright.wording.proof import limit_rows

    with reading(workshop.engine) as connection:
        file = str(find_build(connection, serial).values["habitat"])
    begun, run = 0.0, None
    if year:
        begun, design, air = YEAR_SHARE, read_habitat(workshop.folder / file), read_room(room)
        run = prove_year(design, air, progress=lambda share: job.report(YEAR_SHARE * float(share)))
    return make_dossier(
        workshop, file, room, lambda proof: limit_rows(proof, year=year), run=run, language=language,
        report=lambda share, words: job.report(begun + (1 - begun) * share),
    ).pdf  # fmt: skip


def _refused(request: Request, serial: str, error: InputError) -> Response:
    return page(request, "paper_refused.html", 422, faults=faults_of(error), back=address_of(serial))


def _file(content: Any, serial: str, kind: str) -> Response:
    if not isinstance(content, bytes):
        raise HTTPException(404)
    if kind.endswith(".html"):
        from nestwright.papers.care import STYLE

        allowed = b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()
        policy = f"default-src 'none'; style-src 'sha256-{allowed}'; frame-ancestors 'none'; base-uri 'none'"
        return Response(content, media_type="text/html; charset=utf-8", headers={"content-security-policy": policy})
    stem, _, ending = kind.rpartition(".")
    name = plain_name(f"{stem}-{serial}").encode("ascii", "ignore").decode() or stem
    headers = {"content-disposition": f'attachment; filename="{name}.{ending}"'}
    return Response(content, media_type="application/pdf", headers=headers)
