"""Pairing: a phone is let in by a code that the bench's screen shows."""

from __future__ import annotations

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.letters import one_line
from nestwright.units import UnitProblem
from nestwright.web.devices import COOKIE, LIFE
from nestwright.web.render import page

router = APIRouter(prefix="/pair")
YEAR = 365 * 86400


@router.get("")
def ask(request: Request, code: str = "") -> Response:
    """The form for the code; a code out of the QR picture stands in it already."""
    return page(request, "pair.html", code="".join(c for c in code if c.isdigit())[:8], wrong=False)


@router.post("")
def pair(request: Request, code: Annotated[str, Form()] = "", name: Annotated[str, Form()] = "") -> Response:
    """Pair the device that asks, for the right code."""
    try:
        called = one_line(name.strip())[:60] or f"phone {secrets.randbelow(900) + 100}"
    except UnitProblem as problem:
        raise InputError(problem.message, field="name", found=problem.found, allowed=problem.allowed) from None
    secret = request.app.state.devices.pair(code[:40], called)
    if not secret:
        return page(request, "pair.html", 403, code="", wrong=True)
    answer = RedirectResponse("/", 303)
    secure = request.url.scheme == "https"
    answer.set_cookie(COOKIE, secret, max_age=YEAR, httponly=True, samesite="strict", secure=secure)
    return answer


@router.get("/open")
def show_code(request: Request) -> Response:
    """A new code, on the bench's own screen only."""
    if not getattr(request.state, "bench", False):
        raise HTTPException(403, "only on the screen of the computer that the page runs on")
    import segno

    code = request.app.state.devices.open_code()
    address = f"{request.app.state.addresses[0]}/pair" if getattr(request.app.state, "addresses", ()) else "/pair"
    picture = segno.make(f"{address}?code={code}", error="m").svg_inline(
        scale=6, border=3, dark="#22261f", light="#fff"
    )
    return page(request, "pair_open.html", code=code, address=address, picture=picture, minutes=LIFE // 60)
