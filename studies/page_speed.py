"""How long each page of a workshop takes: the first page after the start, and every page first and warm, one at a time.

    python studies/large_workshop.py FOLDER
    python studies/page_speed.py FOLDER [PAGE]

Works on a copy of FOLDER. The pages are those of the application's own routes that are asked with GET, each with a
colony, habitat, build, logger and photo of the record put into its address; what belongs to a work that was begun (its
progress, its pictures) or needs one first is named and left out. Slowest first; on a machine that others use the
processor's time (of all threads of the server, where the system tells) says more than the clock. With PAGE only that
one, and what it spends its time with.
"""

import importlib
import os
import re
import shutil
import signal
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.error
from dataclasses import dataclass
from pathlib import Path

from page_load import asked, started

from nestwright.web.app import PAGES
from nestwright.web.named import step

TIMES = 8


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


@dataclass(frozen=True)
class Timed:
    """ms of the clock the first time, warm in the middle and at worst; ms of the processor warm; bytes."""

    first: float
    warm: float
    worst: float
    processor: float
    size: int


def spent(process: subprocess.Popen[str]) -> float:
    """Seconds of the processor that a process has used; 0 where the system does not tell."""
    try:
        told = Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def timed(process: subprocess.Popen[str], address: str, place: str) -> Timed | str:
    """A page first and warm, or what went wrong with it."""
    try:
        first, text = asked(address + place)
        begun = spent(process)
        warm = [asked(address + place)[0] for _ in range(TIMES)]
    except urllib.error.HTTPError as error:
        return str(error)
    used = 1e3 * (spent(process) - begun) / TIMES
    return Timed(first, statistics.median(warm), max(warm), used, len(text))


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
            found = {place: timed(page, address, place) for place in places}
        finally:
            page.send_signal(signal.SIGINT)
            page.wait(30)
    print(f"{'page':60}{'first ms':>10}{'warm ms':>9}{'worst ms':>10}{'processor ms':>14}{'kB':>7}")
    told_of = {place: one for place, one in found.items() if isinstance(one, Timed)}
    for place, one in sorted(told_of.items(), key=lambda pair: -pair[1].processor):
        shown = place if len(place) < 59 else f"{place[:56]}..."
        print(f"{shown:60}{one.first:10.0f}{one.warm:9.0f}{one.worst:10.0f}{one.processor:14.0f}{one.size / 1e3:7.0f}")
    out += [f"{place} ({one})" for place, one in found.items() if isinstance(one, str)]
    print(f"\nleft out: {', '.join(out)}")


if __name__ == "__main__":
    main(*sys.argv[1:])
