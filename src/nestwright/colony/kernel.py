"""Rates of the growth model and its run through days, compiled.

State vector, counts and g dry matter: eggs, larvae, pupae in 8 stages each (linear chain: stage lengths are Erlang),
inside workers in 3 and foragers in 4, garden substrate in 7 ages, leaves lying there, then running totals: WANTED is
what would have been taken in had leaves been free, WANDER what the noise of `noise` put into the garden.
docs/how-it-computes/colony.md has the equations and their sources.
"""

from __future__ import annotations

import math

import numba as nb
import numpy as np

from nestwright.colony import parameters as P  # noqa: N812 - places in the vector read as P.EGG_DAYS
from nestwright.colony.caps import FAST, capped4, capped8, fourth, raised

BROOD = 8
EGGS, LARVAE, PUPAE, NURSES, FORAGERS, GARDEN, LEAVES = 0, 8, 16, 24, 27, 31, 38
TAKEN_IN, WASTE, RESPIRED, EATEN, EMERGED, LAID, DIED, WILTED, WANTED, WANDER = 39, 40, 41, 42, 43, 44, 45, 46, 47, 48
N_STATE = 49
MOVING = 39
"""States that the rates hang on; the running totals follow."""
N_NURSE, N_FORAGER, N_AGE = 3, 4, 7
HOT, COLD, DRY, WET, CO2 = 0, 1, 2, 3, 4
CAUSE_QUEEN, CAUSE_LEAVES, CAUSE_DRY, CAUSE_WET = 1, 2, 3, 4
CAUSE_COLD, CAUSE_HOT, CAUSE_ROOM, CAUSE_LEAF = 5, 6, 7, 8

EVENT_CODES = {
    "garden_added": 0,
    "garden_taken": 1,
    "garden_share_lost": 2,
    "workers_added": 3,
    "workers_taken": 4,
    "eggs_added": 5,
    "larvae_added": 6,
    "pupae_added": 7,
    "brood_share_lost": 8,
    "queen": 9,
    "room": 10,
    "leaves": 11,
}


@nb.njit(cache=True, error_model="numpy")
def weigh_food(p, w):
    """How much each age of the substrate yields for food, 1 at its best; w (7,) is filled.

    (t/b) exp(1 - t/b) with the best age b (food_peak): a curve with one peak that starts at nothing, since the first
    food bodies stand 4 to 5 days after planting and most at 20 to 30 (Bass & Cherrett 1996, Symbiosis 21:9,
    secondary). The form is judgement.
    """
    for i in range(N_AGE):
        age = (i + 0.5) * p[P.SUBSTRATE_DAYS] / N_AGE / p[P.FOOD_PEAK]
        w[i] = age * math.exp(1.0 - age)


@nb.njit(cache=True, fastmath=FAST, error_model="numpy")
def rates(y, p, w, day, dy):
    """Rates of change per day at state y.

    `day` holds what is fixed for the day: 0 temperature factor, 1 loss rate from the climate, 2 slowing, 3 share of
    intake left, 4 loss rate from a harmful leaf, 5 room mL (0: none stated), 6 queen. Filled: 7, 8, 9 the loss rates of
    eggs and larvae, of pupae, of workers.
    """
    rates_at(y, p, w, day, pace_of(p, day), dy)


@nb.njit(cache=True, fastmath=FAST, error_model="numpy")
def pace_of(p, day):
    """What of the rates hangs on the day alone: passage through the stages of eggs, larvae, pupae, inside, outside,
    garden; loss of brood and of workers that neither hunger nor harm makes; loss to the dump."""
    ft, q = day[0], day[6]
    scale = ft / p[P.DEVELOPMENT]
    brood_days = p[P.EGG_DAYS] + p[P.LARVA_DAYS] + p[P.PUPA_DAYS]
    return (
        BROOD * scale / p[P.EGG_DAYS],
        BROOD * scale / p[P.LARVA_DAYS],
        BROOD * scale / p[P.PUPA_DAYS],
        N_NURSE * ft / p[P.NURSE_DAYS],
        N_FORAGER * ft / (p[P.WORKER_DAYS] - p[P.NURSE_DAYS]),
        N_AGE * ft / p[P.SUBSTRATE_DAYS],
        -math.log(p[P.BROOD_SURVIVAL]) * scale / brood_days,
        p[P.ORPHAN_DEATH] * max(0.0, 1.0 - q / p[P.QUEEN_ABSENT]),
        ft / p[P.WORKER_DAYS],
    )


