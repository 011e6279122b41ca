"""The colony as it might go: the growth model with births, deaths and moves drawn one by one, compiled.

Counts are whole numbers. In each step of a quarter day the ants that leave a stage are drawn from the binomial
distribution and the eggs from the Poisson distribution (tau-leaping: Gillespie 2001, J Chem Phys 115:1716); large
numbers take the normal approximation. The garden follows its rates by the midpoint rule and wanders day by day.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.kernel import (
    BROOD,
    DIED,
    EATEN,
    EGGS,
    EMERGED,
    FORAGERS,
    GARDEN,
    LAID,
    LARVAE,
    LEAVES,
    N_AGE,
    N_FORAGER,
    N_NURSE,
    N_STATE,
    NURSES,
    PUPAE,
    RESPIRED,
    TAKEN_IN,
    WANDER,
    WANTED,
    WASTE,
    WILTED,
    brood_of,
    garden_of,
    happen,
    rates,
    set_day,
    weigh_food,
    workers_of,
)

STEPS = 4
LARGE = 30.0
TABLE = (
    "garden",
    "workers",
    "eggs",
    "larvae",
    "pupae",
    "intake",
    "waste",
    "respired",
    "eaten",
    "emerged",
    "room",
    "wanted",
    "wander",
)
"""Columns of a path: garden mL and counts on the morning of the day, running totals in g and counts, usable mL."""


@nb.njit(cache=True, error_model="numpy")
def draw_binomial(n, chance):
    """How many of n, each with this chance."""
    if n <= 0.0 or chance <= 0.0:
        return 0.0
    if chance >= 1.0:
        return n
    mean = n * chance
    if mean > LARGE and n - mean > LARGE:
        got = math.floor(mean + math.sqrt(mean * (1.0 - chance)) * np.random.standard_normal() + 0.5)
        return min(max(got, 0.0), n)
    if n > 1e6:
        return min(float(np.random.poisson(mean)), n)
    return float(np.random.binomial(int(n), chance))


@nb.njit(cache=True, error_model="numpy")
def draw_poisson(mean):
    """A count about a mean."""
    if mean <= 0.0:
        return 0.0
    if mean > LARGE:
        return max(0.0, math.floor(mean + math.sqrt(mean) * np.random.standard_normal() + 0.5))
    return float(np.random.poisson(mean))


@nb.njit(cache=True, error_model="numpy")
def round_chain(y, first, n, factor):
    """n stages times a factor as whole numbers: each right on average, and their total to the nearest one (systematic
    rounding of the running sums from one uniform number)."""
    above = np.random.random()
    total = 0.0
    before = 0.0
    for i in range(n):
        total += y[first + i] * factor
        now = math.floor(total + above)
        y[first + i] = now - before
        before = now


@nb.njit(cache=True, error_model="numpy")
def make_whole(y):
    """Counts of a state as whole numbers."""
    for first, n in ((EGGS, BROOD), (LARVAE, BROOD), (PUPAE, BROOD), (NURSES, N_NURSE), (FORAGERS, N_FORAGER)):
        round_chain(y, first, n, 1.0)


@nb.njit(cache=True, error_model="numpy")
def chain(y, first, n, moves, lost):
    """One step of a chain of n stages: each ant moves on with chance `moves` or is lost with chance `lost`.

    Returns (how many left at the end, how many were lost).
    """
    arrived = 0.0
    died = 0.0
    both = min(1.0, moves + lost)
    share = moves / both if both > 0.0 else 0.0
    for i in range(n):
        gone = draw_binomial(y[first + i], both)
        on = draw_binomial(gone, share)
        y[first + i] += arrived - gone
        arrived = on
        died += gone - on
    return arrived, died


@nb.njit(cache=True, error_model="numpy")
def step_noisy(y, p, w, day, h, d1, d2, x):
    """One step of h days, counts drawn, garden by the midpoint rule."""
    rates(y, p, w, day, d1)
    for i in range(N_STATE):
        x[i] = y[i]
    for i in range(GARDEN, LEAVES + 1):
        x[i] = max(0.0, y[i] + 0.5 * h * d1[i])
    ft, lost_young, lost_pupae, lost = day[0], day[7], day[8], day[9]
    scale = ft / p[P.DEVELOPMENT]
    rates(x, p, w, day, d2)

    laid = draw_poisson(h * d1[LAID])
    hatched, _ = chain(y, EGGS, BROOD, h * BROOD * scale / p[P.EGG_DAYS], h * lost_young)
    pupated, _ = chain(y, LARVAE, BROOD, h * BROOD * scale / p[P.LARVA_DAYS], h * lost_young)
    emerged, _ = chain(y, PUPAE, BROOD, h * BROOD * scale / p[P.PUPA_DAYS], h * lost_pupae)
    outside, died = chain(y, NURSES, N_NURSE, h * N_NURSE * ft / p[P.NURSE_DAYS], h * lost)
    rest = p[P.WORKER_DAYS] - p[P.NURSE_DAYS]
    old, lost_outside = chain(y, FORAGERS, N_FORAGER, h * N_FORAGER * ft / rest, h * lost)
    y[EGGS] += laid
    y[LARVAE] += hatched
    y[PUPAE] += pupated
    y[NURSES] += emerged
    y[FORAGERS] += outside
    for i in range(GARDEN, LEAVES + 1):
        y[i] = max(0.0, y[i] + h * d2[i])
    for i in (TAKEN_IN, WASTE, RESPIRED, EATEN, WILTED, WANTED):
        y[i] += h * d2[i]
    y[EMERGED] += emerged
    y[LAID] += laid
    y[DIED] += died + old + lost_outside


@nb.njit(cache=True, error_model="numpy")
def wander_day(y, p):
    """A day's wander of garden and workers, about the same mean. What the garden gains or loses by it has a running
    total of its own, so that dry matter still balances."""
    s = p[P.NOISE]
    factor = math.exp(s * np.random.standard_normal() - 0.5 * s * s)
    change = 0.0
    for i in range(N_AGE):
        change += (factor - 1.0) * y[GARDEN + i]
        y[GARDEN + i] *= factor
    y[WANDER] += change
    s *= p[P.WORKER_NOISE]
    factor = math.exp(s * np.random.standard_normal() - 0.5 * s * s)
    round_chain(y, NURSES, N_NURSE + N_FORAGER, factor)


@nb.njit(cache=True, error_model="numpy")
def run_noisy(p, y, first, last, climate, room, queen, events, seed, path):
    """One path from the morning of day `first` to that of `last`.

    y (N_STATE,) is made whole and changed; path (last - first + 1, len(TABLE)) is filled. room mL, queen 0 to 1.
    """
    np.random.seed(seed)
    event_day, event_kind, event_value = events
    day = np.empty(10)
    w = np.empty(N_AGE)
    weigh_food(p, w)
    d1, d2, x = np.empty(N_STATE), np.empty(N_STATE), np.empty(N_STATE)
    hold = np.array([room, queen])
    make_whole(y)
    e = 0
    while e < event_day.shape[0] and event_day[e] < first:
        e += 1
    for t in range(first, last + 1):
        note_day(y, p, hold[0], path[t - first])
        if t == last:
            break
        had = False
        while e < event_day.shape[0] and event_day[e] < t + 1:
            happen(y, p, event_kind[e], event_value[e], hold)
            had = True
            e += 1
        if had:
            make_whole(y)
        set_day(float(t), p, climate, hold[0], hold[1], day)
        for _ in range(STEPS):
            step_noisy(y, p, w, day, 1.0 / STEPS, d1, d2, x)
        wander_day(y, p)


@nb.njit(cache=True, error_model="numpy")
def note_day(y, p, room, row):
    """A morning's row of a path."""
    row[0] = garden_of(y, p)
    row[1] = workers_of(y)
    row[2] = brood_of(y, EGGS)
    row[3] = brood_of(y, LARVAE)
    row[4] = brood_of(y, PUPAE)
    row[5] = y[TAKEN_IN]
    row[6] = y[WASTE]
    row[7] = y[RESPIRED]
    row[8] = y[EATEN]
    row[9] = y[EMERGED]
    row[10] = room
    row[11] = y[WANTED]
    row[12] = y[WANDER]


@nb.njit(cache=True, parallel=True, nogil=True, error_model="numpy")
def run_paths(vectors, states, first, last, climate, rooms, queens, events, seed, paths):
    """Many paths on all cores: vectors (n, N_PARAMETERS), states (n, N_STATE), rooms, queens (n,);
    paths (n, last - first + 1, len(TABLE)) is filled. Path i is drawn from seed + i, whatever the cores."""
    for i in nb.prange(vectors.shape[0]):
        y = states[i].copy()
        run_noisy(vectors[i], y, first, last, climate, rooms[i], queens[i], events, seed + i, paths[i])
