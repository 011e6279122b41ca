"""Imported by the process that commands are forked from: what they work out and show is read and used once, small, so
that none of them reads kernels from disk, makes pages' routes or compiles their templates."""

import tempfile
import threading
from pathlib import Path

from fastapi.testclient import TestClient

import compiling
from nestwright.web.app import create_app
from nestwright.workshop.folder import create_workshop

SHOWN = ("/", "/builds", "/colonies", "/visit", "/sensors", "/series", "/import", "/sales", "/parcels", "/settings")


def pages() -> None:
    with tempfile.TemporaryDirectory() as folder:
        shop = create_workshop(Path(folder) / "shop", "UTC")
        app = create_app(shop)
        bench = TestClient(app, base_url="http://127.0.0.1", client=("127.0.0.1", 1))
        for place in SHOWN:
            assert bench.get(place).status_code == 200, place
        app.state.watch.stop()
        shop.engine.dispose()


compiling.air()
compiling.parcel()
# not the colony's: its kernels run on threads of OpenMP, which no process has that was forked after their first use
pages()
assert threading.active_count() == 1, f"a fork has no thread but its own: {threading.enumerate()}"
