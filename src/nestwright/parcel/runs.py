"""Runs of a parcel's network: what all parcels of one delay share, and the arrays in which they differ."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.data import read_values
from nestwright.network.arrays import T_REF, Net
from nestwright.network.integrate import ORDER3, ORDER4, Method
from nestwright.parcel.layout import CUP, TRACE, Layout, factors_on, pack_link
from nestwright.parcel.model import UNCERTAIN, Parcel
from nestwright.parcel.outside import legs_of, outside_air
from nestwright.parcel.rust import energy_per_gram_of_iron, energy_per_mol_oxygen
from nestwright.parcel.travel import COLD, HEAT, KEPT, travel_all
from nestwright.physics import air

__all__ = ["COARSE", "FINE", "HALF", "Runs", "Way", "run_parcels", "start_of", "times_of"]

Array = NDArray[np.float64]
JUMP = 30.0
"""Seconds over which the air outside changes at the end of a leg."""


@dataclass(frozen=True)
class Way:
    """How finely a run goes: s between two steps of the pack, method and tolerance of the network."""

    step: float
    method: Method
    tolerance: float


FINE = Way(600.0, ORDER4, 1.0)
HALF = Way(300.0, ORDER4, 0.5)
COARSE = Way(3600.0, ORDER3, 300.0)


@dataclass(frozen=True)
class Runs:
    """Times s (m,), courses (n, m, KEPT) with the columns of `travel`, kg that dripped on each garden (n,)."""

    time: Array
    course: Array
    drip: Array


def times_of(parcel: Parcel, delay: float, step: float) -> Array:
    """Even steps, with two knots where the outside air jumps from one leg to the next."""
    end = 3600.0 * (parcel.hours + delay)
    count = max(math.ceil(end / step - 1e-9), 1)
    even = np.minimum(step * np.arange(count + 1), end)
    jumps = [3600.0 * leg[2] - gap for leg in legs_of(parcel, delay)[:-1] for gap in (JUMP, 0.0)]
    return np.unique(np.concatenate([even, [j for j in jumps if 0 < j < end]]))


def run_parcels(
    parcel: Parcel,
    layout: Layout,
    values: Mapping[str, Array],
    delay: float,
    way: Way,
    rust_share: float | None = None,
) -> Runs:
    """Run parcels that share a delay. `values`: by name, shape (n,); what is not there is as in `UNCERTAIN`.

    Raises ArithmeticError where a run finds no step small enough.
    """
    network = layout.network
    n = max((v.size for v in values.values()), default=1)
    at = {k: np.broadcast_to(np.asarray(values.get(k, middle), float), n) for k, middle in UNCERTAIN.items()}
    time = times_of(parcel, delay, way.step)
    net = network.net._replace(
        link_g=network.net.link_g.copy(), opening_v=network.net.opening_v.copy(), garden_v=network.net.garden_v.copy()
    )
    kelvin, vapour = outside_air(parcel, delay, time, at["outside.offset"][:, None])
    knots = np.empty((n, time.size, 3))
    knots[..., 0], knots[..., 1], knots[..., 2] = time, kelvin - T_REF, vapour / net.pressure
    links, openings = factors_on(layout, at["box.leak_factor"], at["box.conductance_factor"])
    if layout.near >= 0:
        links[:, layout.near] = pack_link(layout, np.maximum(parcel.cup.position, at["cup.position"]))
    start = start_of(parcel, layout)
    pack, watts = _packs(parcel, at, time, rust_share or read_values("parcel.toml")["rust_share"].value)
    out, drip = np.zeros((n, time.size, KEPT)), np.zeros(n)
    nodes = np.array([layout.pack, layout.garden, layout.wall], dtype=float)
    packs = np.repeat(pack[None], n, axis=0)
    if travel_all(net, way.method, start, knots, way.tolerance, nodes, packs, watts, links, openings, out, drip):
        raise ArithmeticError("the run of a parcel found no step small enough")
    return Runs(time, out, drip)


def start_of(parcel: Parcel, layout: Layout) -> Array:
    """All at the temperature of packing, the cup's air near saturation, cold packs at their own temperature."""
    network, kelvin = layout.network, parcel.packed_at
    saturated = float(air.saturation_pressure(kelvin))
    y = network.initial(kelvin, read_values("parcel.toml")["packed_humidity"].value * saturated)
    _moisten(network.net, y, kelvin, layout.activity * saturated)
    gel = sum(k.gel * k.number for k in parcel.packs)
    if gel > 0:
        y[network.net.heat[layout.pack]] = sum(k.starts_at * k.gel * k.number for k in parcel.packs) / gel - T_REF
    return y


def _moisten(net: Net, y: Array, kelvin: float, vapour: float) -> None:
    mass = vapour * net.volume[CUP] * net.gas[1] / (net.gas[0] * kelvin)
    c = net.capacity[CUP] + net.water_heat[CUP] * mass
    y[net.water[CUP]] = mass
    y[net.heat[CUP]] = (c * (kelvin - T_REF) + net.latent[CUP] * mass) / net.capacity[CUP]


def _packs(parcel: Parcel, at: Mapping[str, Array], time: Array, rust_share: float) -> tuple[Array, Array]:
    """The packs' state for `travel`, and W of all in free air over each step, shape (n, m - 1)."""
    n = at["pack.power_factor"].size
    watts, pack = np.zeros((n, time.size - 1)), np.zeros(7)
    pack[1] = TRACE / energy_per_mol_oxygen()
    begin, end = time[:-1], time[1:]
    gel = sum(k.gel * k.number for k in parcel.packs)
    for k in parcel.packs:
        slow = at["pack.start_factor"][:, None]
        if k.kind == "cold":
            mass = k.gel * k.number
            pack[0] = COLD
            pack[4] += (k.melts_at - T_REF) * mass / gel
            pack[5] += mass * k.latent
            pack[6] += mass * k.latent if k.starts_at > k.melts_at else 0.0
        elif k.curve is not None:
            pack[0], pack[2] = HEAT, math.inf
            hours, power = (np.array(one) for one in k.curve)
            # the mean of a step by Simpson's rule
            for moment, share in ((begin, 1 / 6), ((begin + end) / 2, 4 / 6), (end, 1 / 6)):
                watts += share * k.number * np.interp(moment / (3600 * slow), hours, power, right=0.0)
        else:
            energy = 1e3 * k.iron * energy_per_gram_of_iron() * rust_share
            pack[0] = HEAT
            pack[2] += k.number * energy
            tau = k.start * slow
            begun = 1 - tau * (np.exp(-begin / tau) - np.exp(-end / tau)) / (end - begin)
            watts += k.number * energy / k.duration * begun
    if math.isfinite(pack[2]):
        pack[3] = pack[2] * read_values("parcel.toml")["fade_share"].value
    return pack, watts * at["pack.power_factor"][:, None]
