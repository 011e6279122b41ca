"""What a reader is told when something is wrong: one clear message, never a traceback."""

from __future__ import annotations

import logging
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from nestwright.errors import FileError, InputError, nearest_name
from nestwright.extras import missing
from nestwright.units import shown
from nestwright.web.guard import HEADERS
from nestwright.web.preferences import preferences_of
from nestwright.web.refused import rows_in
from nestwright.web.render import faults_of, page
from nestwright.web.shown import Shown
from nestwright.web.words import words_of
from nestwright.workshop.database import NewerFormError

__all__ = ["add_faults", "known_only", "wants_json"]

TITLES = {
    404: "There is no such page",
    405: "That cannot be done here",
    413: "Too large",
    501: "That cannot be done with what is installed",
    503: "This workshop has been brought to a newer form: start nestwright serve anew",
}


def wants_json(request: Request) -> bool:
    """Whether a script asks, not a person's browser."""
    return "text/html" not in request.headers.get("accept", "text/html") or request.url.path.startswith("/api/")


def known_only(request: Request) -> None:
    """Refuse an address that asks for what its page does not know, as "/history?page=2". Raises InputError.

    Every page knows `done`, the step that was just recorded (`render.page`).
    """
    known = {one.alias for one in request.scope["route"].dependant.query_params}
    for name in request.query_params if request.method == "GET" else ():
        if name not in known and name != "done":
            told, value = name[:80], shown(request.query_params[name][:80])
            words = ", ".join(sorted(known)) or "nothing"
            raise InputError("is nothing that this page can be asked for", field=told, found=value, allowed=words,
                             nearest=nearest_name(told, known))  # fmt: skip


def add_faults(app: FastAPI) -> None:
    """Set how the application answers each kind of fault: 422 for input that cannot be used, 404 and the like, 501
    where a library is not installed, 503 once a newer version of the program has the record, 500."""

    async def bad_input(request: Request, error: Any) -> Response:
        return _answer(request, 422, "That cannot be used", faults_of(error))

    async def newer(request: Request, error: Any) -> Response:
        try:
            return _answer(request, 503, TITLES[503], faults_of(error))
        except NewerFormError:  # not even the workshop's time zone was read before
            return PlainTextResponse(f"{TITLES[503]}\n{error}\n", 503)

    async def bad_request(request: Request, error: Any) -> Response:
        found = error.errors()
        if any(one["loc"][:1] == ("path",) for one in found):
            return _answer(request, 404, TITLES[404], [])
        return _answer(request, 422, "That cannot be used", faults_of(FileError([_refused(one) for one in found[:20]])))

    async def other(request: Request, error: Any) -> Response:
        title = TITLES.get(error.status_code, str(error.detail))
        return _answer(request, error.status_code, title, [], getattr(error, "headers", None))

    async def absent(request: Request, error: Any) -> Response:
        found = missing(error.name or "")
        return await fault(request, error) if found is None else _answer(request, 501, TITLES[501], faults_of(found))

    async def fault(request: Request, error: Exception) -> Response:
        logging.getLogger("nestwright.web").exception("%s %s", request.method, request.url.path, exc_info=error)
        # answered outside of the guard, which sets these for all others
        return _answer(request, 500, "A fault in the program; nothing was written", [], HEADERS)

    app.add_exception_handler(NewerFormError, newer)
    app.add_exception_handler(InputError, bad_input)
    app.add_exception_handler(FileError, bad_input)
    app.add_exception_handler(RequestValidationError, bad_request)
    app.add_exception_handler(HTTPException, other)
    app.add_exception_handler(ModuleNotFoundError, absent)
    app.add_exception_handler(Exception, fault)


_SORTS = {
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "string": "a text",
    "dict": "a table of names and values",
    "list": "a list",
    "model": "a table of names and values",
    "datetime": "a moment as 2026-03-01T08:00:00Z",
    "date": "a day as 2026-03-01",
}
"""First word of a kind of fault, as pydantic names them, to what may stand there."""


def _refused(found: dict[str, Any]) -> InputError:
    """A value of an address or of a form that is none, in this tool's words."""
    field, kind, context = str(found["loc"][-1])[:80], str(found["type"]), found.get("ctx") or {}
    if kind == "missing":
        return InputError("is missing", field=field)
    if kind == "json_invalid":
        return InputError("is not JSON", field="the body")
    ends = (("at least", "ge", "min_length"), ("above", "gt", ""), ("at most", "le", "max_length"), ("below", "lt", ""))
    allowed = " and ".join(f"{word} {context[key]}" for word, *keys in ends for key in keys if key in context)
    if "length" in kind or kind.startswith("too_"):
        sort = "long" if kind.endswith("too_long") else "short"
        return InputError(f"is too {sort}", field=field, allowed=allowed)
    if kind == "literal_error":
        return InputError("is none of the words", field=field, found=shown(found.get("input")),
                          allowed=str(context.get("expected", "")))  # fmt: skip
    if allowed:
        return InputError("is out of range", field=field, found=shown(found.get("input")), allowed=allowed)
    sort = _SORTS.get(kind.split("_")[0], "")
    return InputError("is of the wrong sort", field=field, found=shown(found.get("input")), allowed=sort)


def _answer(
    request: Request, status: int, title: str, faults: list[dict[str, Any]], headers: dict[str, str] | None = None
) -> Response:
    if wants_json(request):
        # no moment is told, so that the workshop's zone is not asked for: its record may not be readable
        show = Shown(preferences_of(request), ZoneInfo("UTC"), date.today())
        told = {"error": words_of(show.choice.language).gettext(title), "faults": rows_in(faults, show)}
        return JSONResponse(told, status, headers)
    made = page(request, "fault.html", status, title=title, faults=faults)
    for name, value in (headers or {}).items():
        made.headers[name] = value
    return made
