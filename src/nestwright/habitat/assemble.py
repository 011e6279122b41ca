"""From a design to its air network: zones, walls, water, garden, openings and heat.

What stands where, and why it is modelled so: docs/how-it-computes/network.md. Values that no habitat file
states come from data/assembly.toml and the species card; `override` replaces any of them by name, which is how
the proof carries their uncertainty.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from nestwright.data import Material, SpeciesCard, Value, assembly_values, constants, load_materials
from nestwright.habitat.air_paths import AirPath, gap_path, grid_path, passage_path, pattern_path
from nestwright.habitat.model import Bell, Chamber, Face, Garden, Habitat, Layer, Wall
from nestwright.habitat.standing import port_recess, share_under, standing_volume
from nestwright.network.builder import DRAIN, ROOM, Builder, Network
from nestwright.physics import air


@dataclass(frozen=True)
class Surface:
    """An inner surface whose dew margin is reported: its zone, node and film limit in kg."""

    name: str
    zone: str
    node: str


@dataclass(frozen=True)
class PathRecord:
    """An opening of the finished network: names of its ends ("room" outside) and the row in the network's table."""

    name: str
    first: str
    second: str
    row: int


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
    return _Assembler(habitat, card, builder, at).build(like)


@dataclass
class _Skin:
    """A surface waiting for its zone's radiation exchange."""

    node: int
    area: float
    emissivity: float


