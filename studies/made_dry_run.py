"""Invented dry runs: an empty build with planted faults, run by the model, read by loggers with errors of their own."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from nestwright.climate.dry_run_log import ROOM, Record
from nestwright.climate.dry_run_parts import Part, assemble_build, empty_build, parts_of
from nestwright.climate.dry_run_problem import Problem, Release
from nestwright.climate.dry_run_values import dry_run_values
from nestwright.climate.proof import station_pressure
from nestwright.climate.reading import zone_air
from nestwright.climate.room_air import Room
from nestwright.data import assembly_values, load_species
from nestwright.habitat.model import Habitat
from nestwright.physics import air

Array = NDArray[np.float64]
START = datetime(2025, 3, 1, 9, 0)
EVERY = 300.0


@dataclass(frozen=True)
class Errors:
    """Share of the stated bias and gain of the sensors, and the fading errors: K, share of RH, share of CO2; time s."""

    bias: float = 1.0
    temperature: float = 0.05
    humidity: float = 0.004
    co2: float = 0.01
    fades: float = 1200.0


def made_room(hours: float, rng: np.random.Generator) -> Room:
    """A room of about 21 degC and 45 %, with a daily swing and slow wandering, every five minutes."""
    t = np.arange(0.0, hours * 3600 + 1, EVERY)
    day = 2 * np.pi * t / 86400
    temperature = (
        294.15 + rng.normal(0, 1.0) + 1.2 * np.sin(day + rng.uniform(0, 6.28)) + wander(len(t), 0.2, 7200, rng)
    )
    humidity = 0.45 + rng.normal(0, 0.05) + 0.03 * np.sin(day + rng.uniform(0, 6.28)) + wander(len(t), 0.01, 7200, rng)
    e = np.clip(humidity, 0.2, 0.75) * air.saturation_pressure(temperature)
    return Room("invented room", t, temperature, e, start=START.isoformat(), source="invented")


def wander(count: int, sd: float, fades: float, rng: np.random.Generator) -> Array:
    """An Ornstein-Uhlenbeck error, shape (count,)."""
    r = np.exp(-EVERY / fades)
    out = np.zeros(count)
    out[0] = rng.normal(0, sd)
    for k in range(1, count):
        out[k] = r * out[k - 1] + rng.normal(0, sd * np.sqrt(1 - r * r))
    return out


def parts_of_build(habitat: Habitat) -> tuple[Part, ...]:
    made = assemble_build(empty_build(habitat), load_species(habitat.species), pressure=101325.0, room_co2=4.5e-4)
    return parts_of(made)


def other_values(rng: np.random.Generator) -> dict[str, float]:
    """Values of the network drawn from their ranges, as the real ones would lie."""
    drawn = {}
    for name, v in assembly_values().items():
        if v.low < v.high:
            drawn[f"assembly.{name}"] = float(rng.triangular(v.low, min(max(v.value, v.low), v.high), v.high))
    return drawn


def made_run(
    habitat: Habitat,
    factors: dict[str, float],
    zones: tuple[str, ...],
    *,
    seed: int = 1,
    hours: float = 26.0,
    releases: tuple[tuple[str, float, float], ...] = (),
    errors: Errors | None = None,
    override: dict[str, float] | None = None,
    room_columns: bool = False,
) -> tuple[Record, Room]:
    """Readings of an empty build.

    `factors` by the names of the parts; `zones` each with a logger of temperature, humidity and CO2; `releases`
    chamber, hour, share of CO2 in its air. The first is released into the first zone at hour 6 when none is named.
    """
    rng = np.random.default_rng(seed)
    errors = errors or Errors()
    room = made_room(hours, rng)
    assembly = assemble_build(
        empty_build(habitat),
        load_species(habitat.species),
        pressure=station_pressure(habitat, room),
        room_co2=room.co2,
        override=override,
    )
    let_in = []
    for zone, hour, share in releases or ((zones[0], 6.0, 0.02),):
        volume = assembly.network.net.volume[assembly.network.zone_names.index(zone)]
        moles = share * assembly.network.net.pressure * volume / (8.314462618 * 294.15)
        let_in.append(Release(zone, hour * 3600 + EVERY / 2, hour * 3600 + EVERY, 0.0, moles))
    problem = Problem(assembly, parts_of(assembly), tuple(let_in), (), room.time, room, "filled")
    states = problem.run(factors, np.array([r.moles for r in let_in]))
    v = {k: x.value for k, x in dry_run_values().items()}
    n = len(room.time)
    channels: dict[tuple[str, str], Array] = {}
    for zone in zones:
        here = zone_air(assembly.network, states, zone)
        channels[(zone, "temperature")] = (
            here.temperature
            + errors.bias * rng.normal(0, v["bias_temperature"])
            + wander(n, errors.temperature, errors.fades, rng)
        )
        humidity = (
            here.relative_humidity
            + errors.bias * rng.normal(0, v["bias_humidity"])
            + wander(n, errors.humidity, errors.fades, rng)
        )
        channels[(zone, "relative_humidity")] = np.clip(humidity, 0.0, 1.0)
        gain = 1 + errors.bias * rng.normal(0, v["gain_co2"]) + wander(n, errors.co2, errors.fades, rng)
        channels[(zone, "co2")] = here.co2 * gain + errors.bias * rng.normal(0, v["bias_co2"])
    if room_columns:
        channels[(ROOM, "temperature")] = room.temperature
        channels[(ROOM, "relative_humidity")] = room.vapour_pressure / np.asarray(
            air.saturation_pressure(room.temperature)
        )
    return Record(START, room.time, channels), dataclasses.replace(room, start=START.isoformat())
