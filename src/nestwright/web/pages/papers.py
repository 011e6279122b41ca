"""Papers of a build: label, certificate, care sheet and dossier, the same as those of the commands."""

from __future__ import annotations

import hashlib
from base64 import b64encode
from datetime import date, datetime
from typing import Any, Literal

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.files import plain_name
from nestwright.web.jobs import Job
from nestwright.web.named import Named
from nestwright.web.pages.builds import address_of
from nestwright.web.preferences import preferences_of
from nestwright.web.render import faults_of, page, workshop_at
from nestwright.workshop.builds import find_build
from nestwright.workshop.changes import last_step
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop

router = APIRouter(prefix="/builds")
ROOM = "21 degC, 45 %"
Kind = Literal[
    "label.pdf", "certificate.pdf", "care-sheet.pdf", "care-sheet-large.pdf", "care-sheet.html", "dossier.pdf"
]
TITLES = {"care": "Care sheet", "dossier": "Dossier of the design"}


@router.get("/{serial}/papers/{kind}")
def paper(request: Request, serial: Named, kind: Kind, room: str = ROOM, language: str = "") -> Response:
    """A paper of a build; one that takes long is waited for."""
    from nestwright.papers.words import languages, words_of

    workshop = workshop_at(request)
    own = preferences_of(request).language
    spoken = language or (own if own in languages() else "en")
    try:
        words_of(spoken)
        if len(room) > 200:
            raise InputError("is too long", field="room", allowed="up to 200 characters")
        if kind in ("label.pdf", "certificate.pdf"):
            return _file(_at_once(request, workshop, serial, kind, spoken), serial, kind)
        job = _job(request, workshop, serial, kind, room, spoken)
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


def _at_once(request: Request, workshop: Workshop, serial: str, kind: str, language: str) -> bytes:
    from nestwright.papers.certificate import certificate_of, certificate_pdf
    from nestwright.papers.labels import labels_pdf, lay_labels, sheet_of
    from nestwright.workshop.kept_designs import design_name

    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
    name, today = design_name(workshop, made), _today(workshop)
    if kind == "certificate.pdf":
        return certificate_pdf(certificate_of(made, name), today, language)
    facts = [(made.serial, name, made.values["revision"] or "", made.values["made"] or "")]
    # the code leads to this page, where the care sheet for a phone is
    address = f"{request.url.scheme}://{request.url.netloc}/builds/"
    return labels_pdf(lay_labels(facts, sheet_of("single-60x30"), address=address), today, language)


def _job(request: Request, workshop: Workshop, serial: str, kind: str, room: str, language: str) -> Job:
    with reading(workshop.engine) as connection:
        made = find_build(connection, serial)
        step = last_step(connection)
    design = workshop.folder / str(made.values["habitat"])
    told = (kind, room, language, serial, str(step.step if step else 0), str(_today(workshop)))
    try:
        file = design.read_bytes()
    except OSError:
        file = b""  # the work itself says what is wrong
    rests = hashlib.sha256("\0".join(told).encode() + file).hexdigest()
    slow = _care if kind.startswith("care-sheet") else _dossier

    def work(job: Job) -> bytes:
        return slow(workshop, serial, kind, room, language, job)

    title = TITLES["care" if slow is _care else "dossier"]
    back = str(request.url.path) + (f"?{request.url.query}" if request.url.query else "")
    return request.app.state.jobs.start(f"paper/{rests}", title, back, work)


def _care(workshop: Workshop, serial: str, kind: str, room: str, language: str, job: Job) -> bytes:
    from nestwright.papers.care import care_html, care_pdf
    from nestwright.papers.care_made import design_of_build, make_care

    care, field = make_care(design_of_build(workshop, serial), room, lambda share, words: job.report(share))
    if kind.endswith(".html"):
        return care_html(care, field, language).encode()
    return care_pdf(care, field, _today(workshop), language, large=kind == "care-sheet-large.pdf")


def _dossier(workshop: Workshop, serial: str, kind: str, room: str, language: str, job: Job) -> bytes:
    from nestwright.papers.dossier_made import make_dossier
    from nestwright.wording.proof import limit_rows

    with reading(workshop.engine) as connection:
        file = str(find_build(connection, serial).values["habitat"])
    return make_dossier(
        workshop, file, room, lambda proof: limit_rows(proof, year=False), language=language,
        report=lambda share, words: job.report(share),
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
