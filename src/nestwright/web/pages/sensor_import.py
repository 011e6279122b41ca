"""A logger's file into the record: sent, shown as it would be read, asked what it cannot tell, stored as long work."""

from __future__ import annotations

import re
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request, UploadFile
from fastapi import File as Upload
from starlette.responses import RedirectResponse, Response

from nestwright.errors import FileError, InputError
from nestwright.sensing.loggers import Column, Mapping, confirm
from nestwright.web.jobs import Job
from nestwright.web.named import step
from nestwright.web.render import faults_of, page, workshop_at
from nestwright.web.uploads import Sent, uploads_of
from nestwright.workshop.database import reading
from nestwright.workshop.first_readings import first_readings, same_elsewhere
from nestwright.workshop.folder import Workshop
from nestwright.workshop.imports import READING, ImportedFile
from nestwright.workshop.readings import channels_of

router = APIRouter(prefix="/import")
LEFT_OUT = "leave out"
ORDERS = (("dmy", "day first"), ("mdy", "month first"), ("ymd", "year first"))
OPTION = re.compile(r",? or (?:a mapping of your own with )?--.*$")
"""Ways out that only the command has."""
SHOWN_BAD = 200
"""Bad rows that are listed on the page."""


@router.get("")
def choose(request: Request, logger: str = "") -> Response:
    """The form for a file."""
    return _choose(request, logger[:200])


def _choose(request: Request, logger: str, status: int = 200, faults: list[dict[str, Any]] | None = None) -> Response:
    workshop = workshop_at(request)
    with reading(workshop.engine) as connection:
        known = sorted({one.logger for one in channels_of(connection)})
    return page(request, "import.html", status, logger=logger, known=known, zone=workshop.zone.key, faults=faults or [])


@router.post("")
def send(
    request: Request,
    file: Annotated[UploadFile | None, Upload()] = None,
    logger: Annotated[str, Form()] = "",
) -> Response:
    """Take a file in and look at how it is written; nothing is stored yet."""
    from nestwright.workshop.imports import how_to_read, kept_mapping
    from nestwright.workshop.typed import line_of_text

    uploads = uploads_of(request)
    sent = None
    try:
        name = line_of_text(logger, "logger")
        if file is None or not file.filename:
            raise InputError("no file was chosen", field="file", allowed="the file that the logger wrote")
        sent = uploads.take(file.file, file.filename)
        with reading(workshop_at(request).engine) as connection:
            kept = kept_mapping(connection, name)
        mapping, again = how_to_read(sent.path, kept, None)
        sent.known.update(logger=name, mapping=mapping, first=mapping, again=again, kept=kept)
    except (InputError, FileError) as error:
        if sent is not None:
            error = _called(error, sent)
            uploads.drop(sent.token)
        return _choose(request, logger, 422, faults_of(error))
    return RedirectResponse(f"/import/{sent.token}", 303)


def _called(error: InputError, sent: Sent) -> InputError:
    """A fault with the file called as its owner calls it, and without the options of the command."""
    if isinstance(error, FileError):
        return FileError([_called(one, sent) for one in error.errors])
    file = sent.name if error.file == str(sent.path) else error.file
    return InputError(
        error.message, file=file, line=error.line, field=error.field.removeprefix("--"), found=error.found,
        allowed=OPTION.sub("", error.allowed), nearest=error.nearest,
    )  # fmt: skip


def _sent(request: Request, token: str) -> Sent:
    found = uploads_of(request).find(token)
    if found is None:
        raise HTTPException(404, "That file is not here any more; send it again")
    return found


def _key(token: str) -> str:
    return f"import/{token}"


@router.get("/{token}")
def look(request: Request, token: str) -> Response:
    """How the file would be read; while it is stored, how far that is; then what became of it."""
    sent = _sent(request, token)
    jobs = request.app.state.jobs
    done = jobs.done(_key(token))
    if done is not None:
        return _report(request, done, sent)
    if (job := jobs.going(_key(token))) is not None:
        return page(request, "import_going.html", job=job, sent=sent)
    fault = sent.known.get("fault")
    return _preview(request, sent, 200, faults_of(fault) if fault else [])


def _preview(
    request: Request, sent: Sent, status: int, faults: list[dict[str, Any]], entry: dict[str, str] | None = None
) -> Response:
    mapping: Mapping = sent.known["mapping"]
    answers = entry or sent.known.get("answers") or {}
    zone_open = mapping.zone != "told" and not mapping.form.startswith("epoch")
    zone = answers.get("zone") or mapping.zone or workshop_at(request).zone.key
    try:
        # a zone that is asked for is shown as it stands in the form
        shown = confirm(mapping, zone=zone) if zone_open and not mapping.zone else mapping
        times, values = first_readings(sent.path, shown)
    except InputError as problem:
        times, values = [], [[] for _ in mapping.columns]
        faults = faults + faults_of(_called(problem, sent))
    with reading(workshop_at(request).engine) as connection:
        elsewhere = same_elsewhere(connection, str(sent.known["logger"]), times, values)
    whole: Mapping = sent.known["first"]
    # what was left out can be taken in again
    named = dict(zip((c.channel for c in mapping.columns), values, strict=True))
    why = {d.what: d for d in whole.decisions}
    columns = [(one, named.get(one.channel), _units(one), why.get(one.channel)) for one in whole.columns]
    asked = {d.what for d in mapping.asked}
    decisions = [d for d in mapping.decisions if d.what not in {c.channel for c in whole.columns}]
    order_open = mapping.form == "date" and "order" in why and why["order"].confidence != "sure"
    return page(
        request, "import_preview.html", status, sent=sent, known=sent.known, mapping=mapping, columns=columns,
        decisions=decisions, asked=asked, times=times, faults=faults, orders=ORDERS,
        zone_open=zone_open, zone=zone, order_open=order_open, left_out=LEFT_OUT, elsewhere=elsewhere,
    )  # fmt: skip


