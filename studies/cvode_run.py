"""A habitat's run by SUNDIALS CVODE at a tight tolerance, with the kernel's events: the reference of its error.

The rates are the kernel's; steps, Jacobian, events and their location are CVODE's own.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from sksundae.cvode import CVODE

from nestwright.climate.proof import refill_table, settled
from nestwright.climate.room_air import Room
from nestwright.habitat.assemble import Assembly
from nestwright.network.arrays import ACCOUNTS
from nestwright.network.integrate import temperature_of
from nestwright.network.kernel import evaluate
from nestwright.network.structure import workspace

Array = Any


def cvode_run(assembly: Assembly, room: Room, rtol: float = 1e-9) -> Array:
    """States at every knot of the room, shape (knots, size)."""
    network = assembly.network
    net = network.net
    none, empty, work = np.zeros(0, np.int32), np.zeros(0), workspace(net)
    weight = net.weight
    atol = np.where(weight > 0, 1e-5 / np.where(weight > 0, weight, 1.0), 1e-6)
    on, drive = np.ones(len(net.heater)), np.zeros(2)
    refill = refill_table(assembly)
    switching = [q for q in range(len(net.heater)) if net.heater[q, 2] == 2]
    low = [b for b in range(len(refill)) if refill[b, 3] == 0.0]

    here, rates = np.zeros(net.size), np.zeros(net.size)

    def right(t: float, y: Array, f: Array) -> None:
        # arrays of another kind would have the rates compiled once more
        here[:] = y
        evaluate(net, here, drive, on, rates, False, empty, False, none, none, *work)
        f[:] = rates

    def distances(y: Array) -> list[float]:
        out = []
        for q in switching:
            top, band = net.heater_v[q, 1], net.heater_v[q, 2]
            now = temperature_of(net, y, net.heater[q, 1])
            out.append(top - now if on[q] > 0.5 else now - (top - band))
        out += [float(y[net.water[int(refill[b, 0])]] - refill[b, 2]) * 1e3 for b in low]
        return out

    def events(t: float, y: Array, e: Array) -> None:
        e[:] = distances(y)

    count = len(switching) + len(low)
    options: dict[str, Any] = {"method": "BDF", "rtol": rtol, "atol": atol, "max_num_steps": 10_000_000}
    if count:
        events.terminal, events.direction = [True] * count, [-1] * count  # type: ignore[attr-defined]
        options |= {"eventsfn": events, "num_events": count}
    y, _ = settled(assembly, float(room.temperature[0]), float(room.vapour_pressure[0]))
    y[: len(ACCOUNTS)] = 0.0
    knots = np.column_stack([room.time, room.temperature - 298.15, room.vapour_pressure / net.pressure])
    out = np.zeros((len(knots), net.size))
    out[0] = y
    for k in range(len(knots) - 1):
        t, end = knots[k, 0], knots[k + 1, 0]
        drive[:] = (knots[k + 1, 1:] - knots[k, 1:]) / (end - t)
        y[net.heat[net.room]], y[net.water[net.room]] = knots[k, 1:]
        while t < end - 1e-6:
            for n, q in enumerate(switching):
                # an event is a crossing: a thermostat that starts beyond its switching point is set by hand
                if distances(y)[n] < 0.0:
                    on[q] = 1.0 - on[q]
            found = CVODE(right, **options).solve(np.array([t, end]), y)
            if not found.success:
                raise RuntimeError(found.message)
            t, y = float(found.t[-1]), np.array(found.y[-1])
            if t < end - 1e-6:
                t_events = distances(y)
                for n, q in enumerate(switching):
                    if t_events[n] < 1e-6:
                        on[q] = 1.0 - on[q]
                for n, b in enumerate(low):
                    if t_events[len(switching) + n] < 1e-6:
                        _fill(net, y, refill[b])
        for row in refill:
            if row[3] > 0 and end >= row[4]:
                _fill(net, y, row)
                row[4] += row[3]
        y[net.heat[net.room]], y[net.water[net.room]] = knots[k + 1, 1:]
        out[k + 1] = y
    return out


def _fill(net: Any, y: Array, row: Array) -> None:
    j = int(row[0])
    added = max(row[1] - y[net.water[j]], 0.0)
    heat = added * net.gas[6] * y[net.heat[net.room]]
    y[net.water[j]] += added
    y[net.heat[j]] += heat / net.capacity[j]
    y[ACCOUNTS.index("water_made")] += added
    y[ACCOUNTS.index("energy_made")] += heat
