"""Time stepping: Rosenbrock methods with exact sparse Jacobian, adaptive steps, knots and thermostats.

Default is the stiffly accurate six-stage method of order 4(3) of Hairer & Wanner, Solving Ordinary
Differential Equations II, section IV.10 (RODAS), in the form without matrix products; order 3(2) with four stages
is the method of Sandu et al. 1997, doi:10.1016/S1352-2310(97)83212-8. Both are L-stable, so the pressures,
which settle in microseconds, cost nothing. `tests/network/test_integrate.py` measures their orders.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from nestwright.network.arrays import ACCOUNTS, T_REF, Floats, Net
from nestwright.network.kernel import evaluate, jit
from nestwright.network.sparse import factorise, solve


class Method(NamedTuple):
    """Coefficients of a Rosenbrock method; `fresh[i]` is 1 where stage i needs a new rate."""

    gamma: float
    stage: Floats
    carry: Floats
    weight: Floats
    error: Floats
    fresh: Floats
    order: float


def _method(
    gamma: float, stage: list[list[float]], carry: list[list[float]], error: list[float], order: float
) -> Method:
    n = len(stage)

    def square(rows: list[list[float]]) -> Floats:
        out = np.zeros((n, n))
        for i, row in enumerate(rows):
            out[i, : len(row)] = row
        return out

    a = square(stage)
    fresh = np.array([1.0] + [float(not np.array_equal(a[i], a[i - 1])) for i in range(1, n)])
    # both methods are stiffly accurate: the solution is the last stage's point plus the last stage
    weight = a[-1].copy()
    weight[-1] = 1.0
    return Method(gamma, a, square(carry), weight, np.array(error), fresh, order)


ORDER3 = _method(
    0.5,
    [[], [], [2.0], [2.0, 0.0, 1.0]],
    [[], [4.0], [1.0, -1.0], [1.0, -1.0, -8.0 / 3.0]],
    [0.0, 0.0, 0.0, 1.0],
    3.0,
)
_LAST = [1.221224509226641, 6.019134481288629, 12.53708332932087, -0.6878860361058950]
ORDER4 = _method(
    0.25,
    [
        [],
        [1.544],
        [0.9466785280815826, 0.2557011698983284],
        [3.314825187068521, 2.896124015972201, 0.9986419139977817],
        _LAST,
        [*_LAST, 1.0],
    ],
    [
        [],
        [-5.6688],
        [-2.430093356833875, -0.2063599157091915],
        [-0.1073529058151375, -9.594562251023355, -20.47028614809616],
        [7.496443313967647, -10.24680431464352, -33.99990352819905, 11.70890893206160],
        [8.083246795921522, -7.981132988064893, -31.52159432874371, 16.31930543123136, -6.058818238834054],
    ],
    [0.0, 0.0, 0.0, 0.0, 0.0, 1.0],
    4.0,
)

OK, STUCK = 0, 1
ENERGY_MADE, WATER_MADE = ACCOUNTS.index("energy_made"), ACCOUNTS.index("water_made")
STEPS, REJECTED, RATES, SWITCHES, REFILLS, DRY_SECONDS = range(6)


@jit
def run(
    net: Net,
    method: Method,
    y: Floats,
    on: Floats,
    knots: Floats,
    factor: float,
    step: Floats,
    longest: float,
    refill: Floats,
    out: Floats,
    stats: Floats,
) -> int:
    """Advance `y` in place over the knots; `out[k]` receives the state at knot k.

    knots: (n, 3) time s, room temperature above T_REF in K, room vapour fraction; on: (heaters,) 1/0 for each
    thermostat, -1 to take its mean over its band; step: (1,) step to try first, s, updated; refill: (bodies, 5) node,
    full kg, low kg, interval s (0 = when low, < 0 never), time of the next filling. Returns OK or STUCK (no step small
    enough).
    """
    n = net.size
    stages = method.weight.shape[0]
    k = np.zeros((stages, n))
    point, f, f0, err, work = np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n), np.zeros(n)
    slots = net.pattern.column.shape[0]
    jac, lu, inverse = np.zeros(slots), np.zeros(slots), np.zeros(n)
    none = np.zeros(0, np.int32)
    nodes = net.heat.shape[0]
    temp, th, tm, w = np.zeros(nodes), np.ones(nodes), np.zeros(nodes), np.zeros((17, net.zones + 1))
    drive = np.zeros(2)
    room_t, room_x = net.heat[net.room], net.water[net.room]
    heaters = net.heater.shape[0]
    before = np.zeros(heaters)
    h = step[0]
    out[0, :] = y
    for knot in range(knots.shape[0] - 1):
        t, end = knots[knot, 0], knots[knot + 1, 0]
        drive[0] = (knots[knot + 1, 1] - knots[knot, 1]) / (end - t)
        drive[1] = (knots[knot + 1, 2] - knots[knot, 2]) / (end - t)
        y[room_t], y[room_x] = knots[knot, 1], knots[knot, 2]
        while t < end:
            evaluate(net, y, drive, on, f0, True, jac, False, none, none, temp, th, tm, w)
            stats[RATES] += 1
            for q in range(heaters):
                before[q] = temp[net.heater[q, 1]]
            left = end - t
            h = min(h, longest)
            while True:
                last = False
                if h >= 0.999 * left:
                    h, last = left, True
                elif h > 0.55 * left:
                    h = 0.5 * left
                if not h > 1e-7:
                    return STUCK
                shift = 1.0 / (h * method.gamma)
                for s in range(slots):
                    lu[s] = -jac[s]
                for i in range(n):
                    lu[net.pattern.diagonal[i]] += shift
                good = factorise(net.pattern, lu, inverse)
                if good:
                    for i in range(n):
                        f[i] = f0[i]
                    for st in range(stages):
                        for i in range(n):
                            point[i] = y[i]
                        if st > 0 and method.fresh[st] > 0.0:
                            for m in range(st):
                                c = method.stage[st, m]
                                if c != 0.0:
                                    for i in range(n):
                                        point[i] += c * k[m, i]
                            evaluate(net, point, drive, on, f, False, jac, False, none, none, temp, th, tm, w)
                            stats[RATES] += 1
                        row = k[st]
                        for i in range(n):
                            row[i] = f[i]
                        for m in range(st):
                            c = method.carry[st, m] / h
                            if c != 0.0:
                                for i in range(n):
                                    row[i] += c * k[m, i]
                        solve(net.pattern, lu, inverse, row, work)
                    for i in range(n):
                        point[i] = y[i]
                        err[i] = 0.0
                    for m in range(stages):
                        c, e = method.weight[m], method.error[m]
                        for i in range(n):
                            point[i] += c * k[m, i]
                            err[i] += e * k[m, i]
                    size = 0.0
                    for i in range(n):
                        size = max(size, abs(err[i]) * net.weight[i])
                        if not abs(point[i]) < 1e30:
                            size = np.inf
                    size /= factor
                else:
                    size = np.inf
                if not size < 1e30:
                    stats[REJECTED] += 1
                    h *= 0.1
                    continue
                grow = min(6.0, max(0.15, 0.9 * (size + 1e-12) ** (-1.0 / method.order)))
                if size > 1.0:
                    stats[REJECTED] += 1
                    h *= min(grow, 0.8)
                    continue
                # a body that runs low or a thermostat that passes its switching point: end the step there
                share = 1.0
                for q in range(refill.shape[0]):
                    if refill[q, 3] == 0.0:
                        j = net.water[int(refill[q, 0])]
                        low = refill[q, 2]
                        if point[j] < low - 1e-3 * low and y[j] > low:
                            share = min(share, (y[j] - low) / (y[j] - point[j]))
                if heaters > 0:
                    for q in range(heaters):
                        if net.heater[q, 2] != 2 or on[q] < 0.0:
                            continue
                        j = net.heater[q, 1]
                        now = temperature_of(net, point, j)
                        top = net.heater_v[q, 1]
                        mark = top if on[q] > 0.5 else top - net.heater_v[q, 2]
                        passed = (now - mark) if on[q] > 0.5 else (mark - now)
                        if passed > 1e-5 and abs(now - before[q]) > 0.0:
                            share = min(share, max((mark - before[q]) / (now - before[q]), 1e-3))
                if share < 1.0 and h > 0.05:
                    h *= max(share, 0.02) if share < 0.98 else 0.98
                    continue
                break
            for i in range(n):
                y[i] = point[i]
            t = end if last else t + h
            stats[STEPS] += 1
            h = h * grow
            for q in range(refill.shape[0]):
                if refill[q, 3] == 0.0 and y[net.water[int(refill[q, 0])]] <= 1.001 * refill[q, 2]:
                    top_up(net, y, refill, q, stats)
                    h = min(h, 60.0)
            for q in range(heaters):
                if net.heater[q, 2] == 2 and on[q] >= 0.0:
                    now = temperature_of(net, y, net.heater[q, 1])
                    top = net.heater_v[q, 1]
                    if on[q] > 0.5 and now >= top - 2e-5:
                        on[q] = 0.0
                        stats[SWITCHES] += 1
                        h = min(h, 60.0)
                    elif on[q] < 0.5 and now <= top - net.heater_v[q, 2] + 2e-5:
                        on[q] = 1.0
                        stats[SWITCHES] += 1
                        h = min(h, 60.0)
        y[room_t], y[room_x] = knots[knot + 1, 1], knots[knot + 1, 2]
        fill(net, y, knots[knot + 1, 0], end - knots[knot, 0], refill, stats)
        out[knot + 1, :] = y
    step[0] = h
    return OK


@jit
def temperature_of(net: Net, y: Floats, j: int) -> float:
    """Temperature of one node, K."""
    m = y[net.water[j]] if net.water[j] >= 0 else 0.0
    c = net.capacity[j] + net.water_heat[j] * m
    return T_REF + (net.capacity[j] * y[net.heat[j]] - net.latent[j] * m) / c


@jit
def fill(net: Net, y: Floats, t: float, span: float, refill: Floats, stats: Floats) -> None:
    """At a knot: fill the bodies whose day has come, and count the time that a body stands dry."""
    for b in range(refill.shape[0]):
        if y[net.water[int(refill[b, 0])]] <= refill[b, 2]:
            stats[DRY_SECONDS] += span
        if refill[b, 3] > 0.0 and t >= refill[b, 4]:
            top_up(net, y, refill, b, stats)
            refill[b, 4] += refill[b, 3]


@jit
def top_up(net: Net, y: Floats, refill: Floats, b: int, stats: Floats) -> None:
    """Fill one water body with water at the room's temperature; the account books it as made."""
    j = int(refill[b, 0])
    added = max(refill[b, 1] - y[net.water[j]], 0.0)
    heat = added * net.gas[6] * y[net.heat[net.room]]
    y[net.water[j]] += added
    y[net.heat[j]] += heat / net.capacity[j]
    y[WATER_MADE] += added
    y[ENERGY_MADE] += heat
    if added > 0.01 * refill[b, 1]:
        stats[REFILLS] += 1
