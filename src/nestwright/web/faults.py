"""What a reader is told when something is wrong: one clear message, never a traceback."""

from __future__ import annotations

import logging
from typing import Any

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from nestwright.errors import FileError, InputError
from nestwright.web.render import faults_of, page

__all__ = ["add_faults", "wants_json"]

TITLES = {404: "There is no such page", 405: "That cannot be done here", 413: "Too large"}


def wants_json(request: Request) -> bool:
    """Whether a script asks, not a person's browser."""
    return "text/html" not in request.headers.get("accept", "text/html") or request.url.path.startswith("/api/")


def add_faults(app: FastAPI) -> None:
    """Set how the application answers each kind of fault: 422 for input that cannot be used, 404 and the like, 500."""

    async def bad_input(request: Request, error: Any) -> Response:
        return _answer(request, 422, "That cannot be used", faults_of(error))

    async def bad_request(request: Request, error: Any) -> Response:
        told = [
            {"message": one["msg"], "field": str(one["loc"][-1]), "found": "", "allowed": "", "line": "", "file": "",
             "nearest": "", "text": f"{one['loc'][-1]}: {one['msg']}"}
            for one in error.errors()
        ]  # fmt: skip
        return _answer(request, 422, "That cannot be used", told)

    async def other(request: Request, error: Any) -> Response:
        title = TITLES.get(error.status_code, str(error.detail))
        return _answer(request, error.status_code, title, [], getattr(error, "headers", None))

    async def fault(request: Request, error: Exception) -> Response:
        logging.getLogger("nestwright.web").exception("%s %s", request.method, request.url.path, exc_info=error)
        return _answer(request, 500, "A fault in the program; nothing was written", [])

    app.add_exception_handler(InputError, bad_input)
    app.add_exception_handler(FileError, bad_input)
    app.add_exception_handler(RequestValidationError, bad_request)
    app.add_exception_handler(HTTPException, other)
    app.add_exception_handler(Exception, fault)


def _answer(
    request: Request, status: int, title: str, faults: list[dict[str, Any]], headers: dict[str, str] | None = None
) -> Response:
    if wants_json(request):
        return JSONResponse({"error": title, "faults": faults}, status, headers)
    made = page(request, "fault.html", status, title=title, faults=faults)
    for name, value in (headers or {}).items():
        made.headers[name] = value
    return made