@nb.njit(cache=True, fastmath=FAST, error_model="numpy", forceinline=True)
def rates_at(y, p, w, day, pace, dy):
    """`rates` with the day's pace at hand. Within its caller: to hand over its arrays costs a tenth of it."""
    ft, harm, slow, share_in, leaf_harm, room, q = day[0], day[1], day[2], day[3], day[4], day[5], day[6]
    re, rl, rp, rn, rf, rg, base, alone, ageing = pace
    young = 0.0
    larvae = 0.0
    for i in range(BROOD):
        larvae += y[LARVAE + i]
        young += y[EGGS + i]
    young += larvae
    nurses = y[NURSES] + y[NURSES + 1] + y[NURSES + 2]
    foragers = y[FORAGERS] + y[FORAGERS + 1] + y[FORAGERS + 2] + y[FORAGERS + 3]
    workers = nurses + foragers
    mass = 0.0
    edible = 0.0
    for i in range(N_AGE):
        mass += y[GARDEN + i]
        edible += w[i] * y[GARDEN + i]
    density = p[P.DRY_DENSITY]

    # food
    supply = p[P.FOOD_YIELD] * edible
    demand = p[P.LARVA_FOOD] * larvae + p[P.WORKER_FOOD] * workers + 1e-12
    food, _ = capped4(supply, fourth(supply), demand)
    eaten = demand * food * ft
    hunger = 1.0 - food

    # care
    can_tend = density * (p[P.TENDED_PER_WORKER] * workers + p[P.QUEEN_TENDS] * q)
    tended, tended4 = capped8(can_tend, mass + 1e-9 * density)
    cared, _ = capped8(p[P.LARVAE_PER_WORKER] * workers + p[P.LARVAE_QUEEN] * q, young + 1e-9)

    # brood and workers
    per_worker = p[P.LAYING_PER_WORKER] * workers
    laid = q * ft * slow * food * (p[P.LAYING_FOUNDING] + per_worker / (1.0 + per_worker / p[P.LAYING_MAX]))
    lost_young = base + p[P.HUNGER_DEATH] * hunger + p[P.UNTENDED_LOSS] * (1.0 - cared) + harm
    lost_pupae = base + harm
    day[7], day[8] = lost_young, lost_pupae
    passed = laid
    for i in range(BROOD):
        here = y[EGGS + i]
        dy[EGGS + i] = passed - (re + lost_young) * here
        passed = re * here
    for i in range(BROOD):
        here = y[LARVAE + i]
        dy[LARVAE + i] = passed - (rl + lost_young) * here
        passed = rl * here
    for i in range(BROOD):
        here = y[PUPAE + i]
        dy[PUPAE + i] = passed - (rp + lost_pupae) * here
        passed = rp * here
    emerged = passed
    lost = p[P.HUNGER_DEATH] * hunger + alone + p[P.WORKER_HARM_SHARE] * harm
    lost += p[P.DUMP_DEATH] * p[P.DUMP_EXPOSURE] * (ageing + lost)
    day[9] = lost
    for i in range(N_NURSE):
        here = y[NURSES + i]
        dy[NURSES + i] = passed - (rn + lost) * here
        passed = rn * here
    for i in range(N_FORAGER):
        here = y[FORAGERS + i]
        dy[FORAGERS + i] = passed - (rf + lost) * here
        passed = rf * here

    # leaves into the garden
    space = 1.0
    if room > 0.0:
        fill = mass / (density * room)
        space = 0.0 if fill >= 1.0 else 1.0 - raised(max(fill, 0.0), p[P.SPACE_POWER])
    by_queen = p[P.QUEEN_BRINGS] * q * p[P.QUEEN_HALF] / (p[P.QUEEN_HALF] + workers) * ft
    carry = p[P.CARRY] * (foragers + p[P.NURSE_CARRY] * nurses) * ft + by_queen
    takes_up = p[P.UPTAKE] * mass * ft * space * slow
    share, share4 = capped4(takes_up * tended, fourth(takes_up) * tended4, carry + 1e-12)
    offered = carry * share_in
    intake = offered * share
    dy[WANTED] = intake
    if p[P.FREE_LEAVES] < 0.5:
        # what a founding queen brings comes from outside or from herself, not from the leaves given
        queens = by_queen / (carry + 1e-12)
        others = (1.0 - queens) * offered
        lying = p[P.LEAF_TAKE] * max(y[LEAVES], 0.0)
        found, _ = capped4(others * share, fourth(others) * share4, lying + 1e-12)
        taken = lying * found
        intake = taken + queens * intake
        dy[LEAVES] = -taken - p[P.LEAF_WILT] * y[LEAVES]
        dy[WILTED] = p[P.LEAF_WILT] * y[LEAVES]
    else:
        dy[LEAVES] = 0.0
        dy[WILTED] = 0.0

    # garden
    sap = p[P.SAP_SHARE] * intake
    rot = p[P.UNTENDED_LOSS] * (1.0 - tended) + harm + leaf_harm
    breath = p[P.RESPIRED] * ft
    per_edible = eaten / (edible + 1e-12)
    older = intake - sap
    for i in range(N_AGE):
        here = y[GARDEN + i]
        dy[GARDEN + i] = older - (rg + rot + breath + per_edible * w[i]) * here
        older = rg * here
    dy[TAKEN_IN] = intake
    dy[WASTE] = older + rot * mass
    dy[RESPIRED] = breath * mass
    dy[EATEN] = sap + per_edible * edible
    dy[WANDER] = 0.0
    dy[EMERGED] = emerged
    dy[LAID] = laid
    dy[DIED] = lost * workers + passed


