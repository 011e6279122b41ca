"""How long each page of a workshop takes: the first page after the start, and every page first and warm, one at a time.

    python studies/large_workshop.py FOLDER
    python studies/page_speed.py FOLDER [PAGE]

Works on a copy of FOLDER. The pages are those of the application's own routes that are asked with GET, each with a
colony, habitat, build, logger and photo of the record put into its address; what belongs to a work that was begun (its
progress, its pictures) or needs one first is named and left out. Printed slowest first. With PAGE only that one, and
what it spends its time with.
"""

import importlib
import re
import shutil
import signal
import sqlite3
import statistics
import sys
import tempfile
import time
import urllib.error
from pathlib import Path

from page_load import asked, started

from nestwright.web.app import PAGES
from nestwright.web.named import step

TIMES = 5


def addresses(folder: Path) -> tuple[list[str], list[str]]:
    """Addresses of all pages with a record's own names, and the routes that are left out."""
    link = sqlite3.connect(folder / "workshop.db")

    def one(query: str) -> str:
        found = link.execute(query).fetchone()
        return "" if found is None else str(found[0])

    colony = one("SELECT name FROM colony ORDER BY id DESC")
    owner = one("SELECT max(id) FROM colony")
    logger = one("SELECT name FROM logger WHERE id > 0")
    channel = one("SELECT logger.name || '.' || channel.name FROM channel JOIN logger ON logger.id = logger_id")
    visit = one(f"SELECT max(id) FROM visit WHERE colony_id = {owner or 0}")
    put = {
        "stem": sorted(p.stem for p in (folder / "habitats").glob("*.toml"))[-1],
        "serial": one("SELECT serial FROM build"), "logger": logger, "channel": channel,
        "row": one("SELECT id FROM photo"),
    }  # fmt: skip
    end = int(one("SELECT max(at) FROM reading") or 0)
    made, out = [], []
    for name in PAGES:
        for route in importlib.import_module(f"nestwright.web.pages.{name}").router.routes:
            if "GET" not in route.methods:
                continue
            values = put | {"name": colony, "row": visit if name == "visit" else put["row"]}
            kinds = ("forecast", "plan", "diagnosis") if "{kind}" in route.path else ("",)
            for kind in kinds:
                told = re.sub(r"{(\w+)}", lambda m, v=values | {"kind": kind}: step(v.get(m[1]) or m[0]), route.path)
                needed = [one for one in route.dependant.query_params if one.field_info.is_required()]
                if not needed and "%7B" not in told and "{" not in told:
                    made.append(told)
                elif not needed:
                    out.append(route.path)
    names = sorted(p.stem for p in (folder / "habitats").glob("*.toml"))
    made += [f"/compare?a={step(names[0])}&b={step(names[-1])}", "/search?q=colony"]
    day, year = 86_400_000, 365 * 86_400_000
    made += [f"/api/series/{step(channel)}?from={end - span}&to={end}&width=800" for span in (day, 30 * day, year)]
    return made, out


def timed(address: str, place: str) -> tuple[float, float, float, int, str]:
    """First, median and worst ms, bytes, and what went wrong."""
    try:
        first, text = asked(address + place)
        warm = [asked(address + place)[0] for _ in range(TIMES)]
    except urllib.error.HTTPError as error:
        return 0.0, 0.0, 0.0, 0, str(error)
    return first, statistics.median(warm), max(warm), len(text), ""


def profiled(folder: Path, place: str) -> None:
    """What the server of a page spends its time with, warm."""
    import cProfile
    import pstats

    from starlette.testclient import TestClient

    from nestwright.web.app import create_app
    from nestwright.workshop.folder import Workshop

    client = TestClient(create_app(Workshop(folder)), base_url="http://127.0.0.1")
    client.get(place)
    spent = cProfile.Profile()
    # routes are called in threads of their own: the thread that counts is told by the events' loop
    import asyncio

    import anyio.to_thread

    async def here(call, *arguments, **_):  # type: ignore[no-untyped-def]
        await asyncio.sleep(0)
        return spent.runcall(call, *arguments)

    anyio.to_thread.run_sync = here  # type: ignore[assignment]
    client.get(place)
    pstats.Stats(spent).sort_stats("cumtime").print_stats(40)


def main(folder: str, only: str = "") -> None:
    with tempfile.TemporaryDirectory() as name:
        copy = Path(name) / "workshop"
        shutil.copytree(folder, copy)
        if only:
            profiled(copy, only)
            return
        places, out = addresses(copy)
        begun = time.perf_counter()
        page, address = started("serve", "--port", "0", "--workshop", str(copy))
        try:
            told = time.perf_counter() - begun
            first, _ = asked(address + "/")
            print(f"address told after {told:.2f} s, first page {first:.0f} ms after that\n")
            found = {place: timed(address, place) for place in places}
        finally:
            page.send_signal(signal.SIGINT)
            page.wait(30)
    print(f"{'page':60}{'first ms':>10}{'warm ms':>9}{'worst ms':>10}{'kB':>7}")
    for place, (first, warm, worst, size, fault) in sorted(found.items(), key=lambda one: -one[1][1]):
        print(f"{place:60}{first:10.0f}{warm:9.0f}{worst:10.0f}{size / 1e3:7.0f}  {fault}")
    print(f"\nleft out: {', '.join(out)}")


if __name__ == "__main__":
    main(*sys.argv[1:])