class _Assembler:
    def __init__(self, habitat: Habitat, card: SpeciesCard, builder: Builder, values: dict[str, float]) -> None:
        self.habitat, self.card, self.b, self.values = habitat, card, builder, values
        self.materials = load_materials()
        self.bells = {bell.chamber: bell for bell in habitat.bells}
        self.grid_above = {g.above: g for g in habitat.grids}
        self.grid_below = {g.below: g for g in habitat.grids}
        self.gardens: dict[str, Garden] = {g.chamber: g for g in habitat.gardens}
        self.skins: dict[int, list[_Skin]] = {}
        self.surfaces: list[Surface] = []
        self.paths: list[PathRecord] = []
        self.outer: dict[tuple[str, str], int] = {}
        self.floor: dict[int, int] = {}
        self.inner_nodes: list[tuple[int, int, str, float]] = []
        c = {k: v.value for k, v in constants().items()}
        self.lewis = 1.0 / (
            float(air.density(298.15, 0.5, self.b.pressure))
            * c["heat_capacity_dry_air"]
            * (
                float(air.conductivity(298.15))
                / (
                    float(air.density(298.15, 0.0, self.b.pressure))
                    * c["heat_capacity_dry_air"]
                    * float(air.diffusivity_vapour(298.15, self.b.pressure))
                )
            )
            ** (2 / 3)
        )
        self.radiation = 4 * c["stefan_boltzmann"] * 298.15**3
        self.permeability = c["vapour_permeability_air"]

    def v(self, name: str) -> float:
        return self.values[f"assembly.{name}"]

    # -- zones -------------------------------------------------------------------------------------------

    def build(self, like: Network | None) -> Assembly:
        h = self.habitat
        self.zone: dict[str, int] = {}
        self.roles: dict[str, str] = {}
        self.size: dict[int, float] = {}
        for chamber in h.chambers:
            volume = chamber.shape.volume + port_recess(h, chamber)
            bell = self.bells.get(chamber.name)
            taken = standing_volume(h, chamber)
            garden = self.gardens.get(chamber.name)
            if garden and not bell:
                taken += garden.volume
            self._zone(chamber.name, max(volume - taken, 0.05 * volume), "outer" if bell else chamber.role)
            if bell:
                inside = bell.shape.volume - (garden.volume if garden else 0.0)
                self._zone(f"{chamber.name}/bell", max(inside, 0.05 * bell.shape.volume), chamber.role)
        self._waters()
        for chamber in h.chambers:
            for wall in chamber.walls:
                self._wall(chamber, wall)
        for bell in h.bells:
            self._bell(bell)
        self._floors()
        gardens = [self._garden(g) for g in h.gardens]
        self._films()
        self._openings()
        self._radiate()
        self._sensors_and_heaters()
        return Assembly(
            h,
            self.card,
            self.b.finish(like),
            self.roles,
            tuple(self.surfaces),
            tuple(self.paths),
            tuple(f"water:{w.name}" for w in h.waters),
            tuple(gardens),
        )

    def _zone(self, name: str, volume: float, role: str) -> None:
        z = self.b.zone(name, volume)
        self.zone[name], self.roles[name], self.size[z] = z, role, volume
        self.skins[z] = []

    def garden_zone(self, chamber: str) -> int:
        return self.zone.get(f"{chamber}/bell", self.zone[chamber])

    # -- surfaces ----------------------------------------------------------------------------------------

    def _face(
        self, zone: int, node: int, area: float, kind: str, length: float, emissivity: float, wet: bool, **more: object
    ) -> None:
        """A surface in a zone. kind: side, top (looks down), base (looks up), body (all round)."""
        q = length**0.25
        vertical = self.v("convection_vertical") / q
        unstable, stable = self.v("convection_unstable") / q, self.v("convection_stable") / q
        warm, cool = {
            "side": (vertical, vertical),
            "body": (vertical, vertical),
            "base": (unstable, stable),
            "top": (stable, unstable),
        }[kind]
        still = self.v("still_air_nusselt") * float(air.conductivity(298.15)) / self.size[zone] ** (1 / 3)
        values = {"scale": self.v("film_patch") * area} | more
        self.b.surface(zone, node, area, still, warm, cool, lewis=self.lewis if wet else 0.0, **values)  # type: ignore[arg-type]
        self.skins[zone].append(_Skin(node, area, emissivity))

    def _radiate(self) -> None:
        """Linear exchange between all surfaces of a zone through their common mean radiant temperature."""
        for skins in self.skins.values():
            total = sum(s.area * s.emissivity for s in skins)
            for n, s in enumerate(skins):
                for r in skins[n + 1 :]:
                    self.b.connect(
                        s.node, r.node, self.radiation * s.area * s.emissivity * r.area * r.emissivity / total
                    )

    # -- walls -------------------------------------------------------------------------------------------

    def _slices(self, layers: tuple[Layer, ...]) -> list[tuple[Material, float]]:
        """Layers cut so that none takes more than about ten minutes to warm through."""
        out = []
        for layer in layers:
            m = self.materials[layer.material]
            reach = math.sqrt(m.conductivity / (m.density * m.specific_heat) * 600.0)
            parts = min(max(math.ceil(layer.thickness / (2 * reach)), 1), 4)
            out += [(m, layer.thickness / parts)] * parts
        return out

    def _stack(
        self, name: str, slices: list[tuple[Material, float]], area: float, spread: float, both: bool
    ) -> tuple[list[int], float]:
        """Nodes from the inside outwards, and the resistance K/W left beyond the last one.

        `spread` is the growth of area per metre (round walls). With `both` the far side is a surface too.
        """
        capacity = [0.0] * (len(slices) + 1)
        resistance = []
        depth = 0.0
        for n, (m, d) in enumerate(slices):
            a = area * (1 + spread * (depth + d / 2))
            c = m.density * m.specific_heat * d * a
            last = n == len(slices) - 1 and not both
            capacity[n] += c if last else c / 2
            capacity[n + 1] += 0.0 if last else c / 2
            resistance.append(d / (m.conductivity * a))
            depth += d
        count = len(slices) + 1 if both else len(slices)
        nodes = [
            self.b.node(
                name if n == 0 else f"{name}#{n}",
                capacity[n],
                0.0 if n == 0 or (both and n == count - 1) else None,
                error=0.05 * self.v("film_patch") * area,
            )
            for n in range(count)
        ]
        for n in range(count - 1):
            self.b.connect(nodes[n], nodes[n + 1], 1 / resistance[n])
        return nodes, 0.0 if both else resistance[-1]

    def _wall(self, chamber: Chamber, wall: Wall) -> None:
        name = chamber.name
        if (wall.face == "base" and name in self.grid_above) or (wall.face == "top" and name in self.grid_below):
            return
        shape = chamber.shape
        area = shape.area(wall.face)
        label = f"{name}.{wall.face}"
        zone = self.zone[name]
        other = wall.touches if wall.touches in self.zone else ""
        if other and (other, name) in self.outer:
            return
        slices = self._slices(wall.layers)
        spread = 2 / min(shape.width, shape.depth) if wall.face == "side" else 0.0
        nodes, rest = self._stack(label, slices, area, spread, bool(other))
        length = shape.height if wall.face == "side" else math.sqrt(area)
        self._face(zone, nodes[0], area, wall.face, length, slices[0][0].emissivity, True)
        self.surfaces.append(Surface(wall.face, name, label))
        self.inner_nodes.append((zone, nodes[0], wall.face, area))
        if wall.face == "base":
            self.floor[zone] = nodes[0]
        permeance = area / sum(m.mu * d / self.permeability for m, d in slices)
        if other:
            far = {"side": "side", "top": "base", "base": "top"}[wall.face]
            z = self.zone[other]
            self._face(z, nodes[-1], area, far, length, slices[-1][0].emissivity, True)
            self.surfaces.append(Surface(f"{far} to {name}", other, f"{label}#{len(nodes) - 1}"))
            self.inner_nodes.append((z, nodes[-1], far, area))
            self.outer[(name, other)] = nodes[0]
            self.outer[(name, wall.face)] = nodes[-1]
            self.b.permeate(zone, z, permeance)
            return
        thick = sum(d for _, d in slices)
        outside = area * (1 + spread * thick)
        film = {
            "room": {"side": "outside_film_level", "top": "outside_film_up", "base": "outside_film_down"}[wall.face],
            "bench": "bench_resistance",
            "floor": "floor_resistance",
        }[wall.touches]
        self.b.connect(nodes[-1], ROOM, 1 / (rest + self.v(film) / outside))
        # a heater lies on the wall under its outermost layer (the insulation), when it has more than one
        under = len(self._slices(wall.layers[:-1])) if len(wall.layers) > 1 else len(nodes) - 1
        self.outer[(name, wall.face)] = nodes[min(under, len(nodes) - 1)]
        if wall.touches == "room":
            self.b.permeate(zone, ROOM, permeance)

    def _bell(self, bell: Bell) -> None:
        inside, outside = self.zone[f"{bell.chamber}/bell"], self.zone[bell.chamber]
        slices = self._slices(bell.layers)
        faces: tuple[Face, ...] = ("side", "top")
        for face in faces:
            area = bell.shape.area(face)
            label = f"{bell.chamber}/bell.{face}"
            spread = 2 / bell.shape.width if face == "side" else 0.0
            nodes, _ = self._stack(label, slices, area, spread, True)
            length = bell.shape.height if face == "side" else math.sqrt(area)
            self._face(inside, nodes[0], area, face, length, slices[0][0].emissivity, True)
            far = "side" if face == "side" else "base"
            self._face(outside, nodes[-1], area, far, length, slices[-1][0].emissivity, True)
            self.surfaces.append(Surface(face, f"{bell.chamber}/bell", label))
            self.inner_nodes.append((inside, nodes[0], face, area))
            self.inner_nodes.append((outside, nodes[-1], far, area))
            self.b.permeate(inside, outside, area / sum(m.mu * d / self.permeability for m, d in slices))

    # -- water -------------------------------------------------------------------------------------------

    def _waters(self) -> None:
        self.water_in: dict[int, int] = {}
        for w in self.habitat.waters:
            zone = self.zone[w.chamber]
            node = self.b.node(
                f"water:{w.name}",
                w.dry_mass * self.v("porous_heat_capacity") + 5.0,
                w.store,
                error=max(1e-2 * w.store, 1e-5),
                store=True,
            )
            self.water_in.setdefault(zone, node)
            # what condenses into a full body runs over and away
            self.b.overflow(node, w.store, DRAIN, 1.0, DRAIN)
            self._face(
                zone,
                node,
                w.free_surface,
                "base",
                math.sqrt(w.free_surface),
                0.95,
                True,
                scale=self.v("water_patch") * w.free_surface,
                wick=w.wick_limit or 0.0,
                account="block_evaporation",
            )

    def _floors(self) -> None:
        """Water bodies rest on the base of their chamber."""
        for w in self.habitat.waters:
            zone = self.zone[w.chamber]
            node = self.b.node_number(f"water:{w.name}")
            if zone in self.floor:
                self.b.connect(node, self.floor[zone], self.v("water_conductance") * w.free_surface)

    def _below(self, zone: int) -> int:
        """Where water that falls in a zone ends: the water body or floor below it."""
        name = self.b.zones[zone][0].split("/")[0]
        seen = 0
        while name in self.grid_above and seen < 8:
            name = self.grid_above[name].below
            seen += 1
        z = self.zone[name]
        return self.water_in.get(z, self.floor.get(z, DRAIN))

    def _films(self) -> None:
        """Where the water of full films runs, and where fog settles."""
        garden_of = {
            self.garden_zone(g.chamber): (self.b.node_number(f"garden:{g.chamber}"), g) for g in self.habitat.gardens
        }
        for zone, node, face, area in self.inner_nodes:
            below = self._below(zone)
            if below == node:
                below = DRAIN
            limit = self.v(f"film_limit_{face}") * area
            if face == "top" and zone in garden_of:
                garden, g = garden_of[zone]
                share = min(1.0, self._footprint(g) / area)
                self.b.overflow(node, limit, garden, share, below, drip=True)
            else:
                self.b.overflow(node, limit, below, 1.0, DRAIN)
        for zone in range(len(self.b.zones)):
            target = self._below(zone)
            if target == DRAIN:
                target = next(node for z, node, *_ in self.inner_nodes if z == zone)
            self.b.fog(zone, target)
        for node, g in garden_of.values():
            full = self._garden_water(g)
            below = self._below(self.garden_zone(g.chamber))
            self.b.overflow(node, 1.05 * full, below, 1.0, DRAIN)

    # -- garden ------------------------------------------------------------------------------------------

    def g(self, name: str) -> float:
        return self.values[f"garden.{name}"]

    def _footprint(self, g: Garden) -> float:
        """Floor that a garden of this volume covers, taken as half a ball, m2."""
        return math.pi * (3 * g.volume / (2 * math.pi)) ** (2 / 3)

    def _garden_water(self, g: Garden) -> float:
        return g.volume * self.g("bulk_density") * self.g("water_share")

    def _garden(self, g: Garden) -> tuple[str, str, float]:
        zone = self.garden_zone(g.chamber)
        water = self._garden_water(g)
        solid = g.volume * self.g("bulk_density") * (1 - self.g("water_share"))
        name = f"garden:{g.chamber}"
        node = self.b.node(name, max(solid * 1500.0, 0.5), water, error=2e-3 * water)
        area = self.g("shape_factor") * g.volume ** (2 / 3)
        self._face(
            zone,
            node,
            area,
            "body",
            g.volume ** (1 / 3),
            0.95,
            True,
            activity=self.g("water_activity"),
            scale=0.1 * water,
            account="garden_evaporation",
        )
        rate = self.g("respiration_co2") * g.volume + self.g("worker_co2") * g.workers
        supply = self.g("leaf_water") * g.volume
        self.b.garden(
            node,
            zone,
            co2_rate=rate,
            q10=self.g("respiration_q10"),
            reference=298.15,
            half_oxygen=self.v("half_oxygen"),
            quotient=self.g("respiratory_quotient"),
            heat=self.g("heat_per_mol_co2"),
            full_water=water,
            leaf_water=supply,
            fails_at=self.v("garden_fails_at"),
            fails_over=self.v("garden_fails_over"),
        )
        return self.b.zones[zone][0], name, supply

    # -- openings ----------------------------------------------------------------------------------------

    def _path(self, name: str, i: int, j: int, path: AirPath | None, height: float) -> None:
        if path is None:
            return
        names = [z for z, _ in self.b.zones]
        ends = [("room" if e == ROOM else names[e]) for e in (i, j)]
        self.paths.append(PathRecord(name, ends[0], ends[1], len(self.b.opens)))
        self.b.opening(
            i,
            j,
            path.conductances,
            height=height,
            linear=path.linear,
            quadratic=path.quadratic,
            exchange=path.exchange,
            level=path.level,
        )

    def _openings(self) -> None:
        h, p = self.habitat, self.b.pressure
        cd, onset = self.v("discharge"), self.v("exchange_onset")
        for vent in h.vents:
            chamber = h.chamber(vent.chamber)
            z = self.zone[vent.chamber]
            to = ROOM if vent.to == "room" else self.zone[vent.to]
            level = vent.face != "side"
            path = pattern_path(vent.pattern, level, p, cd, 1 - vent.closed)
            height = chamber.place[2] + (
                {"top": chamber.shape.height, "base": 0.0}[vent.face] if level else vent.height
            )
            i, j = (to, z) if vent.face == "top" else (z, to)
            self._path(vent.name, i, j, path, height)
        for q in h.passages:
            a, b = (h.chamber(n) for n in q.between)
            path = passage_path(q.bore, q.length, q.occupied, p, cd, 1 - q.closed)
            middle = (a.place[2] + q.heights[0] + b.place[2] + q.heights[1]) / 2
            self._path(q.name, self.zone[a.name], self.zone[b.name], path, middle)
        for chamber in h.chambers:
            if chamber.lid_gap > 0:
                rim = chamber.shape.rim if chamber.shape.kind == "box" else math.pi * chamber.shape.top_width
                path = gap_path(chamber.lid_gap, rim, chamber.lid_depth, p, cd)
                top = chamber.place[2] + chamber.shape.height
                self._path(f"{chamber.name} lid gap", self.zone[chamber.name], ROOM, path, top)
        for bell in h.bells:
            if bell.rim_gap > 0:
                depth = sum(layer.thickness for layer in bell.layers)
                path = gap_path(bell.rim_gap, bell.shape.rim, depth, p, cd)
                z = self.zone[bell.chamber]
                self._path(
                    f"{bell.chamber} rim gap",
                    self.zone[f"{bell.chamber}/bell"],
                    z,
                    path,
                    h.chamber(bell.chamber).place[2],
                )
        for grid in h.grids:
            upper = h.chamber(grid.above)
            below = self.zone[grid.below]
            total = upper.shape.base_area
            cover = self.bells.get(grid.above)
            under = cover.shape.base_area / total if cover else 1.0
            open_under = share_under(grid, cover, upper) if cover else 1.0
            garden = self.gardens.get(grid.above)
            # openings lie over the whole floor, a mesh in its port in the middle, where the garden lies
            spread = math.pi / 4 * grid.pattern.width**2 if grid.pattern.kind == "mesh" else total
            covered = min(self._footprint(garden) / spread, open_under) * self.v("grid_cover") if garden else 0.0
            height = upper.place[2]
            inner = self.garden_zone(grid.above)
            self._path(
                f"{grid.above} grid", inner, below, grid_path(grid.pattern, p, cd, onset, open_under - covered), height
            )
            if cover:
                self._path(
                    f"{grid.above} outer grid",
                    self.zone[grid.above],
                    below,
                    grid_path(grid.pattern, p, cd, onset, 1 - open_under),
                    height,
                )
            m = self.materials[grid.material]
            plate = self.b.node(
                f"{grid.above}.grid", m.density * m.specific_heat * grid.pattern.thickness * total * 0.8
            )
            for zone, share, face in (
                (inner, under, "base"),
                (self.zone[grid.above], 1 - under, "base"),
                (below, 1.0, "top"),
            ):
                if share > 0:
                    self._face(zone, plate, share * total, face, math.sqrt(total), m.emissivity, False)

    # -- sensors and heat --------------------------------------------------------------------------------

    def _sensors_and_heaters(self) -> None:
        nodes = {}
        for s in self.habitat.sensors:
            name = f"{s.chamber}/bell" if s.under_bell else s.chamber
            nodes[s.name] = self.b.node(f"sensor:{s.name}", self.v("sensor_capacity"))
            self.b.connect(nodes[s.name], self.zone[name], self.v("sensor_capacity") / max(s.lag, 1.0))
        for heater in self.habitat.heaters:
            chamber, where = heater.where
            if where == "air":
                target = self.zone[chamber]
            elif where == "water":
                target = self.water_in[self.zone[chamber]]
            else:
                target = self.outer[(chamber, where)]
            sensor = nodes.get(heater.sensor, target)
            self.b.heater(heater.name, target, heater.power, heater.control, heater.set_point, heater.band, sensor)
