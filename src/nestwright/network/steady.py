"""Steady state by pseudo-time continuation: implicit Euler steps that grow into Newton's method.

Kelley & Keyes 1998, doi:10.1137/S0036142996304796. Water bodies are held at their fill; thermostats act as a
proportional band, which gives their mean power.
"""

from __future__ import annotations

import numpy as np

from nestwright.network.arrays import ACCOUNTS, Floats, Net
from nestwright.network.kernel import evaluate, jit
from nestwright.network.sparse import factorise, solve

ACCOUNT_COUNT = len(ACCOUNTS)


@jit
def settle(net: Net, y: Floats, rates: Floats, first_step: float, most: int) -> int:
    """Bring `y` to rest in place; `rates` receives the account rates. Returns iterations, negative if not settled."""
    n = net.size
    slots = net.pattern.column.shape[0]
    a, inverse = np.zeros(slots), np.zeros(n)
    f, d, work = np.zeros(n), np.zeros(n), np.zeros(n)
    # films may fill or dry in one bold step: they bound the time step no more than the stores do
    film, warmth = np.zeros(n, np.bool_), np.zeros(n, np.bool_)
    for j in range(net.room):
        warmth[net.heat[j]] = True
    for j in range(net.zones, net.room):
        if net.water[j] >= 0:
            film[net.water[j]] = True
    none = np.zeros(0, np.int32)
    nodes = net.heat.shape[0]
    temp, th, tm, w = np.zeros(nodes), np.ones(nodes), np.zeros(nodes), np.zeros((17, net.zones + 1))
    drive = np.zeros(2)
    on = np.ones(net.heater.shape[0])
    for q in range(on.shape[0]):
        if net.heater[q, 2] == 2:
            on[q] = -1.0
    dt, cap = first_step, 1e10
    settled = False
    count, still = 0, 0
    while count < most:
        count += 1
        evaluate(net, y, drive, on, f, True, a, False, none, none, temp, th, tm, w)
        for s in range(slots):
            a[s] = -a[s]
        for i in range(n):
            if net.hold[i]:
                f[i] = 0.0
                r = net.pattern.position[i]
                for s in range(net.pattern.row_start[r], net.pattern.row_start[r + 1]):
                    a[s] = 0.0
        for i in range(n):
            a[net.pattern.diagonal[i]] += 1.0 / dt
        if not factorise(net.pattern, a, inverse):
            dt *= 0.1
            continue
        for i in range(n):
            d[i] = f[i]
        solve(net.pattern, a, inverse, d, work)
        size, rest, moved = 0.0, 0.0, 0.0
        for i in range(n):
            if film[i]:
                rest = max(rest, abs(d[i]) * net.weight[i])
            else:
                size = max(size, abs(d[i]) * net.weight[i])
                if not warmth[i]:
                    moved = max(moved, abs(d[i]) * net.weight[i])
        for j in range(net.room):
            change = th[j] * d[net.heat[j]] + (tm[j] * d[net.water[j]] if net.water[j] >= 0 else 0.0)
            moved = max(moved, abs(change) * net.weight[net.heat[j]])
        if not size < 1e4 and dt > 1e-3:
            # a step of over 100 K or its like: too bold
            dt *= 0.1
            continue
        for i in range(n):
            y[i] += d[i]
        for j in range(net.zones):
            y[net.water[j]] = max(y[net.water[j]], 0.0)
            y[net.co2[j]] = max(y[net.co2[j]], 0.0)
            y[net.o2[j]] = max(y[net.o2[j]], 0.0)
        for j in range(net.zones, net.room):
            if net.water[j] >= 0:
                y[net.water[j]] = max(y[net.water[j]], 0.0)
        # after a change of gait films may still creep: settled when the air moves under a third of its tolerance a day
        calm = size < 1e-4 and rest < 1e-3 if cap > 1e6 else moved < 0.3
        still = still + 1 if calm and dt >= 0.1 * cap else 0
        if still >= (1 if cap > 1e6 else 4):
            settled = True
            break
        if size < 50.0:
            dt = min(dt * 12.0, cap)
        elif size < 500.0:
            dt = min(dt * 4.0, cap)
        if count == 25 or count == 80:
            # a film between wet and dry can trade places for ever under Newton: let time damp it
            cap = 86400.0 if count == 25 else 7200.0
            dt = min(dt, cap)
    evaluate(net, y, drive, on, f, False, a, False, none, none, temp, th, tm, w)
    for i in range(ACCOUNT_COUNT):
        rates[i] = f[i]
    return count if settled else -count


@jit
def settle_grid(
    net: Net, start: Floats, temperatures: Floats, vapours: Floats, states: Floats, rates: Floats, counts: Floats
) -> None:
    """Steady states over a grid of room temperatures (above T_REF) and vapour fractions, each from its neighbour.

    temperatures (r,), vapours (r, c); states (r, c, size), rates (r, c, accounts), counts (r, c).
    """
    y = start.copy()
    row = start.copy()
    room_t, room_x = net.heat[net.room], net.water[net.room]
    for i in range(temperatures.shape[0]):
        y[:] = row
        for j in range(vapours.shape[1]):
            y[room_t] = temperatures[i]
            y[room_x] = vapours[i, j]
            first = i == 0 and j == 0
            counts[i, j] = settle(net, y, rates[i, j], 10.0 if first else 1e6, 140)
            states[i, j, :] = y
            if counts[i, j] < 0:
                y[:] = row
            elif j == 0:
                row[:] = y