def _units(column: Column) -> tuple[str, ...]:
    from nestwright.sensing.loggers.answers import units_of

    return units_of(column)


@router.post("/{token}/drop")
def drop(request: Request, token: str) -> Response:
    """Forget a file that is not to be stored."""
    sent = _sent(request, token)
    job = request.app.state.jobs.going(_key(token))
    if job is not None:
        job.stop()
    uploads_of(request).drop(token)
    return RedirectResponse(f"/import?logger={step(str(sent.known['logger']))}", 303)


@router.post("/{token}")
def answer(
    request: Request,
    token: str,
    zone: Annotated[str, Form()] = "",
    order: Annotated[str, Form()] = "",
    unit: Annotated[list[str] | None, Form()] = None,
    act: Annotated[str, Form()] = "",
) -> Response:
    """Put the answers in (a unit for each column): shown again with them, or stored."""
    from nestwright.sensing.loggers.answers import answered, refuse_open, zone_wanted

    sent = _sent(request, token)
    jobs = request.app.state.jobs
    if jobs.going(_key(token)) or jobs.done(_key(token)) is not None:
        return RedirectResponse(f"/import/{token}", 303)
    first: Mapping = sent.known["first"]
    told = {"zone": zone.strip()[:80], "order": order}
    try:
        units, leave_out = [], []
        for column, said in zip(first.columns, unit or [], strict=False):
            if said == LEFT_OUT:
                leave_out.append(column.channel)
            elif said != column.unit or any(d.what == column.channel for d in first.asked):
                units.append(f"{column.channel}={said}")
        wanted = zone_wanted(first, told["zone"] or None)
        _same_zone(sent, wanted)
        if order == first.order and not any(d.what == "order" for d in first.asked):
            order = ""
        if wanted == first.zone:
            wanted = None  # nothing new is said
        sent.known["mapping"] = answered(first, wanted, order or None, units, leave_out)
        sent.known["answers"], sent.known["fault"] = told, None
        if act == "store":
            refuse_open(sent.known["mapping"], sent.path, yes=True)
    except InputError as error:
        return _preview(request, sent, 422, faults_of(_called(error, sent)), told)
    if act == "store":
        work = partial(_store, workshop_at(request), sent)
        title = f"Storing readings of {sent.known['logger']}"
        jobs.start(_key(token), title, f"/import/{token}", work)
    return RedirectResponse(f"/import/{token}", 303)


def _same_zone(sent: Sent, zone: str | None) -> None:
    kept: Mapping | None = sent.known["kept"]
    if kept is not None and zone is not None and kept.zone not in ("told", "", zone):
        # two zones of one clock would lay the same reading on two moments
        raise InputError(
            "is another zone than that of this logger's earlier files", field="zone", found=repr(zone),
            allowed=f"{kept.zone}, or another name for the logger",
        )  # fmt: skip


def _store(workshop: Workshop, sent: Sent, job: Job) -> ImportedFile:
    from nestwright.workshop.imports import accepted, import_in_pieces

    def told(at: int, size: int) -> None:
        share = at / max(size, 1)
        if share < READING:
            job.report(share)
        else:  # from here on the file is stored whole, whether somebody waits or not
            job.share = max(job.share, min(1.0, share))

    name = str(sent.known["logger"])
    try:
        made = import_in_pieces(
            workshop, f"readings of {name} from {sent.name}", sent.path, name, accepted(sent.known["mapping"]), told
        )
    except InputError as error:
        sent.known["fault"] = _called(error, sent)
        raise sent.known["fault"] from None
    sent.path.unlink(missing_ok=True)
    return made


def _report(request: Request, made: ImportedFile, sent: Sent) -> Response:
    job = request.app.state.jobs.last(_key(sent.token))
    return page(
        request, "import_report.html", made=made, sent=sent, rows=list(made.stored.items()), most=SHOWN_BAD,
        late=job is not None and job.told_to_stop,
        faults=made.faults[:SHOWN_BAD], bad=made.counts.get("faults", 0), counts=made.counts,
        series="/series?" + "&".join([f"channel={step(f'{made.logger}.{name}')}" for name in list(made.stored)[:4]]),
        logger=f"/sensors/{step(made.logger)}",
    )  # fmt: skip
