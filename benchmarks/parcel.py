"""Many parcels through one compiled run, against SciPy on the same balance and against our own fine run.

The baseline is SciPy's LSODA on the NumPy rates of the same network over the first hours; it also judges the fine run.
"""

from __future__ import annotations

import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

from nestwright.network.arrays import T_REF
from nestwright.network.integrate import temperature_of
from nestwright.parcel.carry import carry, carry_many, course_of
from nestwright.parcel.file import read_parcel
from nestwright.parcel.layout import TRACE, lay_out
from nestwright.parcel.model import Parcel
from nestwright.parcel.outside import outside_air
from nestwright.parcel.runs import FINE, run_parcels, start_of
from nestwright.parcel.rust import energy_per_gram_of_iron, energy_per_mol_oxygen
from numpy_rates import numpy_rates

PARCELS = Path(__file__).parents[1] / "examples" / "workshop" / "parcels"
MANY, CHECKED, HOURS = 10_000, 12, 4.0


def by_scipy(parcel: Parcel, hours: float) -> tuple[float, float]:
    """Garden's temperature, K, after some hours of the first leg, and seconds that LSODA took."""
    layout = lay_out(parcel)
    net = layout.network.net._replace(garden_v=layout.network.net.garden_v.copy())
    rates, grid = numpy_rates(net), np.linspace(0, 3600 * hours, 25)
    kelvin, vapour = outside_air(parcel, 0.0, grid)
    room_t, room_x = net.heat[net.room], net.water[net.room]
    y, none = start_of(parcel, layout), np.zeros(0)
    iron = [k for k in parcel.packs if k.iron]
    began = time.perf_counter()
    for k in range(len(grid) - 1):
        a, b = grid[k], grid[k + 1]
        drive = np.array([kelvin[k + 1] - kelvin[k], (vapour[k + 1] - vapour[k]) / net.pressure]) / (b - a)
        y[room_t], y[room_x] = kelvin[k] - T_REF, vapour[k] / net.pressure
        if iron:
            watts = sum(p.number * 900 * p.iron * energy_per_gram_of_iron() / p.duration for p in iron)
            watts *= -np.expm1(-(a + b) / 2 / iron[0].start)
            net.garden_v[0, 0] = TRACE / energy_per_mol_oxygen() * watts
            rates = numpy_rates(net)
        y = solve_ivp(rates, (a, b), y, "LSODA", args=(drive, none), rtol=1e-6, atol=1e-9).y[:, -1]
    return temperature_of(net, y, layout.garden), time.perf_counter() - began


def main() -> None:
    rng = np.random.default_rng(1)
    values = {
        "pack.power_factor": rng.uniform(0.8, 1.2, MANY),
        "outside.offset": rng.normal(0, 3, MANY),
        "box.leak_factor": np.exp(0.5 * rng.standard_normal(MANY)),
        "box.conductance_factor": np.exp(0.1 * rng.standard_normal(MANY)),
    }
    delay = rng.choice([0.0, 24.0, 72.0], MANY, p=[0.8, 0.15, 0.05])
    print("| parcel | 10,000, s | their CPU, s | one fine run, ms | many against fine | fine against LSODA |")
    print("|---|---|---|---|---|---|")
    for name in ("winter", "summer"):
        parcel = read_parcel(PARCELS / f"{name}.toml")
        carry_many(parcel, {k: v[:4] for k, v in values.items()}, delay[:4])
        began, cpu = time.perf_counter(), time.process_time()
        told = carry_many(parcel, values, delay)
        took, cpu = time.perf_counter() - began, time.process_time() - cpu
        layout = lay_out(parcel)
        began = time.perf_counter()
        fine = [
            run_parcels(parcel, layout, {k: v[i : i + 1] for k, v in values.items()}, float(delay[i]), FINE)
            for i in range(CHECKED)
        ]
        each = (time.perf_counter() - began) / CHECKED
        worst = max(abs(run.course[0, :, 2].min() - told.lowest[i]) for i, run in enumerate(fine))
        judged = "none: LSODA melts no gel"
        if parcel.packs[0].kind == "heat":
            ours = course_of(parcel)
            theirs, scipy_took = by_scipy(parcel, HOURS)
            off = abs(float(np.interp(3600 * HOURS, ours.time, ours.cup)) - theirs)
            times = scipy_took / HOURS / (cpu / MANY / (parcel.hours + delay.mean()))
            judged = f"{off:.3f} K; many at {times:.1g} times its speed"
        print(
            f"| {name} | {took:.1f} | {cpu:.1f} | {1e3 * each:.0f} | {each * MANY / cpu:.0f} times the speed, "
            f"lowest within {worst:.1f} K | {judged} |"
        )
        one = carry(parcel)
        print(f"  chance of losing the garden: one {one.loss.garden:.2f}, mean of many {told.garden.mean():.2f}")


if __name__ == "__main__":
    main()
