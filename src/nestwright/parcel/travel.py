"""A run of a parcel's network with its packs: the network over a step, then the pack's state; compiled.

Oxygen and heat of iron that rusts are in the network's own balance; only how much iron is left, and the melting of gel,
are stepped beside it (Lie splitting, first order in the step). `carry` tells the error by halving the step.
"""

from __future__ import annotations

import numpy as np

from nestwright.network.arrays import ACCOUNTS, T_REF, Floats, Net
from nestwright.network.integrate import OK, STUCK, Method, run
from nestwright.network.kernel import jit

__all__ = ["COLD", "HEAT", "KEPT", "travel", "travel_all"]

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
    rate of the network's rust per W in free air, J of fuel left (inf for a curve), J of it over which the heat fades,
    melting point above the reference in K, J of latent heat, J melted. watts: (n - 1,) mean in free air over each step,
    changed in place to what was given. drip: (1,) kg of water that dripped on the garden. Returns OK or STUCK.
    """
    n = knots.shape[0]
    none, stats = np.zeros((0, 5)), np.zeros(6)
    step, on = np.full(1, 10.0), np.zeros(0)
    part, states = np.zeros((2, 3)), np.zeros((2, net.size))
    j = int(nodes[0])
    keep(net, y, knots[0], nodes, 0.0, out[0])
    for k in range(n - 1):
        span = knots[k + 1, 0] - knots[k, 0]
        given = 0.0
        before = out[k, 7]
        if pack[0] == HEAT:
            given = free_heat(watts[k], span, pack)
            net.garden_v[0, 0] = pack[1] * given
        for row in range(2):
            for column in range(3):
                part[row, column] = knots[k + row, column]
        if run(net, method, y, on, part, factor, step, 7200.0, none, states, stats) != OK:
            return STUCK
        if pack[0] == COLD:
            given = -melt(net, y, j, pack) / span
        keep(net, y, knots[k + 1], nodes, given, out[k + 1])
        if pack[0] == HEAT:
            given *= 0.5 * (before + out[k + 1, 7]) / net.room_o2
            pack[2] -= given * span
            out[k + 1, 9] = given
        watts[k] = given
        if k == 0:
            out[0, 9] = given
    drip[0] = y[DRIP]
    return OK


@jit
def travel_all(
    net: Net,
    method: Method,
    start: Floats,
    knots: Floats,
    factor: float,
    nodes: Floats,
    packs: Floats,
    watts: Floats,
    links: Floats,
    openings: Floats,
    out: Floats,
    drip: Floats,
) -> int:
    """`travel` for many, shape (n, ...): each from `start` with its own conductances of links and values of openings,
    which are written into `net`. Returns 0, or the number from 1 of the run that stuck."""
    y = start.copy()
    for i in range(knots.shape[0]):
        net.link_g[:] = links[i]
        net.opening_v[:, :] = openings[i]
        y[:] = start
        if travel(net, method, y, knots[i], factor, nodes, packs[i], watts[i], out[i], drip[i : i + 1]) != OK:
            return i + 1
    return 0


@jit
def free_heat(watts: float, span: float, pack: Floats) -> float:
    """W in free air that the iron left can give over a step, with its fall at the end."""
    if pack[2] < pack[3]:
        watts *= max(pack[2] / pack[3], 0.0)
    return min(watts, max(pack[2], 0.0) / span)


@jit
def melt(net: Net, y: Floats, j: int, pack: Floats) -> float:
    """Put a gel back on its melting point while it melts or freezes; returns J taken up."""
    above = net.capacity[j] * (y[net.heat[j]] - pack[4])
    moved = min(above, pack[5] - pack[6]) if above > 0.0 else max(above, -pack[6])
    pack[6] += moved
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
