"""The one observation that would tell two causes apart: the one with the largest expected gain of information.

Lindley 1956, Ann Math Stat 27:986: what an observation is worth is the mutual information between the cause and its
outcome, here in bits, with the two causes' own predictions of what would be seen.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.colony.causes import Rival
from nestwright.colony.fit import Posterior, runs
from nestwright.colony.kernel import EGGS, LARVAE, N_STATE, PUPAE, brood_of, garden_of, run_days, workers_of
from nestwright.colony.likelihood import OFFSET, seen_chance, wander
from nestwright.colony.parameters import QUEEN, SIZE
from nestwright.colony.problem import STEP
from nestwright.data import diagnosis_values

Array = NDArray[np.float64]
Candidate = tuple[Rival, Posterior, float]
Look = tuple[str, float | None, float | None]

__all__ = ["next_look"]

AHEAD = (1, 4, 7, 14)
"""Days from the end of the record on which a look is thought of."""
DRAWS = 120
_SEEN = {"eggs": EGGS, "larvae": LARVAE, "pupae": PUPAE}
_WORDS = {
    "garden": "measure the garden's volume",
    "workers": "count the workers",
    "eggs": "look for eggs",
    "larvae": "look for larvae",
    "pupae": "look for pupae",
    "humidity": "read the humidity beside the garden",
    "temperature": "read the temperature in the garden",
    "drip": "look for drops on and above the garden",
}


def next_look(one: Candidate, other: Candidate) -> Look:
    """What to do, on which day of the record, and its gain in bits (1: it settles the question between the two)."""
    days = one[1].problem.days
    chance = one[2] / (one[2] + other[2])
    best: Look = ("", None, None)
    mine, theirs = predictions(one), predictions(other)
    for k, ahead in enumerate(AHEAD):
        for kind in ("garden", "workers"):
            bits = _bits_normal(mine[kind][:, k], theirs[kind][:, k], chance)
            best = _better(best, _WORDS[kind], days + ahead, bits)
        for kind in _SEEN:
            p, q = float(mine[kind][:, k].mean()), float(theirs[kind][:, k].mean())
            best = _better(best, _WORDS[kind], days + ahead, _bits_chance(p, q, chance))
    for kind, words in (("dry", "humidity"), ("hot", "temperature"), ("cold", "temperature"), ("wet", "drip")):
        gain = _bits_climate(kind, one, other, chance)
        if gain is not None:
            best = _better(best, _WORDS[words], days + AHEAD[0], gain)
    return best


def _better(best: Look, what: str, day: float, bits: float) -> Look:
    """The later look must be worth clearly more than an earlier one."""
    return (what, float(day), bits) if best[2] is None or bits > best[2] + 0.03 else best


def predictions(candidate: Candidate) -> dict[str, Array]:
    """What a cause foretells: each (draws, looks); logarithms with the error of a look for garden and workers, and
    the chance of being seen for brood."""
    problem = candidate[1].problem
    ends, _, _, _ = runs(candidate[1])
    rng = np.random.default_rng(5)
    known = diagnosis_values()
    errors = {"garden": known["look_garden_error"].value, "workers": known["look_workers_error"].value}
    n = min(DRAWS, len(ends.vectors))
    out = {k: np.empty((n, len(AHEAD))) for k in ("garden", "workers", *_SEEN)}
    states = np.empty((max(AHEAD) + 1, N_STATE))
    none = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))
    for i in range(n):
        p, y = ends.vectors[i], ends.states[i].copy()
        p = p.copy()
        p[QUEEN] = ends.queens[i]
        run_days(p, y, problem.days, problem.days + max(AHEAD), problem.climate, ends.rooms[i], *none, STEP, states)
        step_g, step_w = wander(p, workers_of(y))
        for k, ahead in enumerate(AHEAD):
            state = states[ahead]
            garden, workers = garden_of(state, p), workers_of(state)
            spread_g = np.hypot(errors["garden"], np.sqrt(step_g * ahead))
            spread_w = np.hypot(errors["workers"], np.sqrt(step_w * ahead))
            out["garden"][i, k] = np.log(garden + OFFSET[0]) + spread_g * rng.standard_normal()
            out["workers"][i, k] = np.log(workers + OFFSET[1]) + spread_w * rng.standard_normal()
            for kind, place in _SEEN.items():
                out[kind][i, k] = seen_chance(p, brood_of(state, place))
    return out


def _entropy(p: Array) -> Array:
    q = np.clip(p, 1e-12, 1.0)
    return np.asarray(-(q * np.log2(q)))


def _bits_chance(p: float, q: float, chance: float) -> float:
    """Mutual information of a yes-or-no outcome with chances p and q under the two causes."""

    def h(x: float) -> float:
        return float(_entropy(np.array([x, 1.0 - x])).sum())

    return h(chance * p + (1 - chance) * q) - chance * h(p) - (1 - chance) * h(q)


def _bits_normal(a: Array, b: Array, chance: float) -> float:
    """Mutual information of a measured outcome, each cause's predictions taken as normal."""
    m = np.array([a.mean(), b.mean()])
    s = np.maximum(np.array([a.std(), b.std()]), 1e-6)
    x = np.linspace((m - 6 * s).min(), (m + 6 * s).max(), 2001)
    density = np.exp(-0.5 * ((x - m[:, None]) / s[:, None]) ** 2) / s[:, None]
    density /= density.sum(axis=1, keepdims=True)
    share = np.array([chance, 1 - chance])
    both = share @ density
    terms = share[:, None] * density * np.log2(np.maximum(density, 1e-300) / np.maximum(both, 1e-300))
    return float(terms.sum())


def _bits_climate(kind: str, one: Candidate, other: Candidate, chance: float) -> float | None:
    """Worth of a reading of the climate, where one cause is a hidden fault of it that no logger watches."""
    names = (one[0].name, other[0].name)
    if kind not in names or (one if names[0] == kind else other)[0].shown_from is not None:
        return None
    _, posterior, _ = one if names[0] == kind else other
    if posterior.problem.colony.climate is not None and kind != "wet":
        return None
    place = [f.name for f in posterior.problem.free].index("size")
    assert posterior.problem.free[place].target == SIZE
    size = posterior.problem.free[place].value(posterior.sample.draws[:, place])
    known = diagnosis_values()
    error = {"dry": known["logger_error_humidity"].value, "wet": 0.5}.get(kind, known["logger_error_temperature"].value)
    rng = np.random.default_rng(6)
    faulty = size + error * rng.standard_normal(len(size))
    sound = error * rng.standard_normal(len(size))
    bits = _bits_normal(faulty, sound, chance if names[0] == kind else 1 - chance)
    return bits
