"""Plans of housing simulated and weighed, all over the same draws and chances."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.bells import Room
from nestwright.colony.fit import Ends
from nestwright.colony.forecast import Paths, Scenario, climate_after, event_arrays_after
from nestwright.colony.kernel import GARDEN, LEAVES, N_STATE, NURSES, TAKEN_IN, run_days
from nestwright.colony.model import Event
from nestwright.colony.outlook import Outlook, Steps, Weights, day_cost
from nestwright.colony.parameters import DRY_DENSITY, FREE_LEAVES, QUEEN, SPACE_POWER
from nestwright.colony.problem import Problem
from nestwright.data import plan_values

Array = NDArray[np.float64]
Run = Callable[[Problem, Ends, int, Scenario], Paths]

__all__ = ["Trial", "Trials", "alive", "outlook_of", "sketch_of", "thinned", "with_steps"]

ALIVE = 0.5
"""Garden, mL, below which there is none."""
SKETCH_STEP = 2.0
"""Share of itself that the fastest chain moves in a step of a sketch: coarser than a fit, still stable."""


@dataclass(frozen=True)
class Trial:
    """One plan, simulated: cost of each path (paths,), its share of living days inside the band, and the paths."""

    steps: Steps
    costs: Array
    inside: Array
    table: Paths

    @property
    def cost(self) -> float:
        """Expected days."""
        return float(self.costs.mean())


@dataclass
class Trials:
    """Plans simulated over the same paths; each is simulated once."""

    problem: Problem
    ends: Ends
    horizon: int
    now: Room
    weights: Weights
    scenario: Scenario = field(default_factory=Scenario)
    run: Run | None = None
    """How paths are made; None: the skeleton, one path a draw."""
    done: dict[Steps, Trial] = field(default_factory=dict)

    def __call__(self, steps: Steps) -> Trial:
        """Simulate a plan: garden, ants and the changes of room in it."""
        if steps not in self.done:
            scenario = with_steps(self.scenario, steps, self.problem.days)
            run = self.run or sketch_of
            self.done[steps] = self.weighed(steps, run(self.problem, self.ends, self.horizon, scenario))
        return self.done[steps]

    def weighed(self, steps: Steps, table: Paths) -> Trial:
        """The cost of each path."""
        w = self.weights
        living = alive(table)[:, 1:]
        fill = table["garden"][:, 1:] / table["room"][:, 1:]
        costs = (day_cost(fill, w.low, w.high) * living).sum(axis=1)
        before = self.now
        crush = plan_values()["crush_days"].value
        for day, after in steps:
            costs = costs + w.change(before, after) + crush * (table["garden"][:, day] > after.usable)
            before = after
        within = ((fill >= w.low) & (fill <= w.high) & living).sum(axis=1)
        return Trial(steps, costs, within / np.maximum(living.sum(axis=1), 1), table)


def sketch_of(problem: Problem, ends: Ends, horizon: int, scenario: Scenario) -> Paths:
    """The skeleton from each draw of the last morning, without chance: garden, workers, intake and room by day.

    Many times as fast as `paths_of`, for the search; what is not known of the colony is in it, what chance does is not.
    """
    events = event_arrays_after(problem.colony, scenario, horizon)
    climate = climate_after(problem, scenario, horizon)
    first, n = problem.days, len(ends.vectors)
    vectors = ends.vectors.copy()
    vectors[:, FREE_LEAVES] = float(scenario.leaves is None)
    vectors[:, QUEEN] = ends.queens
    out = np.empty((n, horizon + 1, N_STATE))
    for i in range(n):
        run_days(
            vectors[i],
            ends.states[i].copy(),
            first,
            first + horizon,
            climate,
            ends.rooms[i],
            *events,
            SKETCH_STEP,
            out[i],
        )
    room = np.repeat(ends.rooms[:, None], horizon + 1, axis=1)
    for event in sorted(scenario.events, key=lambda e: e.day):
        if event.kind == "room":
            room[:, int(event.day) - first + 1 :] = event.value
    return {
        "garden": out[:, :, GARDEN:LEAVES].sum(axis=2) / vectors[:, DRY_DENSITY][:, None],
        "workers": out[:, :, NURSES:GARDEN].sum(axis=2),
        "intake": out[:, :, TAKEN_IN],
        "room": room,
    }


def thinned(ends: Ends, n: int) -> Ends:
    """n draws of the last morning, evenly from all."""
    pick = np.linspace(0, len(ends.vectors) - 1, n).round().astype(int)
    return Ends(ends.vectors[pick], ends.states[pick], ends.rooms[pick], ends.queens[pick])


def alive(table: Paths) -> NDArray[np.bool_]:
    """Where there are workers and a garden, (paths, days + 1)."""
    return (table["garden"] > ALIVE) & (table["workers"] >= 1)


def with_steps(scenario: Scenario, steps: Steps, first: int) -> Scenario:
    """The scenario with the plan's changes of room."""
    rooms = tuple(Event(float(first + day), "room", room.usable, note=room.name) for day, room in steps)
    return replace(scenario, events=(*scenario.events, *rooms))


def outlook_of(trials: Trials) -> Outlook:
    """The paths without a wall, as growth and intake per garden."""
    ends = trials.ends
    free = Ends(ends.vectors, ends.states, np.zeros(len(ends.vectors)), ends.queens)
    table = sketch_of(trials.problem, free, trials.horizon, trials.scenario)
    garden = np.maximum(table["garden"], 1e-3)
    density = ends.vectors[:, DRY_DENSITY][:, None]
    intake = np.diff(table["intake"], axis=1) / density / garden[:, :-1]
    return Outlook(
        garden[:, 0], np.diff(np.log(garden), axis=1), intake, alive(table), float(ends.vectors[0, SPACE_POWER])
    )