@nb.njit(cache=True, fastmath=FAST, error_model="numpy")
def set_day(t, p, climate, room, q, day):
    """What is fixed for day t: see `rates`. climate (days, 6): temperature, then depths; the last day holds on."""
    row = min(max(int(t), 0), climate.shape[0] - 1)
    temperature = climate[row, 0]
    cause = int(p[P.CAUSE])
    on = t >= p[P.ONSET]
    size = p[P.SIZE]
    hot = climate[row, 1 + HOT] * p[P.USE_HOT]
    cold = climate[row, 1 + COLD] * p[P.USE_COLD]
    dry = climate[row, 1 + DRY] * p[P.USE_DRY]
    wet = climate[row, 1 + WET] * p[P.USE_WET]
    day[3] = 1.0
    day[4] = 0.0
    day[5] = room if p[P.USE_ROOM] > 0.5 else 0.0
    if cause == CAUSE_ROOM:
        day[5] = room * size
    day[6] = q
    if on:
        if cause == CAUSE_QUEEN:
            day[6] = q * (1.0 - size)
        elif cause == CAUSE_LEAVES:
            day[3] = 1.0 - size
        elif cause == CAUSE_DRY:
            dry += size
        elif cause == CAUSE_WET:
            wet += size
        elif cause == CAUSE_COLD:
            cold += size
            temperature -= size
        elif cause == CAUSE_HOT:
            hot += size
            temperature += size
        elif cause == CAUSE_LEAF and t < p[P.ONSET] + p[P.LEAF_HARM_DAYS]:
            day[4] = size
    harm = p[P.HEAT_HARM] * hot + p[P.COLD_HARM] * cold + p[P.DRY_HARM] * dry + p[P.WET_HARM] * wet
    harm += p[P.CO2_HARM] * climate[row, 1 + CO2] * p[P.USE_CO2]
    harm *= p[P.HARM_SCALE]
    day[0] = p[P.DEVELOPMENT_Q10] ** ((temperature - p[P.REFERENCE_TEMPERATURE]) / 10.0)
    day[1] = harm
    day[2] = 1.0 / (1.0 + harm / p[P.HARM_HALF])


@nb.njit(cache=True, error_model="numpy")
def steps_a_day(p, day, step):
    """How many steps a day so that the fastest chain moves at most `step` of itself in one."""
    f = day[0] / p[P.DEVELOPMENT]
    fastest = BROOD * f / min(p[P.EGG_DAYS], min(p[P.LARVA_DAYS], p[P.PUPA_DAYS]))
    fastest = max(fastest, N_NURSE * day[0] / p[P.NURSE_DAYS])
    fastest += day[1] + day[4] + p[P.UNTENDED_LOSS]
    if p[P.FREE_LEAVES] < 0.5:
        fastest = max(fastest, p[P.LEAF_TAKE] + p[P.LEAF_WILT])
    return max(1, math.ceil(fastest / step))


@nb.njit(cache=True, fastmath=FAST, error_model="numpy")
def run_day(y, p, w, day, step, work):
    """One day by the classical Runge-Kutta method. work (5, N_STATE) is scratch."""
    n = steps_a_day(p, day, step)
    h = 1.0 / n
    pace = pace_of(p, day)
    x = work[4]
    for _ in range(n):
        for i in range(MOVING):
            x[i] = y[i]
        for stage in range(4):
            k = work[stage]
            rates_at(x, p, w, day, pace, k)
            reach = h if stage == 2 else 0.5 * h
            if stage < 3:
                for i in range(MOVING):
                    x[i] = y[i] + reach * k[i]
        k1, k2, k3, k4 = work[0], work[1], work[2], work[3]
        for i in range(N_STATE):
            y[i] += h / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i])


@nb.njit(cache=True, error_model="numpy")
def add_brood(y, first, count):
    """Brood of one kind, evenly over its stages; a negative count takes at most what is there."""
    there = 0.0
    for i in range(BROOD):
        there += y[first + i]
    if count >= 0.0 or there <= 0.0:
        for i in range(BROOD):
            y[first + i] = max(0.0, y[first + i] + count / BROOD)
    else:
        left = max(0.0, 1.0 + count / there)
        for i in range(BROOD):
            y[first + i] *= left


