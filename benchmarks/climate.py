"""Steady states, windows, cost against hours and chambers, cold start. python benchmarks/climate.py

Baselines of the same run stand beside each figure: SciPy's root finder on the NumPy rates for a steady state, the same
network with half the hours or chambers for the growth of cost.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from nestwright.climate.proof import settled, simulate
from nestwright.climate.room_air import Room
from nestwright.climate.room_window import window
from nestwright.data import load_species
from nestwright.habitat.assemble import assemble
from nestwright.habitat.file import read_habitat
from nestwright.network.arrays import ACCOUNTS
from nestwright.network.builder import ROOM, Builder, Network
from nestwright.network.integrate import ORDER4, run
from nestwright.network.steady import settle
from numpy_rates import numpy_rates

HABITATS = Path(__file__).parents[1] / "examples" / "workshop" / "habitats"


def clock(task, repeat: int = 5) -> float:
    """Median seconds of a task that has been run once before."""
    task()
    times = []
    for _ in range(repeat):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return sorted(times)[repeat // 2]


def row_of_chambers(count: int) -> Network:
    """Chambers in a row, each with two walls that can be wet, a vent, and a tube to the next."""
    b = Builder()
    zones = [b.zone(f"c{n}", 1e-3) for n in range(count)]
    d = np.array([2.5e-5, 1.6e-5, 2.0e-5, 2.2e-5])
    for n, z in enumerate(zones):
        side, lid = b.node(f"side{n}", 80.0, 0.0, 1e-6), b.node(f"lid{n}", 25.0, 0.0, 1e-6)
        for node, area in ((side, 0.04), (lid, 0.008)):
            b.connect(node, ROOM, 5 * area)
            b.surface(z, node, area, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=2e-4 * area)
        b.connect(side, lid, 0.02)
        b.opening(z, ROOM, tuple(d * 0.01), 0.05, 2e4, 2e9, (1e-5, 1e-6, 0.0))
        if n:
            b.opening(zones[n - 1], z, tuple(d * 2e-3), 0.02, 5e3, 1e8, (1e-5, 1e-6, 0.0))
    block = b.node("block", 100.0, 50.0, 1e-2, store=True)
    b.surface(zones[0], block, 0.006, 0.5, 2.0, 1.0, lewis=9.4e-4, scale=2e-3)
    b.connect(block, ROOM, 0.5)
    return b.finish()


def room_year(days: int) -> Room:
    t = np.arange(days * 24 + 1) * 3600.0
    warm = 294.15 + 2 * np.sin(2 * np.pi * t / 86400) + 3 * np.sin(2 * np.pi * t / 31536000)
    return Room("swing", t, warm, 1200 + 200 * np.sin(2 * np.pi * t / 777600))


def steady_and_window() -> None:
    for name in ("single-pot", "three-pot", "heated-bench"):
        habitat = read_habitat(HABITATS / f"{name}.toml")
        assembly = assemble(habitat, load_species(habitat.species))
        net = assembly.network.net
        start = assembly.network.initial(294.15, 1120.0)
        own = clock(lambda net=net, start=start: settle(net, start.copy(), np.zeros(len(ACCOUNTS)), 10.0, 200))
        calm, rates, on = settled(assembly, 294.15, 1120.0)[0], numpy_rates(net), np.ones(len(net.heater))
        began = time.perf_counter()
        solve_ivp(lambda t, y: rates(t, y, np.zeros(2), on), (0, 6 * 3600.0), calm, "LSODA", rtol=1e-4, atol=1e-5)  # noqa: B023
        base = time.perf_counter() - began
        grid = clock(lambda h=habitat: window(h), 3)
        print(
            f"{name}: {net.size} states; steady state {own * 1e3:.2f} ms (LSODA on NumPy rates, 6 h of settling only: "
            f"{base / own:.0f} x); window 60 x 60 {grid:.2f} s ({grid / 3600 / own:.2f} of 3600 single ones)"
        )


def growth() -> None:
    room = room_year(60)
    last = None
    print("chambers  states  s a 60-day run  steady ms  growth of the run per doubling")
    for count in (2, 5, 10, 20, 40):
        network = row_of_chambers(count)
        net = network.net
        knots = np.column_stack([room.time, room.temperature - 298.15, room.vapour_pressure / room.pressure])
        y0 = network.initial(294.15, 1200.0)
        settle(net, y0, np.zeros(len(ACCOUNTS)), 10.0, 200)

        def task(net=net, y0=y0, knots=knots) -> None:
            out = np.zeros((len(knots), net.size))
            run(
                net,
                ORDER4,
                y0.copy(),
                np.zeros(0),
                knots,
                0.1,
                np.array([60.0]),
                7200.0,
                np.zeros((0, 5)),
                out,
                np.zeros(6),
            )

        seconds = clock(task, 3)
        steady = clock(
            lambda n=network: settle(n.net, n.initial(294.15, 1200.0), np.zeros(len(ACCOUNTS)), 10.0, 200), 3
        )
        power = (
            "" if last is None else f"{np.log(seconds / last[1]) / np.log(count / last[0]):.2f} (power of the count)"
        )
        print(f"{count:8d}  {net.size:6d}  {seconds:14.3f}  {steady * 1e3:9.2f}  {power}")
        last = (count, seconds)
    habitat = read_habitat(HABITATS / "single-pot.toml")
    assembly = assemble(habitat, load_species(habitat.species))
    half, whole = (clock(lambda d=d: simulate(assembly, room_year(d)), 3) for d in (180, 360))
    print(f"hours: twice the days cost {whole / half:.2f} x")


def cold() -> None:
    command = [sys.executable, "-m", "nestwright"]
    file = str(HABITATS / "single-pot.toml")
    for label, rest in (
        ("--help", ["--help"]),
        ("climate, fixed room", ["climate", file, "--room", "21 degC, 45 %"]),
        ("bare python -c pass", None),
    ):
        line = [sys.executable, "-c", "pass"] if rest is None else command + rest
        print(f"{label}: {clock(lambda line=line: subprocess.run(line, capture_output=True, check=True), 5):.2f} s")


if __name__ == "__main__":
    steady_and_window()
    growth()
    cold()
