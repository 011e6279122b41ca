"""The proof: does a habitat hold its limits in a room, steadily or over a record of it."""

from __future__ import annotations

import dataclasses
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.limits import BoundLimit, bound_limits
from nestwright.climate.reading import dew_margins, films, limit_values, zone_air
from nestwright.climate.results import CELSIUS, SHARES, LimitResult, Proof, Week, YearProof, ZoneState
from nestwright.climate.room_air import Room
from nestwright.data import load_species
from nestwright.habitat.assemble import Assembly, assemble, uncertain_values
from nestwright.habitat.model import Habitat
from nestwright.network.arrays import ACCOUNTS
from nestwright.network.flows import opening_flows, rates
from nestwright.network.integrate import DRY_SECONDS, OK, ORDER4, REFILLS, STEPS, run
from nestwright.network.steady import settle
from nestwright.physics import air

Array = NDArray[np.float64]
WEEK = 7 * 86400.0
UNSTATED_PRESSURE = 101325.0
NOTICEABLE = 0.1
"""Share of a limit's tolerance from which a judgement value is named."""


class NotSettled(RuntimeError):  # noqa: N818 - says what happened, as the words of the house do
    """The steady state was not found; the network's inputs are out of all proportion."""


def station_pressure(habitat: Habitat, room: Room) -> float:
    """Pressure Pa of the room's record, or of the habitat's altitude when the record states none (101325 Pa)."""
    if room.pressure == UNSTATED_PRESSURE:
        return float(air.pressure_at_altitude(habitat.altitude))
    return room.pressure


def prove(habitat: Habitat, room: Room, *, uncertainty: bool = True, going: Callable[[], None] | None = None) -> Proof:
    """Steady proof of a habitat in a room (at the room's mean when it is not fixed).

    With `uncertainty` every value that the design does not state is moved to its low and high end in turn; the
    shifts are added as root sum of squares; `going` is called before each, and what it raises ends the proof. Raises
    InputError for an unknown species, NotSettled when the steady state is not found.
    """
    card = load_species(habitat.species)
    t, e = mean_air(room)
    base = assemble(habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2, room_o2=room.o2)
    y, f = settled(base, t, e)
    limits = bound_limits(base)
    values = limit_values(base, y)
    spread = _spread(base, room, t, e, y, limits, values, going) if uncertainty else {}
    network = base.network
    zones = tuple(_zone_state(base, y, name) for name in network.zone_names)
    net_loss = {name: -float(f[network.net.water[network.node(name)]]) for name in base.waters}
    stores = {name: float(y[network.net.water[network.node(name)]]) for name in base.waters}
    refills = [stores[n] / loss for n, loss in net_loss.items() if loss > 1e-13]
    installed = sum(h.power for h in habitat.heaters)
    heat = float(f[ACCOUNTS.index("heater_energy")])
    judged = sorted({n for _, _, names in spread.values() for n in names})
    return Proof(
        habitat=habitat.name,
        revision=habitat.revision,
        species=habitat.species,
        room=room.name,
        room_temperature=t,
        room_relative_humidity=float(e / air.saturation_pressure(t)),
        zones=zones,
        limits=tuple(_result(b, float(values[(b.zone, b.quantity)]), spread.get(b.name)) for b in limits),
        water_rate=sum(net_loss.values()),
        refill_time=min(refills, default=None),
        drip_rate=float(f[ACCOUNTS.index("drip_on_garden")]),
        heater_power=heat,
        heater_duty=heat / installed if installed else None,
        balances=_steady_balances(base, f),
        judgements=tuple(judged),
        exchange=_exchange(base, y, f),
        notes=_notes(t, () if room.fixed else ("steady state at the room's mean; use the year for its extremes",)),
    )