@nb.njit(cache=True, error_model="numpy")
def happen(y, p, kind, value, hold):
    """One event changes the state; hold (2,) is room mL and queen. Returns dry matter added to the garden, g."""
    mass = 0.0
    for i in range(N_AGE):
        mass += y[GARDEN + i]
    workers = 0.0
    for i in range(N_NURSE + N_FORAGER):
        workers += y[NURSES + i]
    added = 0.0
    if kind == 0:
        added = value * p[P.DRY_DENSITY]
        for i in range(N_AGE):
            y[GARDEN + i] += added / N_AGE
    elif kind == 1 or kind == 2:
        share = value if kind == 2 else min(1.0, value * p[P.DRY_DENSITY] / (mass + 1e-12))
        for i in range(N_AGE):
            y[GARDEN + i] *= 1.0 - share
        added = -share * mass
    elif kind == 3:
        young = inside_share(p)
        for i in range(N_NURSE):
            y[NURSES + i] += value * young / N_NURSE
        for i in range(N_FORAGER):
            y[FORAGERS + i] += value * (1.0 - young) / N_FORAGER
    elif kind == 4:
        left = max(0.0, 1.0 - value / (workers + 1e-12))
        for i in range(N_NURSE + N_FORAGER):
            y[NURSES + i] *= left
    elif kind == 5:
        add_brood(y, EGGS, value)
    elif kind == 6:
        add_brood(y, LARVAE, value)
    elif kind == 7:
        add_brood(y, PUPAE, value)
    elif kind == 8:
        for i in range(3 * BROOD):
            y[i] *= 1.0 - value
    elif kind == 9:
        hold[1] = value
    elif kind == 10:
        hold[0] = value
    elif kind == 11 and p[P.FREE_LEAVES] < 0.5:
        y[LEAVES] += value
    return added


@nb.njit(cache=True, error_model="numpy")
def inside_share(p):
    """Share of workers that work inside, in a colony that grows."""
    return min(p[P.INSIDE_MOST], p[P.INSIDE_GROWTH] * p[P.NURSE_DAYS] / p[P.WORKER_DAYS])


@nb.njit(cache=True, error_model="numpy")
def start_state(p, y):
    """What was there on the first day, spread over ages as in a colony that lives on."""
    for i in range(N_STATE):
        y[i] = 0.0
    total = p[P.EGG_DAYS] + p[P.LARVA_DAYS] + p[P.PUPA_DAYS]
    for i in range(BROOD):
        y[EGGS + i] = p[P.START_BROOD] * p[P.EGG_DAYS] / total / BROOD
        y[LARVAE + i] = p[P.START_BROOD] * p[P.LARVA_DAYS] / total / BROOD
        y[PUPAE + i] = p[P.START_BROOD] * p[P.PUPA_DAYS] / total / BROOD
    young = inside_share(p)
    for i in range(N_NURSE):
        y[NURSES + i] = p[P.START_WORKERS] * young / N_NURSE
    for i in range(N_FORAGER):
        y[FORAGERS + i] = p[P.START_WORKERS] * (1.0 - young) / N_FORAGER
    for i in range(N_AGE):
        y[GARDEN + i] = p[P.START_GARDEN] * p[P.DRY_DENSITY] / N_AGE


@nb.njit(cache=True, error_model="numpy")
def workers_of(y):
    total = 0.0
    for i in range(N_NURSE + N_FORAGER):
        total += y[NURSES + i]
    return total


@nb.njit(cache=True, error_model="numpy")
def brood_of(y, first):
    total = 0.0
    for i in range(BROOD):
        total += y[first + i]
    return total


@nb.njit(cache=True, error_model="numpy")
def garden_of(y, p):
    """Garden volume, mL."""
    total = 0.0
    for i in range(N_AGE):
        total += y[GARDEN + i]
    return total / p[P.DRY_DENSITY]


@nb.njit(cache=True, error_model="numpy")
def run_days(p, y, first, last, climate, room, event_day, event_kind, event_value, step, out):
    """Run the skeleton from the morning of day `first` to that of `last`; out (last - first + 1, N_STATE) gets the
    state of each morning before that day's events. Events of day `last` are not applied. Returns (room, queen,
    dry matter that events put into the garden)."""
    work = np.empty((5, N_STATE))
    day = np.empty(10)
    w = np.empty(N_AGE)
    weigh_food(p, w)
    hold = np.array([room, p[P.QUEEN]])
    e = 0
    n = event_day.shape[0]
    added = 0.0
    while e < n and event_day[e] < first:
        e += 1
    for t in range(first, last):
        out[t - first, :] = y
        while e < n and event_day[e] < t + 1:
            added += happen(y, p, event_kind[e], event_value[e], hold)
            e += 1
        set_day(float(t), p, climate, hold[0], hold[1], day)
        run_day(y, p, w, day, step, work)
    out[last - first, :] = y
    return hold[0], hold[1], added
