"""What comes after a record: bands day by day, dates of what is to come, and when to start the next part."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.cores import ALL_CORES
from nestwright.colony.fit import Ends, Posterior, band, report
from nestwright.colony.model import Climate, Colony, Event, Housing
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.parameters import FREE_LEAVES
from nestwright.colony.problem import Problem, event_arrays, from_range, known_climate
from nestwright.colony.results import Band, DateSpan, Fit, Forecast
from nestwright.data import colony_values

Array = NDArray[np.float64]
Paths = dict[str, Array]

__all__ = ["Paths", "Scenario", "forecast", "paths_of"]

HORIZON = 90
PATHS = 400


@dataclass(frozen=True)
class Scenario:
    """What is assumed of the days to come.

    `events` after the record's last day; `leaves` fresh g a day given from then on, None: as many as are taken;
    `climate` day by day from the record's last day on, None: as on the mean of its last 14 days.
    """

    events: tuple[Event, ...] = ()
    leaves: float | None = None
    climate: Climate | None = None


def forecast(
    posterior: Posterior,
    horizon: int = HORIZON,
    scenario: Scenario | None = None,
    *,
    paths: int = PATHS,
    seed: int = 1,
) -> Forecast:
    """Forecast a fitted colony over `horizon` days.

    Each path starts from a draw of the posterior with its last state and goes on with births, deaths and growth drawn
    one by one, so that the bands hold what is not known and what chance does.
    """
    scenario = scenario or Scenario()
    made, ends = report(posterior)
    table = paths_of(posterior.problem, ends, horizon, scenario, paths=paths, seed=seed)
    return read_paths(posterior.problem, made, table, horizon, scenario)


def paths_of(
    problem: Problem, ends: Ends, horizon: int, scenario: Scenario, *, paths: int = PATHS, seed: int = 1
) -> Paths:
    """Columns of `noise.TABLE` by name, each (paths, horizon + 1), from draws of the last morning."""
    first = problem.days
    index = np.arange(paths) % len(ends.vectors)
    vectors = ends.vectors[index].copy()
    future = event_arrays_after(problem.colony, scenario, horizon)
    # whatever the record told: from now on the question is how many leaves are needed, unless it is stated
    vectors[:, FREE_LEAVES] = scenario.leaves is None
    climate = climate_after(problem, scenario, horizon)
    out = np.empty((paths, horizon + 1, len(TABLE)))
    states = np.ascontiguousarray(ends.states[index])
    rooms, queens = ends.rooms[index], ends.queens[index]
    with ALL_CORES:
        run_paths(vectors, states, first, first + horizon, climate, rooms, queens, future, seed, out)
    return {name: out[:, :, i] for i, name in enumerate(TABLE)}


def event_arrays_after(colony: Colony, scenario: Scenario, horizon: int) -> tuple[Array, NDArray[np.int64], Array]:
    """Events of the days to come, with the leaves given each day."""
    first, last = colony.days, colony.days + horizon
    # the record's last day has had its own events in the fit
    events = [e for e in colony.events if first < e.day <= last]
    events += [e for e in scenario.events if first <= e.day <= last]
    if scenario.leaves is not None:
        dry = scenario.leaves * colony_values()["leaf_dry_share"].value
        events += [Event(float(d), "leaves", dry) for d in range(first, last)]
    return event_arrays(replace(colony, events=tuple(events), days=last))


def climate_after(problem: Problem, scenario: Scenario, horizon: int) -> Array:
    """Climate by day of the record's count, shape (days + horizon, 6)."""
    days, known = problem.days, problem.climate
    rows = known[np.minimum(np.arange(days), len(known) - 1)] if days else known[:0]
    if scenario.climate is not None:
        usual = problem.card.growth["reference_temperature"].value
        after, _ = known_climate(scenario.climate, usual)
        after = after[np.arange(horizon) % len(after)]
    else:
        last = rows[-14:] if len(rows) else known
        after = np.repeat(last.mean(axis=0)[None], horizon, axis=0)
    return np.ascontiguousarray(np.vstack([rows, after]))


