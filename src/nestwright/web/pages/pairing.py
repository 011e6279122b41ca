"""Pairing: a phone is let in by a code that the bench's screen shows."""

from __future__ import annotations

import secrets
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError
from nestwright.letters import one_line
from nestwright.units import UnitProblem
from nestwright.web.devices import LIFE, cookie_name
from nestwright.web.render import page

router = APIRouter(prefix="/pair")
YEAR = 365 * 86400


@router.get("")
def ask(request: Request, code: str = "") -> Response:
    """The form for the code; a code out of the QR picture stands in it already."""
    return page(request, "pair.html", code="".join(c for c in code if c.isdigit())[:8], wrong=False, wait=0)


@router.post("")
def pair(request: Request, code: Annotated[str, Form()] = "", name: Annotated[str, Form()] = "") -> Response:
    """Pair the device that asks, for the right code."""
    try:
        called = one_line(name.strip())[:60] or f"phone {secrets.randbelow(900) + 100}"
    except UnitProblem as problem:
        raise InputError(problem.message, field="name", found=problem.found, allowed=problem.allowed) from None
    if wait := request.app.state.devices.wait():
        answer = page(request, "pair.html", 429, code="", wrong=False, wait=wait)
        answer.headers["retry-after"] = str(wait)
        return answer
    secret = request.app.state.devices.pair(code[:40], called)
    if not secret:
        return page(request, "pair.html", 403, code="", wrong=True, wait=0)
    let_in = RedirectResponse("/", 303)
    secure = request.scope["scheme"] == "https"
    name_of = cookie_name(secure)
    let_in.set_cookie(name_of, secret, max_age=YEAR, httponly=True, samesite="strict", secure=secure)
    return let_in


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
    certificate = getattr(request.app.state, "certificate", None)
    return page(
        request,
        "pair_open.html",
        code=code,
        address=address,
        picture=picture,
        minutes=LIFE // 60,
        trust=certificate is not None and bool(certificate.authority),
    )
