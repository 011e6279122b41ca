"""What may differ in a build from its design: each part with a factor, and the network with those factors in it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from nestwright.climate.dry_run_values import dry_run_values
from nestwright.data import SpeciesCard
from nestwright.habitat.assemble import Assembly, assemble
from nestwright.habitat.model import Habitat, Pattern, Vent

__all__ = ["Part", "assemble_build", "empty_build", "leak_name", "own_rates", "parts_of", "with_factors"]

WALLS = "walls:all"
COOLER = 0.3
"""K by which an evaporating surface is taken to be below the air, where its film's uncertainty is weighed."""
NO_LEAK = 1e-4
"""Factor of a leak that is not there: the network keeps its form, the air does not notice."""


@dataclass(frozen=True)
class Part:
    """One thing that may differ. `tolerance` and `fault` are standard deviations of ln(factor): of a part as it should
    be, and of one that is wrong. `between` are the ends of an opening ("" for others). The factor of a leak is its area
    over `leak_area` of data/dry_run.toml."""

    name: str
    kind: str
    tolerance: float
    fault: float
    between: tuple[str, str] = ("", "")

    @property
    def leak(self) -> bool:
        return self.kind == "leak"


def empty_build(habitat: Habitat) -> Habitat:
    """The design as it stands in a dry run: no garden, no ants in the passages."""
    bare = tuple(dataclasses.replace(p, occupied=0.0) for p in habitat.passages)
    return dataclasses.replace(habitat, gardens=(), passages=bare)


def leak_name(chamber: str) -> str:
    return f"leak:{chamber}"


def assemble_build(
    habitat: Habitat,
    card: SpeciesCard,
    *,
    pressure: float,
    room_co2: float,
    override: Mapping[str, float] | None = None,
) -> Assembly:
    """The network of a habitat with one more opening for a leak in every chamber that faces the room (or the chamber
    around it)."""
    values = dry_run_values()
    d, area = values["leak_hole"].value, values["leak_area"].value
    leaks = []
    for chamber in habitat.chambers:
        wall = chamber.wall("side")
        known = {c.name for c in habitat.chambers}
        to = wall.touches if wall.touches in known else "room"
        depth = sum(layer.thickness for layer in wall.layers)
        holes = max(1, round(area / (math.pi / 4 * d**2)))
        pattern = Pattern("hole", math.sqrt(4 * area / math.pi / holes), 0.0, holes, 0.0, 0.0, depth)
        name = leak_name(chamber.name)
        leaks.append(Vent(name, chamber.name, "side", chamber.shape.height / 2, pattern, to))
    whole = dataclasses.replace(habitat, vents=(*habitat.vents, *leaks))
    return assemble(whole, card, pressure=pressure, room_co2=room_co2, override=override)


def parts_of(assembly: Assembly) -> tuple[Part, ...]:
    """Parts of a build, in the order openings, leaks, block, heater, walls."""
    v = {name: value.value for name, value in dry_run_values().items()}
    vents = {vent.name for vent in assembly.habitat.vents}
    passages = {p.name for p in assembly.habitat.passages}
    leaks = {leak_name(c.name) for c in assembly.habitat.chambers}
    found = []
    for path in assembly.paths:
        ends = (path.first, path.second)
        if path.name in leaks:
            found.append(Part(path.name, "leak", v["leak_spread"], v["leak_spread"], ends))
            continue
        kind = (
            "vent"
            if path.name in vents
            else "passage"
            if path.name in passages
            else next(
                k.replace("_", " ") for k in ("lid_gap", "rim_gap", "grid") if path.name.endswith(k.replace("_", " "))
            )
        )
        found.append(Part(path.name, kind, v[f"tolerance_{kind.replace(' ', '_')}"], v["fault_opening"], ends))
    found.sort(key=lambda part: part.leak)
    found += [Part(name, "block", v["tolerance_block"], v["fault_block"]) for name in assembly.waters]
    found += [
        Part(f"heater:{h.name}", "heater", v["tolerance_heater"], v["fault_heat"]) for h in assembly.habitat.heaters
    ]
    found.append(Part(WALLS, "walls", v["tolerance_walls"], v["fault_heat"]))
    return tuple(found)


def with_factors(assembly: Assembly, factors: Mapping[str, float]) -> Assembly:
    """The same network with each named part multiplied; parts that are not named stay, leaks that are not named are
    shut.

    An opening with factor f lets through what f as many openings of its kind would: diffusion, flow and counter-flow
    alike. A block evaporates from f times its surface (and supplies f times through its wick); walls conduct f times,
    in every layer and at their outside; a heater gives f times its power.
    """
    network = assembly.network
    net = network.net
    opening, surface = net.opening_v.copy(), net.surface_v.copy()
    link, heater = net.link_g.copy(), net.heater_v.copy()
    leaks = {leak_name(c.name) for c in assembly.habitat.chambers}
    for path in assembly.paths:
        f = factors.get(path.name, NO_LEAK if path.name in leaks else 1.0)
        if f == 1.0:
            continue
        row = opening[path.row]
        row[1] /= f
        row[2] /= f * f
        row[3:5] *= f
        row[6:10] *= f
    for name in assembly.waters:
        f = factors.get(name, 1.0)
        rows = net.surface[:, 1] == network.node(name)
        surface[rows, 7:9] *= f
    for k, name in enumerate(network.heater_names):
        heater[k, 0] *= factors.get(f"heater:{name}", 1.0)
    if (f := factors.get(WALLS, 1.0)) != 1.0:
        link[_wall_links(assembly)] *= f
    changed = net._replace(opening_v=opening, surface_v=surface, link_g=link, heater_v=heater)
    return dataclasses.replace(assembly, network=dataclasses.replace(network, net=changed))


def own_rates(assembly: Assembly) -> dict[str, float]:
    """What blocks and walls do at the model's own values, by part, any unit.

    A block's film over its surface, a little cooler than the air as evaporation makes it; the walls' conductance to the
    room. The readings tell only such a rate times the part's factor.
    """
    net, network = assembly.network.net, assembly.network
    found = {}
    for name in assembly.waters:
        row = net.surface_v[int(np.flatnonzero(net.surface[:, 1] == network.node(name))[0])]
        # what a wick supplies does not hang on the film
        found[name] = 1.0 if row[7] > 0 else float((row[1] + COOLER * row[3]) ** 0.25 * row[8])
    found[WALLS] = float(net.link_g[net.link.max(axis=1) == net.room].sum())
    return found


def _wall_links(assembly: Assembly) -> np.ndarray:
    """Links from layer to layer of one wall, and from a wall to the room."""
    net, names = assembly.network.net, assembly.network.node_names
    stem = [name.split("#")[0] for name in names]
    return np.array(
        [max(i, j) == net.room or (min(i, j) >= net.zones and stem[i] == stem[j]) for i, j in net.link.tolist()],
        dtype=bool,
    )
