"""Puts a network together element by element and lays it out as arrays for the kernel."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from nestwright.network.arrays import ACCOUNTS, T_REF, Net
from nestwright.network.sparse import Pattern
from nestwright.network.structure import STRUCTURE, analysed
from nestwright.physics import air

ROOM = -1
SOFTNESS = 1e3
"""Zones give this much more than air alone: pressure settles in milliseconds, not microseconds; no result moves."""
DRAIN = -2

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Tolerance:
    """Error allowed per step, before the solver's own factor: K, vapour/CO2/O2 mole fraction, kg, Pa."""

    temperature: float = 0.01
    vapour: float = 1e-5
    gas: float = 2e-5
    film: float = 1e-5
    store: float = 1e-3
    pressure: float = 1e-2


@dataclass(frozen=True)
class Network:
    """A laid-out network with the names needed to read its state."""

    net: Net
    zone_names: tuple[str, ...]
    node_names: tuple[str, ...]
    heater_names: tuple[str, ...]
    start: Floats
    """Water masses, and nothing else, at the start (shape (size,)); see `initial`."""

    def node(self, name: str) -> int:
        return self.node_names.index(name)

    def account(self, name: str) -> int:
        return ACCOUNTS.index(name)

    def initial(self, temperature: float, vapour_pressure: float) -> Floats:
        """State with every node at the room's temperature and every zone at the room's air."""
        net = self.net
        y = self.start.copy()
        room_x = vapour_pressure / net.pressure
        y[net.heat[net.room]] = temperature - T_REF
        y[net.water[net.room]] = room_x
        moles = net.pressure / (net.gas[0] * temperature)
        for z in range(net.zones):
            n = moles * net.volume[z]
            y[net.water[z]] = n * room_x * net.gas[1]
            y[net.co2[z]] = n * net.room_co2 * (1 - room_x)
            y[net.o2[z]] = n * net.room_o2 * (1 - room_x)
        for j in range(net.room):
            m = y[net.water[j]] if net.water[j] >= 0 else 0.0
            c = net.capacity[j] + net.water_heat[j] * m
            y[net.heat[j]] = (c * (temperature - T_REF) + net.latent[j] * m) / net.capacity[j]
        return y


