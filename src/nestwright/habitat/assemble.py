"""From a design to its air network: zones, walls, water, garden, openings and heat.

What stands where, and why it is modelled so: docs/how-it-computes/network.md. Values that no habitat file
states come from data/assembly.toml and the species card; `override` replaces any of them by name, which is how
the proof carries their uncertainty.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nestwright.data import SpeciesCard, Value, assembly_values
from nestwright.habitat.heat_network import add_heat
from nestwright.habitat.making_network import Making, PathRecord, Surface
from nestwright.habitat.model import Habitat
from nestwright.habitat.opening_network import add_openings
from nestwright.habitat.standing import port_recess, standing_volume
from nestwright.habitat.wall_network import add_bell, add_wall
from nestwright.habitat.water_network import add_garden, add_waters, lead_films, rest_waters
from nestwright.network.builder import Builder, Network
from nestwright.physics import air


@dataclass(frozen=True)
class Assembly:
    """The network of one habitat with the names that the proof needs."""

    habitat: Habitat
    card: SpeciesCard
    network: Network
    roles: dict[str, str]
    surfaces: tuple[Surface, ...]
    paths: tuple[PathRecord, ...]
    waters: tuple[str, ...]
    """Node names of the water bodies, in the order of the habitat's list."""
    gardens: tuple[tuple[str, str, float], ...]
    """(zone, node, most leaf water kg/s) of each garden."""


def uncertain_values(habitat: Habitat, card: SpeciesCard) -> dict[str, Value]:
    """Every value the network rests on that is not in the design, by the name that `override` takes."""
    values = {f"assembly.{k}": v for k, v in assembly_values().items()}
    if habitat.gardens:
        values |= {f"garden.{k}": v for k, v in card.garden.items()}
    return values


def assemble(
    habitat: Habitat,
    card: SpeciesCard,
    *,
    pressure: float | None = None,
    room_co2: float = 4.5e-4,
    room_o2: float = 0.2095,
    override: Mapping[str, float] | None = None,
    like: Network | None = None,
) -> Assembly:
    """Build the network of a habitat.

    Parameters
    ----------
    pressure : station pressure, Pa; by default that of the habitat's altitude.
    override : values by the names of `uncertain_values`.
    like : a network of the same design, whose analysis is taken over.

    Raises KeyError for an unknown material: `check_habitat` reports those with their place in the file.
    """
    chosen = dict(override or {})
    at = {name: chosen.get(name, value.value) for name, value in uncertain_values(habitat, card).items()}
    if pressure is None:
        pressure = float(air.pressure_at_altitude(habitat.altitude))
    builder = Builder(pressure, room_co2, room_o2, at["assembly.fog_rate"], at["assembly.drip_rate"])
    return _put_together(Making(habitat, card, builder, at), like)


def _put_together(net: Making, like: Network | None) -> Assembly:
    h = net.habitat
    for chamber in h.chambers:
        volume = chamber.shape.volume + port_recess(h, chamber)
        bell = net.bells.get(chamber.name)
        taken = standing_volume(h, chamber)
        garden = net.gardens.get(chamber.name)
        if garden and not bell:
            taken += garden.volume
        net.add_zone(chamber.name, max(volume - taken, 0.05 * volume), "outer" if bell else chamber.role)
        if bell:
            inside = bell.shape.volume - (garden.volume if garden else 0.0)
            net.add_zone(f"{chamber.name}/bell", max(inside, 0.05 * bell.shape.volume), chamber.role)
    add_waters(net)
    for chamber in h.chambers:
        for wall in chamber.walls:
            add_wall(net, chamber, wall)
    for bell in h.bells:
        add_bell(net, bell)
    rest_waters(net)
    gardens = [add_garden(net, g) for g in h.gardens]
    lead_films(net)
    add_openings(net)
    net.radiate()
    add_heat(net)
    return Assembly(
        h,
        net.card,
        net.b.finish(like),
        net.roles,
        tuple(net.surfaces),
        tuple(net.paths),
        tuple(f"water:{w.name}" for w in h.waters),
        tuple(gardens),
    )