def prove_year(
    habitat: Habitat,
    room: Room,
    *,
    progress: Callable[[float], None] | None = None,
    tolerance: float = 0.05,
    uncertainty: bool = True,
) -> YearProof:
    """Proof over the whole record of a room, hour by hour.

    `progress` is called with the share done, 0 to 1. `tolerance` scales the solver's error per step. The interval of
    each limit is that of the steady proof at the room's mean, moved to the worst hour. Raises InputError, NotSettled.
    """
    began = time.perf_counter()
    card = load_species(habitat.species)
    assembly = assemble(habitat, card, pressure=station_pressure(habitat, room), room_co2=room.co2, room_o2=room.o2)
    steady = prove(habitat, room, uncertainty=uncertainty)
    states, stats, _ = simulate(assembly, room, tolerance=tolerance, progress=progress)
    network, net = assembly.network, assembly.network.net
    span = np.diff(room.time)
    accounts = len(ACCOUNTS)
    values = limit_values(assembly, states)
    weights = np.concatenate([[0.0], span])
    limits = bound_limits(assembly)
    results, weeks = [], []
    for b, calm in zip(limits, steady.limits, strict=True):
        value = values[(b.zone, b.quantity)]
        margin = b.margin(value)
        k = int(margin.argmin())
        held = float(weights[margin >= 0].sum() / weights.sum())
        results.append(
            dataclasses.replace(_result(b, float(value[k]), (*calm.moved, calm.rests_on)), hours_held_share=held)
        )
        weeks += _weeks(b, room, margin, weights)
    weeks.sort(key=lambda w: -w.hours_outside)
    total = float(room.time[-1] - room.time[0])
    taken = (states[-1, :accounts] - states[0, :accounts]) / total
    zones = tuple(_zone_state(assembly, states, name) for name in network.zone_names)
    evaporated = float(taken[ACCOUNTS.index("block_evaporation")])
    series = {
        "room": {
            "temperature": room.temperature,
            "relative_humidity": room.vapour_pressure / air.saturation_pressure(room.temperature),
        }
    }
    for name in network.zone_names:
        here = zone_air(network, states, name)
        series[name] = {
            "temperature": here.temperature,
            "relative_humidity": here.relative_humidity,
            "co2": here.co2,
            "o2": here.o2,
        }
    series["water"] = {n.removeprefix("water:"): states[:, net.water[network.node(n)]] for n in assembly.waters}
    installed = sum(h.power for h in habitat.heaters)
    heat = float(taken[ACCOUNTS.index("heater_energy")])
    mean = dataclasses.replace(
        steady,
        zones=zones,
        limits=tuple(results),
        water_rate=evaporated,
        refill_time=_refill_time(habitat, evaporated, int(stats[REFILLS]), total),
        drip_rate=float(taken[ACCOUNTS.index("drip_on_garden")]),
        heater_power=heat,
        heater_duty=heat / installed if installed else None,
        balances=balances(assembly, states[0], states[-1]),
        notes=_notes(float(room.temperature.min()), ("chambers show the mean over the run, limits their worst hour",)),
    )
    return YearProof(
        mean=mean,
        time=room.time,
        start=room.start,
        series=series,
        worst_weeks=tuple(weeks[:8]),
        refills=int(stats[REFILLS]),
        dry_hours=float(stats[DRY_SECONDS] / 3600),
        steps=int(stats[STEPS]),
        seconds_used=time.perf_counter() - began,
    )


def _notes(coldest: float, notes: tuple[str, ...]) -> tuple[str, ...]:
    if coldest < CELSIUS:
        return (*notes, "the room falls below 0 degC: ice is not modelled, so nothing said of that time can be trusted")
    return notes


def simulate(
    assembly: Assembly,
    room: Room,
    *,
    tolerance: float = 0.05,
    progress: Callable[[float], None] | None = None,
    chunk: int = 400,
) -> tuple[Array, Array, Array]:
    """States at every knot of the room, shape (knots, size); solver counts; the bodies' refill table."""
    network = assembly.network
    net = network.net
    y, _ = settled(assembly, float(room.temperature[0]), float(room.vapour_pressure[0]))
    y[: len(ACCOUNTS)] = 0.0
    on = np.ones(len(net.heater))
    knots = np.column_stack([room.time, room.temperature - 298.15, room.vapour_pressure / net.pressure])
    refill = refill_table(assembly)
    out = np.zeros((len(knots), net.size))
    stats, step = np.zeros(6), np.array([60.0])
    for k in range(0, len(knots) - 1, chunk):
        end = min(k + chunk, len(knots) - 1)
        status = run(net, ORDER4, y, on, knots[k : end + 1], tolerance, step, 7200.0, refill, out[k : end + 1], stats)
        if status != OK:
            raise NotSettled(f"the run stopped between hours {room.time[k] / 3600:.0f} and {room.time[end] / 3600:.0f}")
        if progress:
            progress(end / (len(knots) - 1))
    return out, stats, refill


def refill_table(assembly: Assembly) -> Array:
    rows = []
    for w, name in zip(assembly.habitat.waters, assembly.waters, strict=True):
        every = {"when empty": 0.0, "never": -1.0}.get(w.refill, w.refill) if isinstance(w.refill, str) else w.refill
        rows.append([assembly.network.node(name), w.store, 0.05 * w.store, float(every), float(every)])
    return np.array(rows, dtype=float).reshape(len(rows), 5)


