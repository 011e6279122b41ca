"""One habitat-year: this kernel against LSODA with a NumPy right-hand side and CVODE with the compiled one.

python benchmarks/year.py [--days 30] [FILE ...]

All three integrate the same network over the same room; each baseline is run at the loosest tolerance that comes as
near to the reference (CVODE at 1e-9) as the kernel does, in the worst hour. Prints seconds a year, errors and ratios.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

import numba as nb
import numpy as np
from scipy.integrate import solve_ivp
from sksundae.cvode import CVODE

from nestwright.climate.proof import simulate
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.climate.rooms import read_room
from nestwright.data import load_species
from nestwright.habitat.assemble import Assembly, assemble
from nestwright.habitat.file import read_habitat
from nestwright.network.kernel import evaluate
from nestwright.network.structure import workspace
from numpy_rates import numpy_rates

Array = np.ndarray
WORKSHOP = Path(__file__).parents[1] / "examples" / "workshop"


def shorten(room: Room, days: float) -> Room:
    keep = room.time <= days * 86400
    return Room(
        room.name, room.time[keep], room.temperature[keep], room.vapour_pressure[keep], room.pressure, room.co2, room.o2
    )


def quantities(assembly: Assembly, y: Array) -> Array:
    """K, % RH and % CO2 of every zone at every hour, each over its allowance (0.05, 0.2, 0.02)."""
    out = []
    for zone in assembly.network.zone_names:
        z = zone_air(assembly.network, y, zone)
        out += [z.temperature / 0.05, z.relative_humidity * 100 / 0.2, z.co2 * 100 / 0.02]
    return np.array(out)


def drives(assembly: Assembly, room: Room) -> Array:
    knots = np.column_stack([room.time, room.temperature, room.vapour_pressure / assembly.network.net.pressure])
    return np.diff(knots[:, 1:], axis=0) / np.diff(knots[:, 0])[:, None]


def tolerances(assembly: Assembly, level: float) -> Array:
    weight = assembly.network.net.weight
    return np.where(weight > 0, level / np.where(weight > 0, weight, 1.0), 1e3)


def with_lsoda(assembly: Assembly, room: Room, y0: Array, level: float) -> tuple[Array, float]:
    rates = numpy_rates(assembly.network.net)
    slope, on = drives(assembly, room), np.ones(len(assembly.network.net.heater))

    out = [y0]
    began = time.perf_counter()
    for k in range(len(room.time) - 1):
        # a new start at each knot: run through the kinks of the room's record, LSODA loses its step and gives up
        found = solve_ivp(
            lambda t, y: rates(t, y, slope[k], on),  # noqa: B023
            (room.time[k], room.time[k + 1]),
            out[-1],
            "LSODA",
            t_eval=[room.time[k + 1]],
            rtol=level * 1e-3,
            atol=tolerances(assembly, level),
        )
        if not found.success:
            raise RuntimeError(found.message)
        out.append(found.y[:, -1])
    return np.array(out), time.perf_counter() - began


def compiled_right(assembly: Assembly, room: Room) -> Any:
    """The kernel's own rates with the network frozen into the code, so that a call costs no unpacking."""
    net, slope, last = assembly.network.net, drives(assembly, room), len(room.time) - 2
    on = np.ones(len(net.heater))

    @nb.njit
    def right(t: float, y: Array, f: Array, none: Array, a: Array, temp: Array, th: Array, tm: Array, w: Array) -> None:
        evaluate(net, y, slope[min(int(t / 3600.0), last)], on, f, False, a, False, none, none, temp, th, tm, w)

    work = (np.zeros(0, np.int32), np.zeros(0), *workspace(net))
    return lambda t, y, f: right(t, y, f, *work)


def with_cvode(assembly: Assembly, room: Room, y0: Array, level: float, rtol: float, right: Any) -> tuple[Array, float]:
    atol = tolerances(assembly, level)
    right(0.0, y0.copy(), np.zeros(len(y0)))
    solver = CVODE(right, method="BDF", rtol=rtol, atol=atol, max_step=3600.0, max_num_steps=100_000_000)
    began = time.perf_counter()
    found = solver.solve(room.time, y0)
    seconds = time.perf_counter() - began
    if not found.success:
        raise RuntimeError(found.message)
    return found.y, seconds


def compare(path: Path, room: Room, days: float) -> dict[str, Any]:
    habitat = read_habitat(path)
    assembly = assemble(habitat, load_species(habitat.species), pressure=room.pressure)
    short = shorten(room, days)
    states, *_ = simulate(assembly, short)
    began = time.perf_counter()
    states, stats, _ = simulate(assembly, short)
    own = time.perf_counter() - began
    y0 = states[0]
    right = compiled_right(assembly, short)
    reference, _ = with_cvode(assembly, short, y0, 1e-6, 1e-9, right)
    target = quantities(assembly, reference)

    def error(y: Array) -> float:
        return float(np.abs(quantities(assembly, y) - target).max())

    mine = error(states)
    out: dict[str, Any] = {"states": assembly.network.net.size, "steps": int(stats[0]), "own_s": own, "own_error": mine}
    for name, solve in (
        ("cvode", lambda level: with_cvode(assembly, short, y0, level, level * 1e-3, right)),
        ("lsoda", lambda level: with_lsoda(assembly, short, y0, level)),
    ):
        for level in (30.0, 10.0, 3.0, 1.0, 0.3, 0.1, 0.03, 0.01, 3e-3, 1e-3):
            y, seconds = solve(level)
            found = error(y)
            if found <= max(mine, 0.05) * 1.2:
                break
        out |= {f"{name}_s": seconds, f"{name}_error": found, f"{name}_level": level, f"{name}_ratio": seconds / own}
    return out


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path, default=[WORKSHOP / "habitats" / "single-pot.toml"])
    parser.add_argument("--days", type=float, default=30.0)
    parser.add_argument("--room", default=str(WORKSHOP / "rooms" / "living-room.toml"))
    given = parser.parse_args()
    room = read_room(given.room)
    for path in given.files:
        r = compare(path, room, given.days)
        year = 365 / given.days
        print(
            f"{path.stem}: {r['states']} states, {r['steps']} steps in {given.days:g} days, "
            f"{r['own_s'] * year:.2f} s a year, error {r['own_error']:.2f} of the allowance"
        )
        for name, label in (("lsoda", "LSODA with NumPy"), ("cvode", "CVODE, compiled rates")):
            print(
                f"  {label}: {r[name + '_s'] * year:.1f} s a year, error {r[name + '_error']:.2f}, "
                f"{r[name + '_ratio']:.0f} x the time"
            )


if __name__ == "__main__":
    main()
