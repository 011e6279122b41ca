"""From a parcel to its network: the box's air and the cup's, walls, filler, pack, garden; the room is what is outside.

What stands where, and why it is modelled so: docs/how-it-computes/parcel.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from nestwright.data import Material, Value, assembly_values, constants, read_values
from nestwright.habitat.air_paths import AirPath, gap_path, open_path, pattern_path
from nestwright.habitat.model import Pattern
from nestwright.network.arrays import Floats
from nestwright.network.builder import DRAIN, ROOM, Builder, Network
from nestwright.parcel.file import all_materials
from nestwright.parcel.model import Holes, Layers, Parcel
from nestwright.parcel.rust import energy_per_mol_oxygen
from nestwright.physics import air

__all__ = ["BOX", "CUP", "TRACE", "Layout", "factors_on", "lay_out", "pack_link", "resting_values", "slices"]

BOX, CUP = 0, 1
"""Numbers of the two zones."""
SLICE, MOST_SLICES = 0.012, 4
TRACE = 1e-6
"""mol of CO2 that stand for a mole of oxygen in iron that rusts: too little to count."""
PROPORTIONAL = 1e4
"""Half-saturation far above any oxygen, which makes a rate proportional to it."""
NEARLY_NONE = 1e-6
"""W/K of a link that is there in every position, so that all have one pattern."""


@dataclass(frozen=True)
class Layout:
    """The network with what a run needs of it: nodes by number; rows of the openings to the outside and of the links
    through the box's wall, which the leak and conductance factors scale; the link from pack to cup (-1 without pack)
    with its area m2, way m when the cup is in the middle, W/(m K) and contact W/(m2 K)."""

    network: Network
    pack: int
    garden: int
    wall: int
    leaks: tuple[int, ...]
    shell: tuple[int, ...]
    near: int
    near_values: tuple[float, float, float, float]
    activity: float
    """Water activity of the garden."""


def resting_values(parcel: Parcel) -> dict[str, Value]:
    """Every value that the network rests on and no file states, by the name that `override` takes."""
    found = {f"parcel.{k}": v for k, v in read_values("parcel.toml").items()}
    found |= {f"assembly.{k}": v for k, v in assembly_values().items()}
    return found | {f"garden.{k}": v for k, v in parcel.card.garden.items()}


def lay_out(parcel: Parcel, override: Mapping[str, float] | None = None, like: Network | None = None) -> Layout:
    """Build the network of a parcel, with the cup in the middle; `factors_on` moves what differs between parcels."""
    at = {k: v.value for k, v in resting_values(parcel).items()} | dict(override or {})
    return _Laying(parcel, at).build(like)


def factors_on(layout: Layout, leak: Floats, conductance: Floats) -> tuple[Floats, Floats]:
    """Conductances of the links (n, links) and values of the openings (n, openings, 14) with factors, shape (n,), on
    the leaks and on the box's wall."""
    net = layout.network.net
    links = np.repeat(net.link_g[None], leak.size, axis=0)
    openings = np.repeat(net.opening_v[None], leak.size, axis=0)
    links[:, list(layout.shell)] *= conductance[:, None]
    for row in layout.leaks:
        # an opening's values: height, linear, quadratic, inertial, viscous, threshold, four conductances, exponents
        openings[:, row, 1] /= leak
        openings[:, row, 2] /= leak**2
        openings[:, row, 3:5] *= leak[:, None]
        openings[:, row, 6:10] *= leak[:, None]
    return links, openings


def pack_link(layout: Layout, position: Floats) -> Floats:
    """W/K from pack to cup at positions from 0 (cup in the middle) to 1 (against the pack)."""
    area, way, conductivity, contact = layout.near_values
    return np.asarray(area * position / (way * (1 - position) / conductivity + 1 / contact) + NEARLY_NONE)


def slices(layers: Layers, materials: Mapping[str, Material], whole: bool = False) -> list[tuple[float, float]]:
    """Layers cut into slices of about 12 mm, or each left `whole`: resistance m2 K/W and capacity J/(m2 K) of each."""
    parts: list[tuple[float, float]] = []
    for d, material in layers:
        m = materials[material]
        n = 1 if whole else min(max(math.ceil(d / SLICE), 1), MOST_SLICES)
        parts += [(d / n / m.conductivity, m.density * m.specific_heat * d / n)] * n
    return parts


