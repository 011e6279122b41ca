"""Water bodies, the films on walls and where they run, fog, and the garden."""

from __future__ import annotations

import math

from nestwright.habitat.making_network import Making
from nestwright.habitat.model import Garden
from nestwright.network.builder import DRAIN

__all__ = ["add_garden", "add_waters", "footprint", "lead_films", "rest_waters"]


def add_waters(net: Making) -> None:
    """Blocks, pools and reservoirs, with the surface that gives off water."""
    for w in net.habitat.waters:
        zone = net.zone[w.chamber]
        node = net.b.node(
            f"water:{w.name}",
            w.dry_mass * net.v("porous_heat_capacity") + 5.0,
            w.store,
            error=max(1e-2 * w.store, 1e-5),
            store=True,
        )
        net.water_in.setdefault(zone, node)
        # what condenses into a full body runs over and away
        net.b.overflow(node, w.store, DRAIN, 1.0, DRAIN)
        net.face(
            zone,
            node,
            w.free_surface,
            "base",
            math.sqrt(w.free_surface),
            0.95,
            True,
            scale=net.v("water_patch") * w.free_surface,
            wick=w.wick_limit or 0.0,
            account="block_evaporation",
        )


def rest_waters(net: Making) -> None:
    """Water bodies rest on the base of their chamber."""
    for w in net.habitat.waters:
        zone = net.zone[w.chamber]
        node = net.b.node_number(f"water:{w.name}")
        if zone in net.floor:
            net.b.connect(node, net.floor[zone], net.v("water_conductance") * w.free_surface)


def lead_films(net: Making) -> None:
    """Where the water of full films runs, and where fog settles."""
    garden_of = {net.garden_zone(g.chamber): (net.b.node_number(f"garden:{g.chamber}"), g) for g in net.habitat.gardens}
    for zone, node, face, area in net.inner_nodes:
        below = _below(net, zone)
        if below == node:
            below = DRAIN
        limit = net.v(f"film_limit_{face}") * area
        if face == "top" and zone in garden_of:
            garden, g = garden_of[zone]
            share = min(1.0, footprint(g) / area)
            net.b.overflow(node, limit, garden, share, below, drip=True)
        else:
            net.b.overflow(node, limit, below, 1.0, DRAIN)
    for zone in range(len(net.b.zones)):
        target = _below(net, zone)
        if target == DRAIN:
            target = next(node for z, node, *_ in net.inner_nodes if z == zone)
        net.b.fog(zone, target)
    for node, g in garden_of.values():
        full = _garden_water(net, g)
        below = _below(net, net.garden_zone(g.chamber))
        net.b.overflow(node, 1.05 * full, below, 1.0, DRAIN)


def add_garden(net: Making, g: Garden) -> tuple[str, str, float]:
    """The garden of a chamber: its zone, node, and most leaf water kg/s."""
    zone = net.garden_zone(g.chamber)
    water = _garden_water(net, g)
    solid = g.volume * net.g("bulk_density") * (1 - net.g("water_share"))
    name = f"garden:{g.chamber}"
    node = net.b.node(name, max(solid * 1500.0, 0.5), water, error=2e-3 * water)
    area = net.g("shape_factor") * g.volume ** (2 / 3)
    net.face(
        zone,
        node,
        area,
        "body",
        g.volume ** (1 / 3),
        0.95,
        True,
        activity=net.g("water_activity"),
        scale=0.1 * water,
        account="garden_evaporation",
    )
    rate = net.g("respiration_co2") * g.volume + net.g("worker_co2") * g.workers
    supply = net.g("leaf_water") * g.volume
    net.b.garden(
        node,
        zone,
        co2_rate=rate,
        q10=net.g("respiration_q10"),
        reference=298.15,
        half_oxygen=net.v("half_oxygen"),
        quotient=net.g("respiratory_quotient"),
        heat=net.g("heat_per_mol_co2"),
        full_water=water,
        leaf_water=supply,
        fails_at=net.v("garden_fails_at"),
        fails_over=net.v("garden_fails_over"),
    )
    return net.b.zones[zone][0], name, supply


def footprint(g: Garden) -> float:
    """Floor that a garden of this volume covers, taken as half a ball, m2."""
    return math.pi * (3 * g.volume / (2 * math.pi)) ** (2 / 3)


def _garden_water(net: Making, g: Garden) -> float:
    return g.volume * net.g("bulk_density") * net.g("water_share")


def _below(net: Making, zone: int) -> int:
    """Where water that falls in a zone ends: the water body or floor below it."""
    name = net.b.zones[zone][0].split("/")[0]
    seen = 0
    while name in net.grid_above and seen < 8:
        name = net.grid_above[name].below
        seen += 1
    z = net.zone[name]
    return net.water_in.get(z, net.floor.get(z, DRAIN))