@dataclass
class Builder:
    """Collects zones, nodes and elements. All values SI; `pressure` is the station pressure, Pa.

    Nodes are addressed by the numbers that `zone` and `node` return, or ROOM; DRAIN takes overflow out.
    Zones must be added before other nodes.
    """

    pressure: float = 101325.0
    room_co2: float = 4.5e-4
    room_o2: float = 0.2095
    fog_rate: float = 0.02
    drip_rate: float = 0.002
    tolerance: Tolerance = field(default_factory=Tolerance)
    zones: list[tuple[str, float]] = field(default_factory=list)
    nodes: list[tuple[str, float, float | None, float, bool]] = field(default_factory=list)
    links: list[tuple[int, int, float]] = field(default_factory=list)
    opens: list[tuple[int, int, int, list[float]]] = field(default_factory=list)
    surfaces: list[tuple[int, int, str, list[float]]] = field(default_factory=list)
    permeations: list[tuple[int, int, float]] = field(default_factory=list)
    overflows: list[tuple[int, int, int, bool, float, float]] = field(default_factory=list)
    fogs: list[tuple[int, int]] = field(default_factory=list)
    gardens: list[tuple[int, int, list[float]]] = field(default_factory=list)
    heaters: list[tuple[str, int, int, int, list[float]]] = field(default_factory=list)

    def zone(self, name: str, volume: float) -> int:
        """A well mixed volume of air, m3."""
        if self.nodes:
            raise ValueError("zones come before other nodes")
        if not volume > 0:
            raise ValueError(f"zone {name}: volume must be positive")
        self.zones.append((name, volume))
        return len(self.zones) - 1

    def node(
        self, name: str, capacity: float, water: float | None = None, error: float | None = None, store: bool = False
    ) -> int:
        """A lump of heat capacity (dry) J/K; with `water` kg it can hold water. `store`: held in a steady solution."""
        if not capacity > 0:
            raise ValueError(f"node {name}: heat capacity must be positive")
        self.nodes.append((name, capacity, water, self.tolerance.film if error is None else error, store))
        return len(self.zones) + len(self.nodes) - 1

    def node_number(self, name: str) -> int:
        """Number of a node added before, by its name; raises StopIteration for an unknown one."""
        return len(self.zones) + next(n for n, item in enumerate(self.nodes) if item[0] == name)

    def connect(self, i: int, j: int, conductance: float) -> None:
        """Heat conductance W/K between two nodes."""
        self.links.append((i, j, conductance))

    def opening(
        self,
        i: int,
        j: int,
        conductances: tuple[float, float, float, float],
        height: float = 0.0,
        linear: float = 1e6,
        quadratic: float = 1e10,
        exchange: tuple[float, float, float] | None = None,
        level: bool = False,
    ) -> None:
        """Opening between two zones.

        `conductances`: diffusive, m3/s at T_REF, of vapour, CO2, O2 and heat. Net flow: dp = linear q + quadratic q|q|.
        `exchange` (inertial m3/s per sqrt(kg/m3), viscous m3/s per kg/m3, threshold kg/m3) of counter-flow;
        with `level` the opening is in a level wall and i lies above j.
        """
        kind = 0 if exchange is None else (2 if level else 1)
        inert, visc, threshold = exchange or (1.0, 1.0, 0.0)
        t, p = T_REF, self.pressure
        exponents = []
        for law in (air.diffusivity_vapour, air.diffusivity_co2, air.diffusivity_o2):
            exponents.append(math.log(float(law(t + 10, p)) / float(law(t, p))) / math.log((t + 10) / t))
        exponents.append(exponents[0])
        self.opens.append((i, j, kind, [height, linear, quadratic, inert, visc, threshold, *conductances, *exponents]))

    def surface(
        self,
        zone: int,
        node: int,
        area: float,
        still: float,
        warm: float,
        cool: float,
        *,
        lewis: float = 0.0,
        activity: float = 1.0,
        scale: float = 1e-6,
        wick: float = 0.0,
        wet_area: float | None = None,
        account: str = "",
    ) -> None:
        """A surface of a node in a zone.

        Film coefficient (still^4 + c^4 |dT|)^(1/4) with c = warm when the surface is warmer than the air, else cool
        (W/(m2 K^1.25)). Water evaporates and condenses at `lewis` x film coefficient (m/s per W/(m2 K)) over `wet_area`
        if the node holds water; `scale` kg is the amount below which the surface dries in patches; `wick` caps
        evaporation, kg/s (0 = no cap).
        """
        values = [
            area,
            still**4,
            warm**4,
            cool**4,
            lewis,
            activity,
            scale,
            wick,
            area if wet_area is None else wet_area,
        ]
        self.surfaces.append((zone, node, account, values))

    def permeate(self, i: int, j: int, conductance: float) -> None:
        """Vapour through a wall, kg/(s Pa)."""
        if conductance > 0:
            self.permeations.append((i, j, conductance))

    def overflow(self, node: int, limit: float, first: int, share: float, rest: int, drip: bool = False) -> None:
        """Water above `limit` kg leaves: `share` of it to node `first`, the rest to `rest` (nodes or DRAIN)."""
        self.overflows.append((node, first, rest, drip, limit, share))

    def fog(self, zone: int, node: int) -> None:
        """Vapour above saturation in a zone settles on a node."""
        self.fogs.append((zone, node))

    def garden(
        self,
        node: int,
        zone: int,
        *,
        co2_rate: float,
        q10: float,
        reference: float,
        half_oxygen: float,
        quotient: float,
        heat: float,
        full_water: float,
        leaf_water: float,
        eagerness: float = 0.02,
        fails_at: float = 309.15,
        fails_over: float = 1.5,
    ) -> None:
        """Respiration: `co2_rate` mol/s at `reference` K; `heat` J per mol CO2; leaf water up to kg/s below full.

        Half of the respiration is lost at `fails_at` K, over a logistic of width `fails_over` K.
        """
        values = [
            co2_rate,
            math.log(q10) / 10,
            reference,
            half_oxygen,
            quotient,
            heat,
            full_water,
            leaf_water,
            eagerness,
        ]
        values += [fails_at, fails_over]
        self.gardens.append((node, zone, values))

    def heater(
        self, name: str, node: int, power: float, control: str, set_point: float, band: float, sensor: int
    ) -> None:
        kind = {"constant": 0, "proportional": 1, "thermostat": 2}[control]
        self.heaters.append(
            (name, node, sensor if kind else node, kind, [power, set_point + band / 2, max(band, 1e-3)])
        )

    def finish(self, like: Network | None = None) -> Network:
        """Lay everything out and analyse the Jacobian's pattern, or take it from a network of the same make."""
        return _lay_out(self, like)


