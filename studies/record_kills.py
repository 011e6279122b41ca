"""Kill a process at random moments of writing to the record, and look what is there afterwards.

    python studies/record_kills.py 100

A child process writes without pause and tells through a pipe what is done, one line at a time, after the transaction or
the file was finished. It is killed (SIGKILL) at a random moment. Then the database is opened: its own checks must find
nothing, whatever was told as done must be there, and nothing may be there by half. Four kinds of work take turns:

- visits, each with two counts, brood, a feeding and a donation that stands in two histories: 8 rows and their history
- readings, stored 5,000 at a time in one transaction with their sums by the hour
- backups, each in the place of the last one
- exports, each into a new folder
"""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from nestwright.workshop.backup import back_up, restore, verify
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_colony
from nestwright.workshop.database import writing
from nestwright.workshop.exchange import export_record, import_record
from nestwright.workshop.folder import Workshop, create_workshop
from nestwright.workshop.readings import keep_channel, keep_logger, read_hours, read_raw, store_readings
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry, add_visit

BATCH = 5000
LONGEST = 0.25
"""Seconds from the first thing that was told as done to the latest kill."""
Tell = Callable[[str], None]


def begin(folder: Path) -> Workshop:
    """A workshop with two colonies, a logger and a month of its readings."""
    shop = create_workshop(folder, "UTC")
    with writing(shop.engine) as connection:
        done = act(connection, "begin")
        for name in ("Moss", "Fern"):
            add_colony(done, {"name": name, "species": "Acromyrmex echinatior", "start": "2024-03-01"})
        channel = keep_channel(done, keep_logger(done, "L"), "t", "temperature", "degC")
        at = np.arange(43_200) * 60_000
        store_readings(connection, channel, at, 24 + np.sin(at / 1.4e7))
    return shop


def write_visits(shop: Workshop, tell: Tell) -> None:
    n = 0
    while True:
        n += 1
        entry = VisitEntry(
            date(2024, 3, 2) + timedelta(days=n % 300),
            garden_ml=40.0 + n,
            counts=(Count("workers", "exact", 60.0, 60.0), Count("pupae", "guess", 9.0, 9.0)),
            seen=("eggs",),
            feedings=(Feeding(3.0, "g", "bramble"),),
            events=(EventEntry("garden added", "2 mL", other="Moss"),),
            uid=f"{os.getpid()}-{n}",
        )
        with writing(shop.engine) as connection:
            add_visit(act(connection, f"visit {n}"), 2, entry)
        tell(entry.uid)


def write_readings(shop: Workshop, tell: Tell) -> None:
    start = 2_000_000_000_000
    while True:
        at = start + np.arange(BATCH) * 1000
        with writing(shop.engine) as connection:
            store_readings(connection, 1, at, np.linspace(20, 25, BATCH))
        start += BATCH * 1000
        tell(str(start))


def write_backups(shop: Workshop, tell: Tell) -> None:
    n = 0
    while True:
        n += 1
        back_up(shop, shop.folder.parent / "b.zip")
        tell(str(n))


def write_exports(shop: Workshop, tell: Tell) -> None:
    n = 0
    while True:
        n += 1
        export_record(shop, shop.folder.parent / f"open-{n}")
        tell(str(n))


WORK = {"visits": write_visits, "readings": write_readings, "backups": write_backups, "exports": write_exports}


def killed(shop: Workshop, kind: str, rng: random.Random) -> list[str]:
    """Let a child process do its work and kill it; what it had told as done."""
    child = subprocess.Popen([sys.executable, __file__, "--work", kind, str(shop.folder)], stdout=subprocess.PIPE)
    if child.stdout is None:
        raise RuntimeError("no pipe")
    with child.stdout as out:
        told = os.read(out.fileno(), 1)  # something is done: from here on any moment will do
        time.sleep(rng.random() * LONGEST)
        child.kill()
        told += out.read()
    if child.wait() != -signal.SIGKILL or not told:
        raise RuntimeError(f"the child of {kind} ended by itself")
    return told.decode().split("\n")[:-1]


def work(kind: str, folder: Path) -> None:
    """What the child does, until it is killed."""
    WORK[kind](Workshop(folder), lambda text: print(text, flush=True))


