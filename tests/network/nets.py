"""Small networks made for tests; their figures are invented."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.network.arrays import ACCOUNTS
from nestwright.network.builder import DRAIN, ROOM, Builder, Network
from nestwright.network.kernel import evaluate
from nestwright.network.structure import workspace

SPREAD = np.array([2.5e-5, 1.6e-5, 2.0e-5, 2.2e-5])


def spread(length: float) -> tuple[float, float, float, float]:
    """Conductances of a path of `length` = area over effective length, m."""
    a, b, c, d = (SPREAD * length).tolist()
    return a, b, c, d


def two_pots(control: str = "proportional", order: tuple[int, ...] = (0, 1)) -> Network:
    """Two chambers in a row over a sump with a block; garden and heater in the first, vents above and below."""
    b = Builder()
    pots = {i: b.zone(f"pot{i}", 1.5e-3) for i in order}
    sump = b.zone("sump", 5e-4)
    for i in order:
        z = pots[i]
        side, top = b.node(f"side{i}", 100.0, 0.0, 1e-6), b.node(f"top{i}", 30.0, 0.0, 1e-6)
        b.connect(side, ROOM, 0.25)
        b.connect(top, ROOM, 0.05)
        b.connect(side, top, 0.02)
        b.surface(z, side, 0.05, 0.5, 2.2, 2.2, lewis=9.4e-4, scale=1e-5)
        b.surface(z, top, 0.01, 0.5, 1.0, 2.2, lewis=9.4e-4, scale=2e-6)
        b.overflow(side, 2e-3, DRAIN, 1.0, DRAIN)
        b.fog(z, side)
        b.opening(ROOM, z, spread(0.0145), 0.14, 1e4, 1e9, (1e-5, 1e-5, 0.001), level=True)
        b.opening(z, ROOM, spread(0.0073), 0.02, 2e4, 2e9, (1e-5, 1e-5, 0.0))
    b.opening(pots[0], pots[1], spread(1.1e-3), 0.03, 5e3, 1e8, (1e-5, 1e-5, 0.0))
    garden = b.node("garden", 20.0, 0.08, 1e-4)
    z = pots[0]
    b.surface(z, garden, 0.012, 0.5, 3.0, 3.0, lewis=9.4e-4, activity=0.99, scale=8e-3, account="garden_evaporation")
    b.garden(
        garden,
        z,
        co2_rate=1e-7,
        q10=2.0,
        reference=298.15,
        half_oxygen=0.02,
        quotient=1.0,
        heat=4.7e5,
        full_water=0.08,
        leaf_water=5e-8,
    )
    b.overflow(garden, 0.084, DRAIN, 1.0, DRAIN)
    for i in order:
        b.overflow(b.node_number(f"top{i}"), 6e-4, garden, 0.4, b.node_number(f"side{i}"), drip=True)
    block = b.node("block", 100.0, 2.0, 1e-3, store=True)
    b.surface(sump, block, 0.006, 0.5, 3.0, 1.0, lewis=9.4e-4, scale=2e-3, account="block_evaporation", wick=1e-7)
    wall = b.node("sump wall", 50.0, 0.0, 1e-6)
    b.connect(wall, ROOM, 0.05)
    b.surface(sump, wall, 0.03, 0.5, 2.0, 2.0, lewis=9.4e-4, scale=5e-6)
    b.overflow(wall, 2e-3, block, 1.0, DRAIN)
    b.opening(z, sump, spread(0.0825), 0.0, 1e3, 1e7, (1e-6, 1e-6, 0.05), level=True)
    b.permeate(z, ROOM, 1e-13)
    sensor = b.node("sensor", 1.0)
    b.connect(sensor, z, 1 / 180)
    b.heater("mat", b.node_number("side0"), 4.0, control, 297.15, 1.0, sensor)
    return b.finish()


def disturbed(network: Network, seed: int) -> NDArray[np.float64]:
    """A state far from rest in every respect."""
    rng = np.random.default_rng(seed)
    net = network.net
    y = network.initial(295.15, 1300.0)
    for j in range(net.room):
        y[net.heat[j]] += 2 * rng.normal()
        if net.water[j] >= 0:
            extra = 0.0 if j < net.zones else rng.uniform(0, 3e-3)
            y[net.water[j]] = y[net.water[j]] * rng.uniform(0.8, 1.1) + extra
    for z in range(net.zones):
        y[net.co2[z]] *= rng.uniform(1, 20)
        y[net.o2[z]] *= 0.95
        y[net.flow[z]] = 1e-2 * rng.normal()
    return y


def soaked(network: Network, seed: int) -> NDArray[np.float64]:
    """A disturbed state with fog in every zone and more water on every film than it holds."""
    net = network.net
    y = disturbed(network, seed)
    for j in range(net.room):
        if net.water[j] >= 0:
            y[net.water[j]] = 3.0 * y[net.water[j]] if j < net.zones else y[net.water[j]] + 5e-3
    return y


def rate(
    network: Network, y: NDArray[np.float64], jacobian: bool = False
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Rates, and the dense Jacobian when asked for."""
    net = network.net
    f, a = np.zeros(net.size), np.zeros(len(net.pattern.column))
    none = np.zeros(0, np.int32)
    on = np.ones(len(net.heater))
    evaluate(net, y, np.zeros(2), on, f, jacobian, a, False, none, none, *workspace(net))
    dense = np.zeros((net.size, net.size))
    if jacobian:
        state = np.argsort(net.pattern.position)
        for r in range(net.size):
            for s in range(net.pattern.row_start[r], net.pattern.row_start[r + 1]):
                dense[state[r], state[net.pattern.column[s]]] = a[s]
    return f, dense


def account(y: NDArray[np.float64], name: str) -> float:
    return float(y[ACCOUNTS.index(name)])