@functools.cache
def saturation_table(start: float = 203.15, step: float = 0.25, count: int = 561) -> Floats:
    """Saturation pressure and slope, shape (count, 2): -70 to 70 degC; cubic interpolation adds under 1e-8."""
    t = start + step * np.arange(count)
    h = 1e-3
    slope = (
        8 * (air.saturation_pressure(t + h) - air.saturation_pressure(t - h))
        - (air.saturation_pressure(t + 2 * h) - air.saturation_pressure(t - 2 * h))
    ) / (12 * h)
    return np.column_stack([air.saturation_pressure(t), slope])


def _lay_out(b: Builder, like: Network | None) -> Network:
    gas = air.gas_constants()
    n_acc, nz = len(ACCOUNTS), len(b.zones)
    nodes = nz + len(b.nodes)
    room = nodes
    account = {name: i for i, name in enumerate(ACCOUNTS)}
    heat, water = np.full(nodes + 1, -1, np.int32), np.full(nodes + 1, -1, np.int32)
    co2, o2, flow = (np.full(nodes + 1, -1, np.int32) for _ in range(3))
    capacity, water_heat, latent = np.ones(nodes + 1), np.zeros(nodes + 1), np.zeros(nodes + 1)
    volume = np.ones(nz + 1)
    scale, weight, hold, start = [1.0] * n_acc, [0.0] * n_acc, [True] * n_acc, [0.0] * n_acc
    tol = b.tolerance

    def state(row_scale: float, error: float, held: bool = False, value: float = 0.0) -> int:
        scale.append(row_scale)
        weight.append(1.0 / error if error > 0 else 0.0)
        hold.append(held)
        start.append(value)
        return len(scale) - 1

    moles = b.pressure / (gas["R"] * T_REF)
    for z, (_, v) in enumerate(b.zones):
        capacity[z] = moles * v * gas["air_heat"]
        water_heat[z], latent[z], volume[z] = gas["c_vapour"], gas["latent"], v
        heat[z] = state(1 / capacity[z], 3 * tol.temperature)
        water[z] = state(1.0, tol.vapour * moles * v * gas["M_vapour"])
        co2[z] = state(1.0, tol.gas * moles * v)
        o2[z] = state(1.0, tol.gas * moles * v)
        flow[z] = state(b.pressure / (SOFTNESS * v), tol.pressure)
    for n, (_, c, m, error, store) in enumerate(b.nodes):
        j = nz + n
        capacity[j] = c
        heat[j] = state(
            1 / c, tol.temperature * (1.0 if m is None or m * gas["c_water"] < c else 1 + m * gas["c_water"] / c)
        )
        if m is not None:
            water_heat[j] = gas["c_water"]
            water[j] = state(1.0, error, store, m)
    heat[room] = state(1.0, 0.0, True)
    water[room] = state(1.0, 0.0, True)
    size = len(scale)
    row_heat, row_water, row_co2, row_o2 = heat.copy(), water.copy(), co2.copy(), o2.copy()
    row_heat[room], row_water[room] = account["energy_to_room"], account["water_to_room"]
    row_co2[room], row_o2[room] = account["co2_to_room"], account["o2_to_room"]

    def at(i: int) -> int:
        return room if i == ROOM else i

    def table(rows: list[list[int]], width: int) -> NDArray[np.int32]:
        return np.array(rows, dtype=np.int32).reshape(len(rows), width)

    def values(rows: list[list[float]], width: int) -> Floats:
        return np.array(rows, dtype=float).reshape(len(rows), width)

    made = [account[k] for k in ("energy_made", "water_made", "co2_made", "o2_made", "leaf_water")]
    placeholder = Pattern(0, *(np.zeros(0, np.int32) for _ in range(9)))
    net = Net(
        size=size,
        zones=nz,
        room=room,
        pressure=float(b.pressure),
        gas=np.array(
            [
                gas[k]
                for k in (
                    "R",
                    "M_vapour",
                    "M_rest",
                    "M_co2",
                    "M_o2",
                    "c_vapour",
                    "c_water",
                    "latent",
                    "air_heat",
                    "gravity",
                )
            ]
            + [b.fog_rate, b.drip_rate]
        ),
        heat=heat,
        water=water,
        capacity=capacity,
        water_heat=water_heat,
        latent=latent,
        row_heat=row_heat,
        row_water=row_water,
        co2=co2,
        o2=o2,
        flow=flow,
        row_co2=row_co2,
        row_o2=row_o2,
        volume=volume,
        room_co2=float(b.room_co2),
        room_o2=float(b.room_o2),
        row_scale=np.array(scale),
        table_start=203.15,
        table_step=0.25,
        table=saturation_table(),
        link=table([[at(i), at(j)] for i, j, _ in b.links], 2),
        link_g=np.array([g for *_, g in b.links], dtype=float),
        opening=table([[at(i), at(j), kind] for i, j, kind, _ in b.opens], 3),
        opening_v=values([v for *_, v in b.opens], 14),
        surface=table([[z, j, account[a] if a else -1] for z, j, a, _ in b.surfaces], 3),
        surface_v=values([v for *_, v in b.surfaces], 9),
        permeation=table([[at(i), at(j)] for i, j, _ in b.permeations], 2),
        permeation_g=np.array([g for *_, g in b.permeations], dtype=float),
        overflow=table(
            [
                [
                    i,
                    first,
                    rest,
                    account["water_drained"],
                    account["energy_drained"],
                    account["drip_on_garden"] if drip else -1,
                ]
                for i, first, rest, drip, *_ in b.overflows
            ],
            6,
        ),
        overflow_v=values([[limit, share] for *_, limit, share in b.overflows], 2),
        fog=table([[z, j] for z, j in b.fogs], 2),
        garden=table([[j, z, *made] for j, z, _ in b.gardens], 7),
        garden_v=values([v for *_, v in b.gardens], 11),
        heater=table([[j, s, kind, made[0], account["heater_energy"]] for _, j, s, kind, _ in b.heaters], 5),
        heater_v=values([v for *_, v in b.heaters], 3),
        slot=np.zeros(0, np.int32),
        pattern=placeholder,
        weight=np.array(weight),
        hold=np.array(hold),
    )
    y = np.array(start)
    same = like is not None and all(np.array_equal(getattr(net, k), getattr(like.net, k)) for k in STRUCTURE)
    pattern, slot = (like.net.pattern, like.net.slot) if like is not None and same else analysed(net, y)
    names = tuple(n for n, *_ in b.zones) + tuple(n for n, *_ in b.nodes) + ("room",)
    return Network(
        net._replace(slot=slot, pattern=pattern),
        tuple(n for n, _ in b.zones),
        names,
        tuple(h[0] for h in b.heaters),
        y,
    )