def read_paths(problem: Problem, made: Fit, table: Paths, horizon: int, scenario: Scenario) -> Forecast:
    """Bands, dates and notes of a forecast's paths."""
    colony, card = problem.colony, problem.card
    day = problem.days + np.arange(horizon + 1.0)
    by_day = {k: np.diff(table[k], axis=1, append=np.nan) for k in ("wanted", "waste")}
    for flow in by_day.values():
        flow[:, -1] = flow[:, -2] if horizon else 0.0
    leaf_dry, leaf_area, waste_dry = (drawn_shares(k, len(table["garden"])) for k in SHARES)
    leaf_fresh = by_day["wanted"] / leaf_dry
    bands: dict[str, Band] = {}

    def add(name: str, unit: str, values: Array) -> None:
        bands[name] = band(name, unit, day, values)

    add("garden", "mL", table["garden"])
    if (table["room"] > 0).all():
        add("fill", "1", table["garden"] / table["room"])
    add("workers", "1", table["workers"])
    for stage in ("eggs", "larvae", "pupae"):
        add(stage, "1", table[stage])
    add("leaf_dry", "g/day", by_day["wanted"])
    add("leaf_fresh", "g/day", leaf_fresh)
    add("leaf_area", "cm2/day", by_day["wanted"] / leaf_area)
    add("waste", "g/day", by_day["waste"] / waste_dry)
    breath = card.garden["respiration_co2"].value * 1e-6 * table["garden"]
    add("respiration", "mol/s", breath + card.garden["worker_co2"].value * table["workers"])
    if scenario.leaves is not None:
        add("leaf_given", "g/day", np.full_like(leaf_fresh, scenario.leaves))
    dates = tuple(dates_of(problem, table, leaf_fresh, scenario))
    alive = (table["workers"][:, -1] >= 1) & (table["garden"][:, -1] > 0.5)
    notes = [*made.notes]
    if problem.colony.leaves == "free" and any(e.kind == "leaves" for e in problem.colony.events):
        notes.append("the record says that leaves are always there: leaves given at visits are not counted")
    if scenario.leaves is None:
        notes.append(
            "leaves of the days to come: as many as the colony takes, also where the record counts those given"
        )
    return Forecast(
        fit=made,
        horizon=horizon,
        bands=bands,
        dates=dates,
        make_by=tuple(make_by(colony, dates)),
        housing=tuple((h.day, h.name, h.usable) for h in houses(colony, scenario)),
        events=tuple((e.day, told(e)) for e in (*colony.events, *scenario.events) if e.kind not in ("leaves", "room")),
        survival=float(alive.mean()),
        notes=tuple(notes),
    )


SHARES = ("leaf_dry_share", "leaf_dry_area", "waste_dry_share")
"""What turns dry matter into what a keeper weighs: not fitted, so drawn from its range for each path."""


def drawn_shares(name: str, paths: int) -> Array:
    """A common value drawn for each path, shape (paths, 1); the same draws at each call."""
    free = from_range(name, 0, colony_values()[name])
    rng = np.random.default_rng(len(name))
    return np.asarray(free.value(rng.standard_normal((paths, 1))))


def houses(colony: Colony, scenario: Scenario) -> tuple[Housing, ...]:
    """The bells and chambers of the record and those of the days to come."""
    more = [Housing(e.day, e.note or "next", "bell", e.value) for e in scenario.events if e.kind == "room"]
    return (*colony.housing, *more)


def told(event: Event) -> str:
    """An event in a few words."""
    plain = event.kind.replace("_", " ")
    amount = {
        "garden_added": f"{event.value:.3g} mL",
        "garden_taken": f"{event.value:.3g} mL",
        "garden_share_lost": f"{100 * event.value:.0f} %",
        "brood_share_lost": f"{100 * event.value:.0f} %",
        "queen": "laying" if event.value > 0 else "lost",
    }.get(event.kind, f"{event.value:.0f}")
    plain = plain.replace(" share", "")
    return f"{plain} {amount}" if not event.note else f"{plain} {amount} ({event.note})"


def dates_of(problem: Problem, table: Paths, leaf_fresh: Array, scenario: Scenario) -> list[DateSpan]:
    """When the bell is full, the chamber is full, own workers come, and the leaves given fall short."""
    first = float(problem.days)
    full = problem.card.growth["fill_high"].value
    out = []
    room = table["room"]
    if (room > 0).all():
        fill = table["garden"] / room
        out.append(span("bell_full", f"fill reaches {100 * full:.0f} %", fill >= full, first))
    chamber = problem.colony.chamber
    if chamber:
        wording = f"garden reaches {100 * full:.0f} % of the chamber's {chamber:.0f} mL"
        out.append(span("next_chamber", wording, table["garden"] >= full * chamber, first))
    born = table["emerged"] - table["emerged"][:, :1]
    out.append(span("first_workers", "the next worker born here emerges", born >= 1, first))
    if scenario.leaves is not None:
        wording = "the colony would take more leaves than are given"
        out.append(span("leaves_short", wording, leaf_fresh > scenario.leaves, first))
    return out


def span(name: str, what: str, happened: NDArray[np.bool_], first: float) -> DateSpan:
    """The distribution of the first day on which something has happened, from (paths, days) of truth."""
    ever = happened.any(axis=1)
    day = np.where(ever, first + happened.argmax(axis=1), np.inf)
    early, middle, late = (
        None if not np.isfinite(x) else float(x) for x in np.quantile(day, (0.1, 0.5, 0.9), method="higher")
    )
    return DateSpan(name, what, float(ever.mean()), early, middle, late)


def make_by(colony: Colony, dates: tuple[DateSpan, ...]) -> list[DateSpan]:
    """The latest day to start making the next part: its making time before the day it is needed."""
    out = []
    for name, date, time in (
        ("bell", "bell_full", colony.making_time),
        ("chamber", "next_chamber", colony.chamber_time),
    ):
        need = next((d for d in dates if d.name == date), None)
        if need is None or time is None:
            continue
        early, middle, late = (None if d is None else d - time for d in (need.early, need.middle, need.late))
        what = f"start making the next {name}, {time:.0f} days before it is needed"
        out.append(DateSpan(name, what, need.probability, early, middle, late))
    return out
