"""Invented records with a planted cause, for the tests of fit, forecast and diagnosis."""

from dataclasses import replace
from datetime import date

import numpy as np

from nestwright.colony import kernel, noise
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.model import Climate, Colony, Event, Housing, Observation, Start
from nestwright.colony.problem import pose

SPECIES = "Acromyrmex echinatior"


def plain(days=0, **changed):
    """A colony with an arrival and nothing seen."""
    arrival = Start((40.0, 0.1), (60.0, 0.1), (60.0, 0.4))
    return replace(Colony("invented", SPECIES, date(2031, 1, 1), days, at_start=arrival), **changed)


def lived(cause="nothing", onset=50.0, size=0.0, days=100, seed=1, every=5, room=2000.0, climate=None):
    """A record of garden, workers and brood, seen every few days, of a colony that lives by the stochastic model."""
    rng = np.random.default_rng(seed)
    base = plain(days, climate=climate)
    p = pose(base).base.copy()
    p[P.START_GARDEN], p[P.START_WORKERS], p[P.START_BROOD] = 40.0, 60.0, 60.0
    p[P.CAUSE], p[P.ONSET], p[P.SIZE] = P.CAUSES.index(cause), onset, size
    y = np.zeros(kernel.N_STATE)
    kernel.start_state(p, y)
    path = np.empty((days + 1, len(noise.TABLE)))
    none = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))
    usual = np.array([[25.0, 0, 0, 0, 0, 0]])
    noise.run_noisy(p, y, 0, days, usual, room, 1.0, none, seed, path)
    seen = []
    for d in range(3, days + 1, every):
        garden, workers, *brood = path[d, :5]
        seen.append(Observation(float(d), "garden", garden * np.exp(0.1 * rng.standard_normal()), 0.12, how="measured"))
        seen.append(Observation(float(d), "workers", workers * np.exp(0.2 * rng.standard_normal()), 0.25, how="guess"))
        for kind, count in zip(("eggs", "larvae", "pupae"), brood, strict=True):
            seen.append(Observation(float(d), kind, float(rng.random() < 1 - 0.7**count)))
    bells = (Housing(0, "bell", "bell", room),)
    return replace(base, observations=tuple(seen), housing=bells, events=(Event(0.0, "room", room),)), path


def good_climate(days, **depth):
    """A logger's record inside the limits, with depths where told as name = (from day, depth)."""
    none = np.zeros(days + 1)
    made = {k: none.copy() for k in ("hot", "cold", "dry", "wet", "co2")}
    temperature = np.full(days + 1, 25.0)
    for name, (first, value) in depth.items():
        made[name][first:] = value
        if name in ("hot", "cold"):
            temperature[first:] += value if name == "hot" else -value
    return Climate(temperature, **made)