def _refill_time(habitat: Habitat, rate: float, refills: int, total: float) -> float | None:
    if refills:
        return total / refills
    store = sum(w.store for w in habitat.waters)
    return store / rate if rate > 1e-13 else None


def mean_air(room: Room) -> tuple[float, float]:
    """A room's mean temperature, K, and vapour pressure, Pa, over its record."""
    return _mean(room.time, room.temperature), _mean(room.time, room.vapour_pressure)


def _mean(time_: Array, values: Array) -> float:
    return float(np.trapezoid(values, time_) / (time_[-1] - time_[0]))


def settled(assembly: Assembly, t: float, e: float, start: Array | None = None) -> tuple[Array, Array]:
    """Steady state and the rate of every state there (water bodies not held in the rates). Raises NotSettled."""
    network = assembly.network
    y = network.initial(t, e) if start is None else start.copy()
    count = settle(network.net, y, np.zeros(len(ACCOUNTS)), 10.0 if start is None else 1e5, 200)
    if count < 0:
        y = lived_in(assembly, t, e)
    return y, rates(network, y)


def lived_in(assembly: Assembly, t: float, e: float) -> Array:
    """State after 60 days in a fixed room, where Newton's method finds no rest: flows may have more than one state."""
    network = assembly.network
    net = network.net
    days = np.arange(61) * 86400.0
    knots = np.column_stack([days, np.full(61, t - 298.15), np.full(61, e / net.pressure)])
    y, out = network.initial(t, e), np.zeros((61, net.size))
    refill = refill_table(assembly)
    status = run(
        net, ORDER4, y, -np.ones(len(net.heater)), knots, 1.0, np.array([10.0]), 86400.0, refill, out, np.zeros(6)
    )
    if status == OK:
        for zone in network.zone_names:
            last = zone_air(network, out[-3:], zone)
            swing = max(float(np.ptp(last.temperature)) / 0.05, float(np.ptp(last.relative_humidity)) / 0.01)
            if swing > 1.0:
                break
        else:
            return out[-1]
    raise NotSettled(
        f"{assembly.habitat.name}: the air finds no rest in a room of {t - 273.15:.1f} degC; "
        "prove it over a record instead"
    )


def _spread(
    base: Assembly,
    room: Room,
    t: float,
    e: float,
    y: Array,
    limits: tuple[BoundLimit, ...],
    values: dict[tuple[str, str], Array],
    going: Callable[[], None] | None,
) -> dict[str, tuple[float, float, tuple[str, ...]]]:
    """For each limit: shift down, shift up (RSS over the uncertain values) and the judgement values that move it."""
    down = {b.name: 0.0 for b in limits}
    up = dict(down)
    named: dict[str, list[tuple[float, str]]] = {b.name: [] for b in limits}
    for name, value in uncertain_values(base.habitat, base.card).items():
        if going is not None:
            going()
        shifts: dict[str, list[float]] = {b.name: [] for b in limits}
        for end in (value.low, value.high):
            if end == value.value:
                continue
            other = assemble(
                base.habitat,
                base.card,
                pressure=base.network.net.pressure,
                room_co2=room.co2,
                room_o2=room.o2,
                override={name: end},
                like=base.network,
            )
            try:
                moved, _ = settled(other, t, e)
            except NotSettled:
                continue
            there = limit_values(other, moved)
            for b in limits:
                key = (b.zone, b.quantity)
                shifts[b.name].append(float(there[key] - values[key]))
        for b in limits:
            low, high = min([0.0, *shifts[b.name]]), max([0.0, *shifts[b.name]])
            down[b.name] += low**2
            up[b.name] += high**2
            reach = max(-low, high)
            if reach > NOTICEABLE * b.tolerance and value.mark == "judgement":
                named[b.name].append((reach, name))
    return {
        b.name: (
            -float(np.sqrt(down[b.name])),
            float(np.sqrt(up[b.name])),
            tuple(n for _, n in sorted(named[b.name], reverse=True)),
        )
        for b in limits
    }


