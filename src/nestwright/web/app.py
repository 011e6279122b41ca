"""The application: its pages, what stands before them, and its files."""

from __future__ import annotations

import importlib
from pathlib import Path

from fastapi import Depends, FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware

from nestwright import __version__
from nestwright.web.devices import Devices
from nestwright.web.faults import add_faults, known_only
from nestwright.web.guard import Guard
from nestwright.web.jobs import Jobs
from nestwright.web.watch import Watch
from nestwright.workshop.folder import Workshop

__all__ = ["PAGES", "create_app"]

PAGES = (
    "today",
    "calendar",
    "alarms",
    "history",
    "search",
    "settings",
    "pairing",
    "trust",
    "jobs",
    "colonies",
    "photos",
    "parcel_files",
    "parcels",
    "family",
    "outlook",
    "habitats",
    "habitat_parts",
    "sizing",
    "builds",
    "papers",
    "sales",
    "climate",
    "visit",
    "offline",
    "sensors",
    "series",
    "sensor_import",
    "calibration",
)
"""Modules of `nestwright.web.pages`; each has a `router`."""
STATIC = Path(__file__).parent / "static"


def create_app(workshop: Workshop, *, names: tuple[str, ...] = (), lan: bool = False) -> FastAPI:
    """The application of one workshop.

    Parameters
    ----------
    names : host names that a request may ask for, besides those of this computer itself.
    lan : let paired devices in from other computers; without, only this computer is answered.
    """
    app = FastAPI(title="Nestwright", version=__version__, docs_url=None, redoc_url=None,
                  dependencies=[Depends(known_only)])  # fmt: skip
    app.state.workshop = workshop
    app.state.devices = Devices(workshop)
    app.state.jobs = Jobs()
    app.state.watch = Watch(workshop, app.state.jobs)
    app.state.lan = lan
    for name in PAGES:
        app.include_router(importlib.import_module(f"nestwright.web.pages.{name}").router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    add_faults(app)
    # level 9, the usual one, takes several times as long for a hundredth less
    app.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    # outermost: what is refused reaches nothing else
    app.add_middleware(Guard, devices=app.state.devices, names=names, lan=lan)
    return app
