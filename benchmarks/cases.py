"""The computations that the table measures, each made ready to run; also without the compiler, to be counted."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from nestwright.climate.proof import settled
from nestwright.climate.rooms import read_room
from nestwright.colony.file import read_colony
from nestwright.colony.kernel import N_STATE, run_days, start_state
from nestwright.colony.likelihood import log_likelihood
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.parameters import QUEEN
from nestwright.colony.problem import STEP, pose
from nestwright.data import load_species
from nestwright.habitat.assemble import Assembly, assemble
from nestwright.habitat.file import read_habitat
from nestwright.network.arrays import ACCOUNTS
from nestwright.network.integrate import ORDER4, run
from nestwright.network.steady import settle
from nestwright.parcel.file import read_parcel
from nestwright.parcel.layout import lay_out
from nestwright.parcel.runs import COARSE, run_parcels

HERE = Path(__file__).parent
WORKSHOP = HERE.parent / "examples" / "workshop"
Task = Callable[[], Any]


def single_pot() -> Assembly:
    habitat = read_habitat(WORKSHOP / "habitats" / "single-pot.toml")
    return assemble(habitat, load_species(habitat.species))


def run_of(days: int) -> Task:
    """So many days of the single pot in the living room, from rest, at the tolerance of the proof."""
    assembly, room = single_pot(), read_room(str(WORKSHOP / "rooms" / "living-room.toml"))
    net, keep = assembly.network.net, room.time <= days * 86400
    knots = np.column_stack([room.time, room.temperature - 298.15, room.vapour_pressure / net.pressure])[keep]
    y0, _ = settled(assembly, float(room.temperature[0]), float(room.vapour_pressure[0]))

    def task() -> None:
        out, y = np.zeros((len(knots), net.size)), y0.copy()
        y[: len(ACCOUNTS)] = 0.0
        on, step = np.ones(len(net.heater)), np.array([60.0])
        run(net, ORDER4, y, on, knots, 0.05, step, 7200.0, np.zeros((0, 5)), out, np.zeros(6))

    return task


def rest() -> Task:
    assembly = single_pot()
    start = assembly.network.initial(294.15, 1120.0)
    return lambda: settle(assembly.network.net, start.copy(), np.zeros(len(ACCOUNTS)), 10.0, 200)


def likelihood() -> Task:
    made = pose(read_colony(HERE / "record-120.toml"))
    rest_of = (made.days, made.climate, made.room, made.events, made.record, STEP)
    z = np.zeros(len(made.free))
    return lambda: log_likelihood(z, made.base, *made.mapping, *rest_of)


def _at_the_prior() -> tuple[Any, np.ndarray, np.ndarray]:
    made, y = pose(read_colony(HERE / "record-120.toml")), np.empty(N_STATE)
    p = made.vectors(np.zeros((1, len(made.free))))[0]
    start_state(p, y)
    return made, p, y


def paths(count: int = 1) -> Task:
    """90 days of whole ants and chance."""
    made, p, y = _at_the_prior()
    states, vectors, out = np.tile(y, (count, 1)), np.tile(p, (count, 1)), np.empty((count, 91, len(TABLE)))
    none = (np.zeros(0), np.zeros(0, np.int64), np.zeros(0))
    args = (0, 90, made.climate, np.full(count, made.room), np.full(count, p[QUEEN]), none, 1, out)
    return lambda: run_paths(vectors, states.copy(), *args)


def without_chance() -> Task:
    """The same 90 days by the rates."""
    made, p, y = _at_the_prior()
    out = np.empty((91, N_STATE))
    none = (np.zeros(0), np.zeros(0, np.int64), np.zeros(0))
    return lambda: run_days(p, y.copy(), 0, 90, made.climate, made.room, *none, STEP, out)


def parcels(count: int = 1, way: Any = COARSE) -> Task:
    parcel = read_parcel(WORKSHOP / "parcels" / "winter.toml")
    layout = lay_out(parcel)
    values = {"outside.offset": np.random.default_rng(1).normal(0, 3, count)}
    return lambda: run_parcels(parcel, layout, values, 0.0, way)


CASES: dict[str, Callable[[], Task]] = {
    "year": lambda: run_of(1),
    "rest": rest,
    "likelihood": likelihood,
    "path": paths,
    "parcel": parcels,
}
"""What is counted: a day of a year, one steady state, one likelihood, one path, one parcel."""
