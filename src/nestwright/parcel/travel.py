"""A run of a parcel's network with its packs, stepped side by side: the network over a step, then the pack; compiled.

The network knows no sink of oxygen and no melting, so both are split off (Lie splitting, first order in the step): over
a step the pack's heat is held, its oxygen is taken from the box before, and gel that passed its melting point is put
back on it with the latent heat booked. `carry` tells the error by halving the step.
"""

from __future__ import annotations

import math

import numpy as np

from nestwright.network.arrays import ACCOUNTS, T_REF, Floats, Net
from nestwright.network.integrate import OK, STUCK, Method, run
from nestwright.network.kernel import jit

__all__ = ["KEPT", "travel"]

KEPT = 10
"""Columns of the course: K of room, box, garden, pack; in the cup mole fractions of vapour, CO2, O2; O2 in the box; kg
of film on the cup's wall; W of the packs."""
HEAT, COLD = 1.0, 2.0
DRIP = ACCOUNTS.index("drip_on_garden")


@jit
def travel(
    net: Net,
    method: Method,
    y: Floats,
    knots: Floats,
    factor: float,
    nodes: Floats,
    pack: Floats,
    watts: Floats,
    out: Floats,
    drip: Floats,
) -> int:
    """Run from knot to knot; `out[k]` (KEPT,) receives the course at knot k.

    knots: (n, 3) as `network.integrate.run`. nodes: (3,) pack, garden, cup's wall. pack: kind (0 none, 1 heat, 2 cold),
    J per mol O2, share of oxygen drawn for good, J of fuel left (inf for a curve), J of it over which the heat fades,
    melting point above the reference in K, J of latent heat, J melted. watts: (n - 1,) in free air over each step,
    changed in place to what was given. drip: (1,) kg of water that dripped on the garden. Returns OK or STUCK.
    """
    n = knots.shape[0]
    none, stats = np.zeros((0, 5)), np.zeros(6)
    step, on = np.full(1, 10.0), np.ones(1)
    part, states = np.zeros((2, 3)), np.zeros((2, net.size))
    j = int(nodes[0])
    keep(net, y, knots[0], nodes, 0.0, out[0])
    for k in range(n - 1):
        span = knots[k + 1, 0] - knots[k, 0]
        given = 0.0
        if pack[0] == HEAT:
            given = burn(net, y, watts[k], span, pack)
            net.heater_v[0, 0] = given
        for row in range(2):
            for column in range(3):
                part[row, column] = knots[k + row, column]
        if run(net, method, y, on, part, factor, step, 7200.0, none, states, stats) != OK:
            return STUCK
        if pack[0] == COLD:
            given = -melt(net, y, j, pack) / span
        watts[k] = given
        keep(net, y, knots[k + 1], nodes, given, out[k + 1])
        if k == 0:
            out[0, 9] = given
    drip[0] = y[DRIP]
    return OK


@jit
def burn(net: Net, y: Floats, watts: float, span: float, pack: Floats) -> float:
    """Heat W over a step of iron that rusts at a rate in proportion to the oxygen of the box, and takes it."""
    if not watts > 0.0:
        return 0.0
    if pack[3] < pack[4]:
        watts *= max(pack[3] / pack[4], 0.0)
    # mol of oxygen that the box would hold with free air, at which the pack gives its full heat
    full = net.room_o2 * net.pressure * net.volume[0] / (net.gas[0] * (T_REF + y[net.heat[0]]))
    full = max(full, 1e-9)
    have = max(y[net.o2[0]], 0.0)
    taken = have * (1.0 - math.exp(-watts * span / (pack[1] * full)))
    taken = min(taken, pack[3] / pack[1])
    pack[3] -= taken * pack[1]
    # what is drawn in for the oxygen that went is outside air, where there is an opening
    y[net.o2[0]] -= taken * pack[2]
    return taken * pack[1] / span


@jit
def melt(net: Net, y: Floats, j: int, pack: Floats) -> float:
    """Put a gel back on its melting point while it melts or freezes; returns J taken up."""
    above = net.capacity[j] * (y[net.heat[j]] - pack[5])
    moved = min(above, pack[6] - pack[7]) if above > 0.0 else max(above, -pack[7])
    pack[7] += moved
    y[net.heat[j]] -= moved / net.capacity[j]
    return moved


@jit
def keep(net: Net, y: Floats, knot: Floats, nodes: Floats, given: float, row: Floats) -> None:
    for n in range(3):
        j = 0 if n == 0 else int(nodes[1]) if n == 1 else int(nodes[0])
        m = y[net.water[j]] if net.water[j] >= 0 else 0.0
        c = net.capacity[j] + net.water_heat[j] * m
        row[1 + n] = T_REF + (net.capacity[j] * y[net.heat[j]] - net.latent[j] * m) / c
    row[0] = T_REF + knot[1]
    m, c = y[net.water[1]], net.capacity[1] + net.water_heat[1] * y[net.water[1]]
    t = T_REF + (net.capacity[1] * y[net.heat[1]] - net.latent[1] * m) / c
    scale = net.gas[0] * t / (net.pressure * net.volume[1])
    row[4] = scale * m / net.gas[1]
    row[5] = scale * y[net.co2[1]]
    row[6] = scale * y[net.o2[1]]
    row[7] = net.gas[0] * row[1] * y[net.o2[0]] / (net.pressure * net.volume[0])
    row[8] = y[net.water[int(nodes[2])]]
    row[9] = given
