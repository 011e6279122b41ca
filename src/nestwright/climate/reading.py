"""Reads the air of each zone, the surfaces and the accounts out of network states, for one state or many."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from nestwright.habitat.assemble import Assembly
from nestwright.network.arrays import T_REF
from nestwright.network.builder import Network
from nestwright.physics import air

Array = NDArray[np.float64]


@dataclass(frozen=True)
class ZoneAir:
    """Arrays over the states' leading axes: temperature K, vapour pressure Pa, RH, CO2, O2 (0 to 1)."""

    temperature: Array
    vapour_pressure: Array
    relative_humidity: Array
    co2: Array
    o2: Array


def node_temperature(network: Network, y: Array, node: int) -> Array:
    """Temperature K of one node, for states of shape (..., size)."""
    net = network.net
    m = y[..., net.water[node]] if net.water[node] >= 0 else 0.0
    c = net.capacity[node] + net.water_heat[node] * m
    return np.asarray(T_REF + (net.capacity[node] * y[..., net.heat[node]] - net.latent[node] * m) / c)


def zone_air(network: Network, y: Array, zone: str) -> ZoneAir:
    """Air of a zone, for states of shape (..., size)."""
    net = network.net
    z = network.zone_names.index(zone)
    t = node_temperature(network, y, z)
    per_mole = net.gas[0] * t / net.volume[z]
    e = y[..., net.water[z]] / net.gas[1] * per_mole
    saturated = air.saturation_pressure(t)
    return ZoneAir(
        t,
        e,
        e / saturated,
        y[..., net.co2[z]] * per_mole / net.pressure,
        y[..., net.o2[z]] * per_mole / net.pressure,
    )


def limit_values(assembly: Assembly, y: Array) -> dict[tuple[str, str], Array]:
    """Value of every quantity that a limit may bound, by (zone, quantity).

    y has shape (..., size). What moves (drip, the garden's loss) is that of the moment.
    """
    out: dict[tuple[str, str], Array] = {}
    for zone in assembly.network.zone_names:
        here = zone_air(assembly.network, y, zone)
        out[(zone, "temperature")] = here.temperature
        out[(zone, "relative_humidity")] = here.relative_humidity
        out[(zone, "co2")] = here.co2
        out[(zone, "o2")] = here.o2
    for zone, name, supply in assembly.gardens:
        node = assembly.network.node(name)
        out[(zone, "drip")] = drip_on(assembly.network, y, node)
        loss = garden_loss(assembly.network, y, node)
        out[(zone, "garden_water")] = np.clip(loss / supply, 0.0, 10.0) if supply > 0 else np.zeros_like(loss)
    return out


def drip_on(network: Network, y: Array, garden: int) -> Array:
    """Water that drips on one garden, kg/s, for states of shape (..., size)."""
    net = network.net
    total = np.zeros(y.shape[:-1])
    for (node, first, _, _, _, drip), (limit, share) in zip(net.overflow, net.overflow_v, strict=True):
        if drip >= 0 and first == garden:
            total += net.gas[11] * share * np.maximum(y[..., net.water[node]] - limit, 0.0)
    return total


def garden_loss(network: Network, y: Array, garden: int) -> Array:
    """Water that one garden gives to the air less what its respiration makes, kg/s; the kernel's own relations."""
    net = network.net
    row = int(np.flatnonzero(net.surface[:, 1] == garden)[0])
    zone = int(net.surface[row, 0])
    _, still4, warm4, cool4, lewis, activity, scale, _, area = net.surface_v[row]
    here = zone_air(network, y, network.zone_names[zone])
    t = node_temperature(network, y, garden)
    d = t - here.temperature
    film = (still4 + np.where(d > 0, warm4, -cool4) * d) ** 0.25
    over = activity * air.saturation_pressure(t) - here.vapour_pressure
    flux = area * lewis * net.gas[1] / (net.gas[0] * T_REF) * film * over
    held = np.maximum(y[..., net.water[garden]], 0.0)
    flux = np.where(over > 0, flux * held / (held + scale), flux)
    rate, slope, reference, half, *_, fails, width = net.garden_v[int(np.flatnonzero(net.garden[:, 0] == garden)[0])]
    oxygen = np.maximum(here.o2, 0.0)
    share = oxygen / (oxygen + half) * (net.room_o2 + half) / net.room_o2
    made = rate * np.exp(np.minimum(slope * (t - reference), 50.0)) * share / (1 + np.exp((t - fails) / width))
    return flux - made * net.gas[1]


def dew_margins(assembly: Assembly, y: Array, zone: str) -> dict[str, Array]:
    """Temperature of each inner surface of a zone less the dew point of its air, K."""
    here = zone_air(assembly.network, y, zone)
    dew = air.dew_point(here.temperature, here.relative_humidity)
    return {
        s.name: node_temperature(assembly.network, y, assembly.network.node(s.node)) - dew
        for s in assembly.surfaces
        if s.zone == zone
    }


def films(assembly: Assembly, y: Array, zone: str) -> dict[str, Array]:
    """Water standing on each inner surface of a zone, kg."""
    net = assembly.network.net
    return {
        s.name: np.maximum(y[..., net.water[assembly.network.node(s.node)]], 0.0)
        for s in assembly.surfaces
        if s.zone == zone
    }