def _result(b: BoundLimit, value: float, spread: tuple[float, float, tuple[str, ...]] | None) -> LimitResult:
    low, high, names = spread or (0.0, 0.0, ())
    margin = float(b.margin(np.array(value)))
    ends = [float(b.margin(np.array(value + shift))) >= 0 for shift in (low, high)]
    most = 1.0 if b.quantity in SHARES else np.inf
    return LimitResult(
        name=b.name,
        zone=b.zone,
        quantity=b.quantity,
        low=b.low,
        high=b.high,
        value=value,
        low_value=max(value + low, min(value, 0.0)),
        high_value=min(value + high, max(value, most)),
        margin=margin,
        scaled_margin=margin / b.tolerance,
        held=margin >= 0,
        sure=all(e == (margin >= 0) for e in ends),
        rests_on=names,
        source=b.source,
        mark=b.mark,
        moved=(low, high),
    )


def _zone_state(assembly: Assembly, y: Array, name: str) -> ZoneState:
    """State of a zone; the mean over the leading axis of `y` when there is one."""
    here = zone_air(assembly.network, y, name)

    def mean(values: Array) -> float:
        return float(np.mean(values))

    return ZoneState(
        name=name,
        role=assembly.roles[name],
        temperature=mean(here.temperature),
        relative_humidity=mean(here.relative_humidity),
        vapour_deficit=mean(air.saturation_pressure(here.temperature) - here.vapour_pressure),
        co2=mean(here.co2),
        o2=mean(here.o2),
        dew_margin={k: mean(v) for k, v in dew_margins(assembly, y, name).items()},
        film={k: mean(v) for k, v in films(assembly, y, name).items()},
    )


def _exchange(assembly: Assembly, y: Array, f: Array) -> tuple[dict[str, Any], ...]:
    flows = opening_flows(assembly.network, y)
    out: list[dict[str, Any]] = []
    for path in assembly.paths:
        flow = flows[path.row]
        ends = (path.first, path.second) if flow.net >= 0 else (path.second, path.first)
        out.append(
            {
                "from": ends[0],
                "to": ends[1],
                "kind": "air",
                "value": abs(flow.net),
                "label": path.name,
                "exchange": flow.exchange,
            }
        )
        ends = (path.first, path.second) if flow.diffusion >= 0 else (path.second, path.first)
        out.append({"from": ends[0], "to": ends[1], "kind": "water", "value": abs(flow.diffusion), "label": path.name})
    return tuple(out)


def _steady_balances(assembly: Assembly, f: Array) -> dict[str, float]:
    """Rates that do not close in a steady state, against their throughput, by what is not held."""
    return _closure(assembly, f, f[: len(ACCOUNTS)])


def balances(assembly: Assembly, first: Array, last: Array) -> dict[str, float]:
    """Closure error of each balance over a run, relative to its throughput."""
    return _closure(assembly, last - first, last[: len(ACCOUNTS)] - first[: len(ACCOUNTS)])


def _closure(assembly: Assembly, change: Array, accounts: Array) -> dict[str, float]:
    net = assembly.network.net
    a = dict(zip(ACCOUNTS, accounts.tolist(), strict=True))
    nodes = range(net.room)
    stored = {
        "energy": sum(net.capacity[j] * change[net.heat[j]] for j in nodes),
        "water": sum(change[net.water[j]] for j in nodes if net.water[j] >= 0),
        "carbon": sum(change[net.co2[z]] for z in range(net.zones)),
        "oxygen": sum(change[net.o2[z]] for z in range(net.zones)),
    }
    out = {
        "energy": (a["energy_to_room"], a["energy_drained"], -a["energy_made"]),
        "water": (a["water_to_room"], a["water_drained"], -a["water_made"]),
        "carbon": (a["co2_to_room"], -a["co2_made"]),
        "oxygen": (a["o2_to_room"], -a["o2_made"]),
    }
    closed = {}
    for name, flows in out.items():
        through = max(abs(stored[name]), *(abs(x) for x in flows))
        closed[name] = abs(stored[name] + sum(flows)) / through if through > 0 else 0.0
    return {k: float(v) for k, v in closed.items()}


def _weeks(b: BoundLimit, room: Room, margin: Array, weights: Array) -> list[Week]:
    index = ((room.time - room.time[0]) // WEEK).astype(int)
    outside = np.where(margin < 0, weights, 0.0)
    hours = np.bincount(index, weights=outside) / 3600
    found = []
    for w in np.flatnonzero(hours > 0):
        start = float(w * WEEK)
        date = (datetime.fromisoformat(room.start) + timedelta(seconds=start)).date().isoformat() if room.start else ""
        found.append(Week(start, date, b.name, float(hours[w]), float(margin[index == w].min())))
    return found
