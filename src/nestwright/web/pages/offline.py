"""What lets the visit be opened where nothing is reached: the worker that keeps it, and what a phone installs."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, Response

from nestwright.web.render import _asset, workshop_at

router = APIRouter()
STATIC = Path(__file__).parents[1] / "static"
SIZES = (192, 512)
"""px of the icons, made from icon.svg."""


@cache
def _worker() -> str:
    # one file: a worker that is not a module cannot import, and the sum of what it does tells a browser that it is new
    return "\n".join((STATIC / name).read_text("utf-8") for name in ("queue.js", "sw.js"))


@router.get("/sw.js", include_in_schema=False)
def worker() -> Response:
    """The worker. It may look after the whole page, and is asked for anew each time."""
    return Response(_worker(), media_type="text/javascript", headers={"service-worker-allowed": "/"})


@router.get("/manifest.webmanifest", include_in_schema=False)
def manifest(request: Request) -> Response:
    """What a phone needs to keep the visit among its programs (W3C Web Application Manifest)."""
    icons = [
        {"src": _asset(f"icon-{px}.png"), "sizes": f"{px}x{px}", "type": "image/png", "purpose": "any maskable"}
        for px in SIZES
    ]
    told = {
        "name": f"Nestwright: {workshop_at(request).folder.resolve().name}",
        "short_name": "Nestwright",
        "id": "/visit",
        "start_url": "/visit",
        "scope": "/",
        "display": "standalone",
        "background_color": "#171a16",
        "theme_color": "#171a16",
        "icons": icons,
    }
    return JSONResponse(told, media_type="application/manifest+json")
