"""Invented colonies and schedules of visits for the studies of fit and forecast."""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable
from datetime import date
from hashlib import sha256
from pathlib import Path
from textwrap import fill
from typing import Any

import numpy as np

from nestwright.colony.fit import fit
from nestwright.colony.forecast import forecast
from nestwright.colony.model import Climate, Colony, Event, Housing, Observation, Start
from nestwright.data import load_species, species_names
from nestwright.pieces import Threads, each, working_at
from nestwright.pieces.cluster import Cluster

Rng = np.random.Generator
ERRORS = {"garden": 0.15, "waste": 0.25, "leaves_taken": 0.2}
"""Relative standard errors on the records of the studies: common practice, no source (as in data/colony.toml)."""
GUESS, BAND_ERROR, EXACT = 0.35, 0.14, 0.03
CHANCE = {
    "garden": 0.85,
    "workers": 0.6,
    "eggs": 0.25,
    "larvae": 0.35,
    "pupae": 0.25,
    "waste": 0.15,
    "leaves_taken": 0.1,
}
"""How often a visit tells each kind."""


def visit_days(rng: Rng, days: int) -> list[int]:
    """About weekly, with one or two gaps of 15 to 30 days in two of three records."""
    out, t = [], int(rng.integers(1, 7))
    gaps = list(rng.integers(0, days, rng.integers(0, 3)))
    while t < days:
        out.append(t)
        step = int(rng.integers(4, 11))
        if any(t <= g < t + step for g in gaps):
            step = int(rng.integers(15, 31))
        t += step
    return out


def schedule(rng: Rng, days: int, guesses_only: bool = False) -> tuple[Observation, ...]:
    """Visits that tell something, with values still to be made (NaN)."""
    out, since = [], dict.fromkeys(ERRORS, 0)
    for d in visit_days(rng, days):
        for kind, chance in CHANCE.items():
            if rng.random() > chance:
                continue
            error = ERRORS.get(kind, 0.0)
            if kind == "workers":
                error = GUESS if guesses_only else float(rng.choice([GUESS, GUESS, BAND_ERROR, EXACT]))
            made = Observation(float(d), kind, np.nan, error, float(since.get(kind, 0)))  # type: ignore[arg-type]
            if kind in ("waste", "leaves_taken"):
                since[kind] = d
            out.append(made)
    return tuple(out)


def housing(rng: Rng, garden: float, days: int) -> tuple[tuple[Housing, ...], tuple[Event, ...]]:
    """A bell of 1.5 to 4 times the garden and, more often than not, a larger one later."""
    first = float(garden * rng.uniform(1.5, 4.0))
    bells, events = [Housing(0, "first", "bell", first)], []
    if rng.random() < 0.6:
        day, room = int(rng.integers(10, days)), first * float(rng.uniform(1.5, 3.0))
        bells.append(Housing(day, "second", "bell", room))
        events.append(Event(float(day), "room", room))
    return tuple(bells), tuple(events)


def mishaps(rng: Rng, days: int) -> tuple[Event, ...]:
    out = []
    if rng.random() < 0.3:
        out.append(Event(float(rng.integers(5, days)), "garden_share_lost", float(rng.uniform(0.1, 0.6))))
    if rng.random() < 0.15:
        out.append(Event(float(rng.integers(5, days)), "workers_added", float(rng.integers(10, 60))))
    if rng.random() < 0.15:
        out.append(Event(float(rng.integers(5, days)), "garden_added", float(rng.integers(10, 40))))
    return tuple(out)


def weather(rng: Rng, usual: float, days: int) -> Climate:
    """A swinging temperature and a dry spell or two."""
    t = np.arange(days)
    temperature = usual + rng.uniform(-3, 2) + rng.uniform(0, 2) * np.sin(2 * np.pi * (t / rng.uniform(8, 40)))
    none = np.zeros(days)
    dry, cold = none.copy(), np.maximum(0.0, usual - 3 - temperature)
    if rng.random() < 0.5:
        a = int(rng.integers(0, days - 10))
        dry[a : a + int(rng.integers(3, 15))] = rng.uniform(0.02, 0.15)
    return Climate(temperature, none, cold, dry, none, none)


