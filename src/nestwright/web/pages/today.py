"""Today: what to do now and why, alarms, every colony and build at a glance."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from nestwright.web.render import page

router = APIRouter()


@router.get("/")
def today(request: Request) -> Response:
    """The first page."""
    return page(request, "today.html")
