"""Years in pieces: 1 against 2 processes, against a cluster of two workers; then a larger cluster, simulated.

python benchmarks/scaling.py. The larger cluster is a discrete simulation, not a measurement: pieces are handed out one
after the other by a scheduler that takes the measured time for each, their bytes go through one link, and workers take
as long as the measured pieces did. The plan for 10,000 habitats in 100 rooms over 30 years is reckoned from the same.
"""

from __future__ import annotations

import heapq
import json
import os
import pickle
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

from nestwright.climate.proof import prove_year
from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.climate.years import prove_years, year_row
from nestwright.habitat.file import read_habitat
from nestwright.habitat.model import Habitat
from nestwright.pieces import Processes, Threads, each, working_at
from nestwright.pieces.cluster import Cluster

WORKSHOP = Path(__file__).parents[1] / "examples" / "workshop"
COUNT = 8
LINK = 125e6
"""Bytes a second of the link out of the computer that hands out: one gigabit."""
SIZES = (2, 8, 32, 128, 512, 2048)
PLAN = (10_000, 100, 30)


def habitats(count: int = COUNT) -> list[Habitat]:
    names = ("single-pot", "three-pot")
    read = [read_habitat(WORKSHOP / "habitats" / f"{name}.toml") for name in names]
    return [replace(read[k % len(read)], name=f"{k}") for k in range(count)]


def room() -> Room:
    return read_room(str(WORKSHOP / "rooms" / "heated-room.toml"))


def wall_of_years(processes: int) -> float:
    """Seconds by the clock of eight years, the start of the processes among them."""
    began = time.perf_counter()
    with working_at(Processes(processes)):
        prove_years(habitats(), [room()])
    return time.perf_counter() - began


def one_piece() -> tuple[np.ndarray, int, int]:
    """Processor seconds of each of eight pieces, bytes of one and of its result."""
    air, seconds = room(), []
    prove_year(habitats(1)[0], air)
    for habitat in habitats():
        began = time.process_time()
        row = year_row(prove_year(habitat, air))
        seconds.append(time.process_time() - began)
    return np.array(seconds), len(pickle.dumps((habitat, air))), len(pickle.dumps(row))


class LocalCluster:
    """A scheduler and two workers as processes of their own."""

    def __enter__(self) -> str:
        self.folder = tempfile.TemporaryDirectory()
        file = Path(self.folder.name) / "scheduler.json"
        self.started = [self._start("dask_scheduler", file, "--port", "0", "--no-dashboard", "--host", "127.0.0.1")]
        while not file.exists() or not file.read_text():
            time.sleep(0.1)
        for _ in range(2):
            self.started.append(self._start("dask_worker", file, "--no-nanny", "--nthreads", "1", "--no-dashboard"))
        return str(json.loads(file.read_text())["address"])

    def _start(self, name: str, file: Path, *more: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", f"distributed.cli.{name}", "--scheduler-file", str(file), *more]
        return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def __exit__(self, *error: object) -> None:
        for one in reversed(self.started):
            one.kill()
            one.wait()
        self.folder.cleanup()


def on_cluster() -> tuple[float, float, float]:
    """Seconds of eight years there the first time and again, and of handing out a piece that does nothing."""
    with LocalCluster() as address, working_at(Cluster(address)):
        times = []
        for _ in range(2):
            began = time.perf_counter()
            prove_years(habitats(), [room()])
            times.append(time.perf_counter() - began)
        began = time.perf_counter()
        each(abs, list(range(2000)), otherwise=Threads)
        return times[0], times[1], (time.perf_counter() - began) / 2000


def simulated(pieces: np.ndarray, workers: int, handing: float, sending: float) -> float:
    """Seconds until the last of these pieces, s each, is done: handed out in turn, sent through one link in turn."""
    free = [0.0] * workers
    heapq.heapify(free)
    handed = sent = end = 0.0
    for seconds in pieces:
        at = heapq.heappop(free)
        handed = max(handed + handing, at - sending)
        sent = max(sent, handed) + sending
        done = max(at, sent) + seconds
        heapq.heappush(free, done)
        end = max(end, done)
    return end


def main() -> None:
    seconds, piece, result = one_piece()
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"a year as a piece: {seconds.mean():.2f} s of processor ({seconds.min():.2f} to {seconds.max():.2f}), "
          f"{piece / 1e3:.0f} kB there, {result / 1e3:.1f} kB back")  # fmt: skip
    one, two = wall_of_years(1), wall_of_years(2)
    first, again, handing = on_cluster()
    print(f"{COUNT} years by the clock: one process {one:.1f} s, two {two:.1f} s ({one / two:.2f} x); cluster of two "
          f"workers {first:.1f} s, again {again:.1f} s; handing out {1e3 * handing:.2f} ms a piece")  # fmt: skip
    drawn = np.random.default_rng(1).choice(seconds, 20_000)
    sending = piece / LINK
    print("\n| workers, simulated | hours for 20,000 years | speed-up | of the ideal |\n|---|---|---|---|")
    for workers in SIZES:
        took = simulated(drawn, workers, handing, sending)
        print(f"| {workers} | {took / 3600:.2f} | {drawn.sum() / took:.0f} | {drawn.sum() / took / workers:.0%} |")
    n, rooms, years = PLAN
    total, pairs = n * rooms * years, n * rooms
    print(
        f"\n{total:,} years: {total * seconds.mean() / 3600:,.0f} hours of a core. A year a piece: handing out "
        f"{total * handing / 3600:.1f} h, {total * piece / 1e12:.1f} TB, {total * sending / 3600:.0f} h of the link. "
        f"A habitat and room a piece: handing out {pairs * handing / 3600:.2f} h; rows {pairs * result / 1e9:.1f} GB"
    )
    print(f"memory of a run of 30 years: {30 * 8760 * 80 * 8 / 1e6:.0f} MB of states at 80 of them an hour")


if __name__ == "__main__":
    main()
