"""Air through each opening of a network in a given state, for drawings and reports."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nestwright.network.arrays import Floats
from nestwright.network.builder import Network
from nestwright.network.kernel import RHO, XV, evaluate, prepare
from nestwright.network.structure import workspace


@dataclass(frozen=True)
class OpeningFlow:
    """Net flow first -> second and two-way exchange, m3/s; vapour first -> second by diffusion alone, kg/s."""

    net: float
    exchange: float
    diffusion: float


def rates(network: Network, y: Floats) -> Floats:
    """Rate of every state, shape (size,), with thermostats in their mean."""
    net = network.net
    f = np.zeros(net.size)
    on = np.where(net.heater[:, 2] == 2, -1.0, 1.0)
    none = np.zeros(0, np.int32)
    evaluate(net, y, np.zeros(2), on, f, False, np.zeros(0), False, none, none, *workspace(net))
    return f


def opening_flows(network: Network, y: Floats) -> list[OpeningFlow]:
    """Flow of each opening in the order of the network's table."""
    net = network.net
    temp, th, tm, w = workspace(net)
    prepare(net, y, temp, th, tm, w)
    out = []
    for (i, j, kind), v in zip(net.opening.tolist(), net.opening_v, strict=True):
        ni, nj = (net.zones if e == net.room else e for e in (i, j))
        pi, pj = (y[net.flow[e]] if net.flow[e] >= 0 else 0.0 for e in (i, j))
        difference = w[RHO, ni] - w[RHO, nj]
        dp = pi - pj - net.gas[9] * v[0] * difference
        flow = 2 * dp / (v[1] + math.sqrt(v[1] ** 2 + 4 * v[2] * abs(dp)))
        over = (abs(difference) if kind == 1 else difference) - v[5]
        exchange = v[3] * v[4] * over / (v[3] + v[4] * math.sqrt(over)) if kind and over > 0 else 0.0
        per_volume = net.pressure / (net.gas[0] * 0.5 * (temp[i] + temp[j])) * net.gas[1]
        out.append(OpeningFlow(float(flow), float(exchange), float(v[6] * per_volume * (w[XV, ni] - w[XV, nj]))))
    return out
