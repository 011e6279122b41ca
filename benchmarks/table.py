"""One table of all that has to be fast: seconds, a baseline of the same run, what dominates, a bound from arithmetic.

python -m benchmarks (`make bench`). Seconds are of the processor, all threads together, because others may use the
machine; the script of each row tells more. A bound counts exponentials, roots and eliminations of the same method
alone (benchmarks/arithmetic.py), or what is said beside it.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import arithmetic
import cases
from arithmetic import bound, counted, processor_seconds

HABITATS = cases.WORKSHOP / "habitats"


@dataclass(frozen=True)
class Row:
    """Seconds of a task and of its baseline; what dominates the task; seconds below which it cannot come, or None."""

    task: str
    seconds: float
    baseline: str
    base: float
    dominates: str
    bound: float | None = None

    def cells(self) -> list[str]:
        far = "" if self.bound is None else f"{short(self.bound)}, {self.seconds / self.bound:.0f} x"
        return [self.task, short(self.seconds), self.baseline, short(self.base), f"{self.base / self.seconds:.2g}",
                self.dominates, far]  # fmt: skip


HEAD = ["task", "time", "baseline", "its time", "ratio", "what dominates", "bound, distance"]


def short(seconds: float) -> str:
    for unit, size in (("s", 1.0), ("ms", 1e-3)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}"
    return f"{seconds * 1e6:.3g} µs"


def year(rates: dict[str, float]) -> Iterator[Row]:
    from nestwright.climate.proof import settled
    from nestwright.climate.rooms import read_room
    from year import compiled_right, shorten, with_cvode, with_lsoda

    days = 3
    assembly = cases.single_pot()
    room = shorten(read_room(str(cases.WORKSHOP / "rooms" / "living-room.toml")), days)
    y0, _ = settled(assembly, float(room.temperature[0]), float(room.vapour_pressure[0]))
    own = processor_seconds(cases.run_of(days)) * 365 / days
    right = compiled_right(assembly, room)
    low = bound(counted("year"), rates) * 365
    what = "rates and slopes, about 4/5 of a step; then elimination"
    cvode = processor_seconds(lambda: with_cvode(assembly, room, y0, 1e-3, 1e-6, right), 1) * 365 / days
    yield Row("single pot, a year from 3 days", own, "CVODE, the same rates, 1e-6", cvode, what, low)
    began = time.process_time()
    with_lsoda(assembly, shorten(room, 1), y0, 3.0)
    lsoda = (time.process_time() - began) * 365
    yield Row("the same", own, "SciPy's LSODA, NumPy rates, from 1 day", lsoda, what, low)


def steady(rates: dict[str, float]) -> Iterator[Row]:
    from nestwright.climate.room_window import window
    from nestwright.habitat.file import read_habitat

    one = processor_seconds(cases.rest(), 50)
    low = bound(counted("rest"), rates)
    yield Row("single pot, steady state", one, "a day of its run", processor_seconds(cases.run_of(1)), "slopes", low)
    for name in ("single-pot", "three-pot", "heated-bench"):
        habitat = read_habitat(HABITATS / f"{name}.toml")
        took = processor_seconds(lambda h=habitat: window(h), 3)
        last = 3600 * low if name == "single-pot" else None
        base, what = "3,600 steady states of the pot", "slopes and elimination"
        yield Row(f"window 60 × 60, {name}", took, base, 3600 * one, what, last)


def colony(rates: dict[str, float]) -> Iterator[Row]:
    from colony import RECORD, calls, with_lsoda
    from nestwright.colony.file import read_colony
    from nestwright.colony.fit import fit
    from nestwright.colony.problem import pose

    made = pose(read_colony(RECORD))
    p = made.vectors(np.zeros((1, len(made.free))))[0]
    one = processor_seconds(cases.likelihood(), 50)
    base = processor_seconds(lambda: with_lsoda(made, p, 1e-6), 3)
    low = bound(counted("likelihood"), rates)
    yield Row("likelihood of 120 days", one, "SciPy's LSODA, NumPy rates, run alone", base, "sums of 38 stages", low)
    fit(made.colony, particles=50)
    began = time.process_time()
    n = calls(lambda: fit(made.colony))
    whole = time.process_time() - began
    yield Row(f"fit, {n:,} likelihoods", whole, "its likelihoods alone", n * one, "likelihoods", n * low)
    many = processor_seconds(cases.paths(400), 3) / 400
    calm = processor_seconds(cases.without_chance(), 20)
    yield Row("path of 90 days with chance", many, "the same without chance", calm, "random numbers",
              bound(counted("path"), rates))  # fmt: skip


def parcels(rates: dict[str, float]) -> Iterator[Row]:
    from nestwright.parcel.runs import FINE

    many = processor_seconds(cases.parcels(100), 3) / 100
    fine = processor_seconds(cases.parcels(1, FINE), 5)
    yield Row("one of many parcels, winter", many, "one fine run", fine, "rates and slopes",
              bound(counted("parcel"), rates))  # fmt: skip


def readings(rates: dict[str, float]) -> Iterator[Row]:
    from nestwright.sensing.loggers import read_readings, recognise
    from readings import DIALECTS, by_pandas, write

    with tempfile.TemporaryDirectory() as folder:
        path, dialect = Path(folder) / "log.csv", DIALECTS[1]
        write(path, dialect, 200_000)
        mapping = recognise(path, dialect.zone)
        ours = processor_seconds(lambda: read_readings(path, mapping), 3)
        theirs = processor_seconds(lambda: by_pandas(path, dialect), 1)
        low = path.stat().st_size / rates["bytes"]
    yield Row("read 200,000 rows, d.m.y, Berlin", ours, "pandas, told the form", theirs, "times out of text",
              low)  # fmt: skip


def nesting(rates: dict[str, float]) -> Iterator[Row]:
    from nesting import SETS, strip_of_boxes, strip_of_outlines

    shapes = SETS["a habitat's mix, four times"]
    ours = processor_seconds(lambda: strip_of_boxes(shapes), 3)
    began = time.perf_counter()
    ratio = strip_of_boxes(shapes) / strip_of_outlines(shapes)
    theirs = time.perf_counter() - began
    yield Row(f"nesting of 56 pieces, {ratio:.2f} of the length", ours, "free outlines, given 6 s", theirs, "search")


def ensembles(rates: dict[str, float]) -> Iterator[Row]:
    from scaling import wall_of_years

    one, two = wall_of_years(1), wall_of_years(2)
    yield Row("8 years, two processes, by the clock", two, "one process", one, "the years; starting; others here",
              one / 2)  # fmt: skip


def starting(rates: dict[str, float]) -> Iterator[Row]:
    command, file = [sys.executable, "-m", "nestwright"], str(HABITATS / "single-pot.toml")
    bare = _child([sys.executable, "-c", "pass"])
    yield Row("nestwright --help", _child([*command, "--help"]), "python -c pass", bare, "imports", bare)
    climate = _child([*command, "climate", file, "--room", "21 degC, 45 %"])
    numba = _child([sys.executable, "-c", "import numba, scipy.optimize, pydantic, rich"])
    yield Row("nestwright climate, a fixed room", climate, "import of its libraries", numba, "imports", numba)


def _child(command: list[str]) -> float:
    """Least seconds of the processor of a command, of three."""

    def used() -> float:
        now = resource.getrusage(resource.RUSAGE_CHILDREN)
        return now.ru_utime + now.ru_stime

    best = float("inf")
    for _ in range(4):
        before = used()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        best = min(best, used() - before)
    return best


PARTS: tuple[Callable[[dict[str, float]], Iterator[Row]], ...] = (
    year, steady, colony, parcels, readings, nesting, ensembles, starting
)  # fmt: skip


def main() -> None:
    """Print the table, a row as soon as it is measured."""
    rates = arithmetic.machine()
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; compiled and alone: exp {1e9 * rates['exp']:.1f} "
          f"ns, root {1e9 * rates['sqrt']:.2f} ns, multiply-and-add {1e9 * rates['multiply']:.2f} ns, copy "
          f"{rates['bytes'] / 1e9:.0f} GB/s\n")  # fmt: skip
    print(f"| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}", flush=True)
    for part in PARTS:
        for row in part(rates):
            print(f"| {' | '.join(row.cells())} |", flush=True)