def colony(rng: Rng, *, guesses_only: bool = False, mixed: bool = True, least: int = 60, most: int = 120) -> Colony:
    """A colony with its schedule of visits and what was done to it; the values of its visits are still NaN.

    `mixed`: some have a climate record, some a queen of whom nothing is known.
    """
    species = str(rng.choice(species_names()))
    days = int(rng.integers(least, most + 1))
    card = load_species(species)
    garden = float(np.exp(rng.uniform(np.log(15), np.log(300))))
    per = card.growth["garden_per_worker"]
    workers = garden / per.value * float(np.exp(rng.normal(0, 0.4)))
    bells, moved = housing(rng, garden, days)
    told = Start((garden, 0.15), (workers, GUESS), (0.8 * workers, 0.6) if rng.random() < 0.5 else None)
    climate = weather(rng, card.growth["reference_temperature"].value, days) if mixed and rng.random() < 0.3 else None
    return Colony(
        name="invented",
        species=species,
        start=date(2025, 1, 1),
        days=days,
        observations=schedule(rng, days, guesses_only),
        events=tuple(sorted((*moved, *mishaps(rng, days)), key=lambda e: e.day)),
        housing=bells,
        at_start=told,
        queen=None if mixed and rng.random() < 0.2 else 1.0,
        climate=climate,
    )


@functools.cache
def model_digest() -> str:
    """Of what the model does, so that a page can say when a part of it comes from an earlier one: a fit and a forecast
    of one made record for each species, to four digits."""
    numbers = []
    for k, species in enumerate(species_names()):
        rng = np.random.default_rng([7, k])
        garden = 40.0 * np.exp(0.02 * np.arange(5, 60, 6.0))
        seen = [Observation(5.0 + 6 * i, "garden", float(g), 0.15) for i, g in enumerate(garden)]
        seen += [Observation(30.0, "workers", 90.0, 0.3), Observation(30.0, "eggs", 1.0)]
        made = Colony("digest", species, date(2025, 1, 1), 60, tuple(seen), climate=weather(rng, 25.0, 60))
        posterior = fit(made, particles=60, moves=2, seed=k + 1)
        ahead = forecast(posterior, 20, paths=20)
        numbers += [posterior.sample.log_evidence, *(b.middle[-1] for b in ahead.bands.values())]
    return sha256(" ".join(f"{x:.4g}" for x in numbers).encode()).hexdigest()[:12]


def versions(made: list[dict[str, Any]]) -> str:
    """A remark for the page when not all results were made by the model as it is; empty otherwise."""
    old = sum(r.get("model") != model_digest() for r in made)
    return f"{old} of {len(made)} results come from an earlier state of the model." if old else ""


def paragraph(*parts: str) -> str:
    """Sentences as one paragraph of a page."""
    return fill(" ".join(parts), 120, break_long_words=False, break_on_hyphens=False)


def run_all(
    path: Path, n: int, make: Callable[[int], dict[str, Any]], cluster: str | None = None
) -> list[dict[str, Any]]:
    """Results of seeds 0 to n - 1, one JSON line each; those already in the file are not made again.

    One after the other, for a fit uses all cores itself; or on a cluster (`--cluster tcp://HOST:PORT`).
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    have = {}
    if path.exists():
        for line in path.read_text("utf-8").splitlines():
            try:
                r = json.loads(line)
            except json.JSONDecodeError:  # a run that was stopped while it wrote
                continue
            have[r["seed"]] = r
    if cluster:
        import cloudpickle

        cloudpickle.register_pickle_by_value(sys.modules[__name__])  # workers have the program, not its studies
    digest, left = model_digest(), [seed for seed in range(n) if seed not in have]
    with path.open("a", encoding="utf-8") as file, working_at(Cluster(cluster) if cluster else None):
        file.write("\n")  # ends a line that a stopped run left half written

        def keep(k: int, result: dict[str, Any]) -> None:
            have[left[k]] = {"seed": left[k], "model": digest, **result}
            file.write(json.dumps(have[left[k]]) + "\n")
            file.flush()
            if len(have) % 10 == 0:
                print(f"{len(have)} of {n}", flush=True)

        each(make, left, otherwise=lambda: Threads(1), arrived=keep)
    return [have[s] for s in range(n)]