class _Laying:
    def __init__(self, parcel: Parcel, values: dict[str, float]) -> None:
        self.parcel, self.values = parcel, values
        self.materials: Mapping[str, Material] = all_materials()
        pressure = float(air.pressure_at_altitude(parcel.altitude))
        self.b = Builder(pressure, fog_rate=self.a("fog_rate"), drip_rate=self.a("drip_rate"))
        c = {k: v.value for k, v in constants().items()}
        heat = float(air.density(298.15, 0.5, pressure)) * c["heat_capacity_dry_air"]
        self.lewis = 1 / (
            heat * (float(air.conductivity(298.15)) / heat / float(air.diffusivity_vapour(298.15, pressure))) ** (2 / 3)
        )
        self.radiation = 4 * c["stefan_boltzmann"] * 298.15**3

    def a(self, name: str) -> float:
        return self.values[f"assembly.{name}"]

    def p(self, name: str) -> float:
        return self.values[f"parcel.{name}"]

    def g(self, name: str) -> float:
        return self.values[f"garden.{name}"]

    def build(self, like: Network | None) -> Layout:
        parcel, b = self.parcel, self.b
        box, cup, filler = parcel.box, parcel.cup, parcel.filler
        share = filler.share if filler else 0.0
        taken = cup.volume + sum(max(k.gel, 2 * k.iron, self.p("pack_mass")) * k.number * 1e-3 for k in parcel.packs)
        free = max(box.volume - taken, 0.02 * box.volume)
        b.zone("box", free * (1 - share * self.p("filler_solid")))
        b.zone("cup", cup.volume - cup.garden - cup.cotton / 1000)

        width = (4 * cup.volume / math.pi) ** (1 / 3)
        cup_area = 1.5 * math.pi * width**2
        side = box.volume ** (1 / 3)
        gap = max((side - width) / 2, 0.002)

        shell = self._stack("box wall", tuple(reversed(box.layers)), box.area, False)
        through = tuple(range(len(b.links)))
        b.connect(shell[-1], ROOM, box.area * (1 + 2 * box.thickness / side) / self.p("outside_film"))
        b.permeate(BOX, ROOM, self._permeance(box.layers, box.area))
        wall = self._stack("cup wall", tuple(reversed(cup.wall)), cup_area, True)
        b.permeate(CUP, BOX, self._permeance(cup.wall, cup_area))
        air_share = 1 - share
        self._face(BOX, shell[0], box.area * max(air_share, 0.02), side, True)
        self._face(BOX, wall[-1], cup_area * max(air_share, 0.02), width, True)
        self._face(CUP, wall[0], cup_area, width, True)
        b.connect(shell[0], wall[-1], self.radiation * 0.8 * cup_area * air_share)

        fill = -1
        if filler:
            m = self.materials[filler.material]
            fill = b.node("filler", max(m.density * m.specific_heat * free * share, 1.0))
            # half of the way from cup to wall on either side of the node, by the mean of both areas
            half = m.conductivity * 0.5 * (cup_area + box.area) * share / (gap / 2)
            b.connect(fill, shell[0], half)
            b.connect(fill, wall[-1], half)
            b.connect(fill, BOX, self.p("pore_exchange") * box.area * share)
        pack, near, near_values = self._packs(shell[0], wall[-1], fill, gap, share)

        garden = self._garden(wall[0])
        if cup.cotton > 0:
            area = self.p("cotton_area") * cup.cotton
            node = b.node("cotton", max(self.p("cotton_solid") * cup.cotton * 1300, 0.5), cup.cotton, error=1e-5)
            self._face(CUP, node, area, width / 2, True, scale=0.1 * cup.cotton)
            b.connect(node, wall[0], self.p("contact") * 0.3 * area)
        self._films(shell[0], wall, garden, cup_area)
        leaks = self._openings()
        return Layout(
            b.finish(like), pack, garden, wall[0], leaks, through, near, near_values, self.g("water_activity")
        )

    def _stack(self, name: str, layers: Layers, area: float, whole: bool) -> list[int]:
        """Nodes from the inside outwards; `layers` inside out, each `whole` or cut into slices of about 12 mm."""
        parts = [(r / area, c * area) for r, c in slices(layers, self.materials, whole)]
        capacity = [0.0] * (len(parts) + 1)
        for k, (_, c) in enumerate(parts):
            capacity[k] += c / 2
            capacity[k + 1] += c / 2
        nodes = [
            self.b.node(name if k == 0 else f"{name}#{k}", max(c, 0.5), 0.0 if k in (0, len(parts)) else None,
                        error=0.05 * self.a("film_patch") * area)
            for k, c in enumerate(capacity)
        ]  # fmt: skip
        for k, (r, _) in enumerate(parts):
            self.b.connect(nodes[k], nodes[k + 1], 1 / r)
        return nodes

    def _permeance(self, layers: Layers, area: float) -> float:
        delta = constants()["vapour_permeability_air"].value
        return area * delta / sum(self.materials[m].mu * d for d, m in layers)

    def _face(
        self,
        zone: int,
        node: int,
        area: float,
        length: float,
        wet: bool,
        account: str = "",
        downward: float = 0.0,
        **more: float,
    ) -> None:
        """`downward` is the share of the area that faces down, as a pack's under the lid: air below it lies still when
        it is warmer than the air, and falls from it when it is colder."""
        upright = self.a("convection_vertical") * (1 - downward)
        warm = (upright + self.a("convection_stable") * downward) / length**0.25
        cool = (upright + self.a("convection_unstable") * downward) / length**0.25
        still = self.a("still_air_nusselt") * float(air.conductivity(298.15)) / self.b.zones[zone][1] ** (1 / 3)
        values: dict[str, float] = {"scale": self.a("film_patch") * area} | more
        self.b.surface(zone, node, area, still, warm, cool, lewis=self.lewis if wet else 0.0, account=account, **values)

    def _packs(
        self, shell: int, cup: int, fill: int, gap: float, share: float
    ) -> tuple[int, int, tuple[float, float, float, float]]:
        packs = self.parcel.packs
        if not packs:
            return shell, -1, (0.0, 0.0, 1.0, 1.0)
        capacity = area = at_wall = at_fill = under_lid = 0.0
        for k in packs:
            if k.kind == "cold":
                mass, one = k.gel * self.p("gel_heat_capacity"), k.gel * self.p("gel_area")
            else:
                mix = k.iron / self.p("mix_iron_share") if k.iron else self.p("pack_mass")
                mass, one = mix * self.p("mix_heat_capacity"), self.p("pack_area")
            capacity += mass * k.number
            area += one * k.number
            at_wall += (0.0 if k.place == "wrapped" else 0.5) * one * k.number
            at_fill += (1.0 if k.place == "wrapped" else 0.5) * one * k.number
            under_lid += (0.5 if k.place == "top" else 0.0) * one * k.number
        if packs[0].kind == "heat":
            node = self.b.node("pack", capacity, NEARLY_NONE)
            self._rust(node)
        else:
            node = self.b.node("pack", capacity)
        conductivity = float(air.conductivity(298.15))
        if fill >= 0 and self.parcel.filler:
            conductivity = self.materials[self.parcel.filler.material].conductivity
            self.b.connect(node, fill, at_fill * share / (gap / (2 * conductivity) + 1 / self.p("contact")))
        if at_wall > 0:
            self.b.connect(node, shell, at_wall * self.p("contact"))
        self._face(
            BOX, node, max(at_fill * (1 - share), 0.02 * area), math.sqrt(area / 2), False, downward=under_lid / at_fill
        )
        # straight to the cup, over what is left of the gap between them
        self.b.connect(node, cup, NEARLY_NONE)
        return node, len(self.b.links) - 1, (0.5 * area, gap, conductivity, self.p("contact"))

    def _rust(self, node: int) -> None:
        """Iron that rusts is, to the network, a garden that takes oxygen in proportion to what there is, and makes heat
        and next to no CO2 or water; the run sets its rate."""
        energy = energy_per_mol_oxygen()
        # what is drawn in for the oxygen that went is outside air, where there is an opening
        for_good = 1.0 if self.parcel.box.tight else 1.0 - self.b.room_o2
        self.b.garden(
            node,
            BOX,
            co2_rate=0.0,
            q10=1.0,
            reference=298.15,
            half_oxygen=PROPORTIONAL,
            quotient=TRACE / for_good,
            heat=energy / TRACE,
            full_water=NEARLY_NONE,
            leaf_water=0.0,
            fails_at=1e4,
            fails_over=1.0,
        )

    def _garden(self, wall: int) -> int:
        cup, b = self.parcel.cup, self.b
        water = cup.garden * self.g("bulk_density") * self.g("water_share")
        solid = cup.garden * self.g("bulk_density") * (1 - self.g("water_share"))
        node = b.node("garden", max(solid * 1500.0, 0.5), water, error=2e-3 * water)
        area = self.g("shape_factor") * cup.garden ** (2 / 3)
        more = {"activity": self.g("water_activity"), "scale": 0.1 * water}
        self._face(CUP, node, area, cup.garden ** (1 / 3), True, "garden_evaporation", **more)
        b.connect(node, wall, self.radiation * 0.8 * area)
        # it lies on the floor of the cup
        b.connect(node, wall, 0.2 * area * self.p("contact"))
        b.garden(
            node,
            CUP,
            co2_rate=self.g("respiration_co2") * cup.garden + self.g("worker_co2") * cup.workers,
            q10=self.g("respiration_q10"),
            reference=298.15,
            half_oxygen=self.a("half_oxygen"),
            quotient=self.g("respiratory_quotient"),
            heat=self.g("heat_per_mol_co2"),
            full_water=water,
            leaf_water=0.0,
            fails_at=self.a("garden_fails_at"),
            fails_over=self.a("garden_fails_over"),
        )
        b.overflow(node, 1.05 * water, DRAIN, 1.0, DRAIN)
        return node

    def _films(self, shell: int, wall: list[int], garden: int, cup_area: float) -> None:
        b = self.b
        footprint = math.pi * (3 * self.parcel.cup.garden / (2 * math.pi)) ** (2 / 3)
        on_garden = min(1.0, footprint / (cup_area / 6)) / 6
        b.overflow(wall[0], self.a("film_limit_side") * cup_area, garden, on_garden, DRAIN, drip=True)
        b.overflow(wall[-1], self.a("film_limit_side") * cup_area, DRAIN, 1.0, DRAIN)
        b.overflow(shell, self.a("film_limit_side") * self.parcel.box.area, DRAIN, 1.0, DRAIN)
        b.fog(BOX, shell)
        b.fog(CUP, wall[0])

    def _openings(self) -> tuple[int, ...]:
        parcel, b = self.parcel, self.b
        box, cup = parcel.box, parcel.cup
        leaks = []
        discharge = self.a("discharge")
        if box.seam_gap > 0:
            leaks.append(len(b.opens))
            rim = 2 * (box.width + box.depth)
            self._open(BOX, ROOM, gap_path(box.seam_gap, rim, box.thickness, b.pressure, discharge), box.height)
        if box.holes:
            leaks.append(len(b.opens))
            self._open(BOX, ROOM, self._pattern(box.holes, box.thickness, False, discharge), box.height / 2)
        if cup.holes:
            thick = sum(d for d, _ in cup.wall)
            self._open(BOX, CUP, self._pattern(cup.holes, thick, True, discharge), box.height / 2)
        return tuple(leaks)

    def _pattern(self, holes: Holes, thickness: float, level: bool, discharge: float) -> AirPath:
        path = pattern_path(
            Pattern("hole", holes.width, 0.0, holes.count, 0.0, 0.0, thickness), level, self.b.pressure, discharge
        )
        assert path is not None
        return path

    def _open(self, i: int, j: int, path: AirPath, height: float) -> None:
        open_path(self.b, i, j, path, height)
