"""A habitat's air network in the making: what is there so far, and what every part of the habitat adds to it."""

from __future__ import annotations

from dataclasses import dataclass

from nestwright.data import SpeciesCard, constants, load_materials
from nestwright.habitat.model import Garden, Habitat
from nestwright.network.builder import Builder
from nestwright.physics import air

__all__ = ["Making", "PathRecord", "Surface"]


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


@dataclass
class _Skin:
    """A surface waiting for its zone's radiation exchange."""

    node: int
    area: float
    emissivity: float


class Making:
    """The builder of a network, with the names and nodes that later parts ask for; `values` by `uncertain_values`."""

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
        self.zone: dict[str, int] = {}
        self.roles: dict[str, str] = {}
        self.size: dict[int, float] = {}
        self.water_in: dict[int, int] = {}
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
        """A value of data/assembly.toml."""
        return self.values[f"assembly.{name}"]

    def g(self, name: str) -> float:
        """A value of the card's garden."""
        return self.values[f"garden.{name}"]

    def add_zone(self, name: str, volume: float, role: str) -> None:
        """A chamber's air, or that under its bell: volume m3."""
        z = self.b.zone(name, volume)
        self.zone[name], self.roles[name], self.size[z] = z, role, volume
        self.skins[z] = []

    def garden_zone(self, chamber: str) -> int:
        """Zone in which a chamber's garden stands: under its bell where it has one."""
        return self.zone.get(f"{chamber}/bell", self.zone[chamber])

    def face(
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

    def radiate(self) -> None:
        """Linear exchange between all surfaces of a zone through their common mean radiant temperature."""
        for skins in self.skins.values():
            total = sum(s.area * s.emissivity for s in skins)
            for n, s in enumerate(skins):
                for r in skins[n + 1 :]:
                    self.b.connect(
                        s.node, r.node, self.radiation * s.area * s.emissivity * r.area * r.emissivity / total
                    )