def faults(shop: Workshop, kind: str, done: list[str]) -> list[str]:
    """All that is wrong after a kill; nothing, if the record keeps its promises."""
    found = []
    left = [p for p in shop.folder.parent.iterdir() if not p.name.startswith(".")]
    link = sqlite3.connect(shop.database)
    found += [str(r) for r in link.execute("PRAGMA integrity_check") if r[0] != "ok"]
    found += [str(r) for r in link.execute("PRAGMA foreign_key_check")]
    for row, uid in link.execute("SELECT id, uid FROM visit").fetchall():
        parts = [
            link.execute(f'SELECT count(*) FROM "{table}" WHERE visit_id = ?', (row,)).fetchone()[0]
            for table in ("count", "brood", "feeding", "event")
        ]
        other = link.execute("SELECT count(*) FROM event WHERE uid = ?", (f"{uid}-0-other",)).fetchone()[0]
        history = link.execute(
            "SELECT count(*) FROM change WHERE act LIKE 'visit %' AND of_table = 'visit' AND row = ?", (row,)
        )
        if (*parts, other, history.fetchone()[0]) != (2, 1, 1, 1, 1, 1):
            found.append(f"visit {uid} is there by half: {parts}, {other}")
    uids = {uid for (uid,) in link.execute("SELECT uid FROM visit")}
    link.close()
    if kind == "visits":
        found += [f"visit {uid} was told as done and is gone" for uid in done if uid not in uids]
    with writing(shop.engine) as connection:  # a writer gets its turn at once
        series, hours = read_raw(connection, 1), read_hours(connection, 1)
    late = series.at[series.at >= 2_000_000_000_000]
    if len(late) % BATCH:
        found.append(f"{len(late) % BATCH} readings of a batch are there by half")
    if kind == "readings" and int(done[-1]) > int(late[-1]) + 1000:
        found.append(f"readings until {done[-1]} were told as done and are gone")
    if int(hours.n.sum()) != len(series.at):
        found.append("the sums by the hour do not fit the readings")
    for path in left:
        if path.name == "b.zip":
            verify(path)
            restore(path, path.with_name("restored"))
            shutil.rmtree(path.with_name("restored"))
        elif path.name.startswith("open-") and path.name in (f"open-{done[-1]}", f"open-{int(done[-1]) + 1}"):
            import_record(path, path.with_name("imported"))
            shutil.rmtree(path.with_name("imported"))
    if kind == "backups" and not (shop.folder.parent / "b.zip").exists():
        found.append("a backup was told as done and is gone")
    if kind == "exports" and not (shop.folder.parent / f"open-{done[-1]}").exists():
        found.append("an export was told as done and is gone")
    for path in shop.folder.parent.iterdir():  # the next kill begins without what this one left
        if path != shop.folder and path.name != "b.zip":
            shutil.rmtree(path) if path.is_dir() else path.unlink()
    return found


def kills(n: int, seed: int = 0) -> tuple[dict[str, list[int]], list[str]]:
    """Kill `n` processes; by kind of work, how many things each had told as done; and every fault found."""
    rng = random.Random(seed)
    done: dict[str, list[int]] = {kind: [] for kind in WORK}
    wrong: list[str] = []
    with tempfile.TemporaryDirectory() as place:
        shop = begin(Path(place) / "shop")
        for i in range(n):
            kind = list(WORK)[i % len(WORK)]
            told = killed(shop, kind, rng)
            done[kind].append(len(told))
            wrong += [f"kill {i}, {kind}: {fault}" for fault in faults(shop, kind, told)]
    return done, wrong


if __name__ == "__main__":
    if sys.argv[1:2] == ["--work"]:
        work(sys.argv[2], Path(sys.argv[3]))
    made, wrong = kills(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
    print("| work | kills | told as done before the kill, in all | lost or there by half |")
    print("|---|---|---|---|")
    for kind, counts in made.items():
        bad = sum(f", {kind}:" in fault for fault in wrong)
        print(f"| {kind} | {len(counts)} | {sum(counts)} | {bad} |")
    print(*wrong, sep="\n")
    sys.exit(bool(wrong))
