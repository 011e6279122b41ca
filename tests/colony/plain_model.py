"""The growth model written a second time, in plain NumPy from its description, to hold the compiled one against.

Slow and short: chains as arrays, the wander of a record as one multivariate normal instead of a filter.
"""

import math

import numpy as np
from scipy.integrate import solve_ivp
from scipy.stats import multivariate_normal

from nestwright.colony import parameters as P  # noqa: N812

CHAINS = {"eggs": 8, "larvae": 8, "pupae": 8, "inside": 3, "outside": 4, "garden": 7, "leaves": 1, "totals": 10}
TOTALS = ("taken_in", "waste", "respired", "eaten", "emerged", "laid", "died", "wilted")


def split(y):
    """The state by name."""
    ends = np.cumsum(list(CHAINS.values()))
    return dict(zip(CHAINS, np.split(np.asarray(y), ends[:-1]), strict=True))


def named(p):
    """The vector by name, lower case."""
    return dict(zip(P.ORDER, p, strict=True))


def at_most_one(x, power):
    return x / (1 + x**power) ** (1 / power)


def flow(chain, rate, into, loss):
    """A chain that each moves on along at `rate` a stage and is lost at `loss`; what comes in and what leaves it."""
    moving = rate * chain
    return np.concatenate(([into], moving[:-1])) - moving - loss * chain, moving[-1]


def day_of(p, air, queen, room):
    """What the climate and the housing make of a day: temperature factor, harm, slowing; and queen and room."""
    v = named(p)
    temperature, hot, cold, dry, wet, co2 = air
    harm = v["heat_harm"] * hot + v["cold_harm"] * cold + v["dry_harm"] * dry + v["wet_harm"] * wet
    harm = (harm + v["co2_harm"] * co2) * v["harm_scale"]
    warmth = v["development_q10"] ** ((temperature - v["reference_temperature"]) / 10)
    return warmth, harm, 1 / (1 + harm / v["harm_half"]), queen, room


def change(y, p, day):
    """Rates of change per day at state y."""
    v = named(p)
    s = split(y)
    warmth, harm, slow, q, room = day
    workers = s["inside"].sum() + s["outside"].sum()
    mass, volume = s["garden"].sum(), s["garden"].sum() / v["dry_density"]
    age = (np.arange(7) + 0.5) * v["substrate_days"] / 7 / v["food_peak"]
    edible = age * np.exp(1 - age) * s["garden"]

    demand = v["larva_food"] * s["larvae"].sum() + v["worker_food"] * workers + 1e-12
    food = at_most_one(v["food_yield"] * edible.sum() / demand, 4)
    tended = at_most_one((v["tended_per_worker"] * workers + v["queen_tends"] * q) / (volume + 1e-9), 8)
    young = s["eggs"].sum() + s["larvae"].sum()
    cared = at_most_one((v["larvae_per_worker"] * workers + v["larvae_queen"] * q) / (young + 1e-9), 8)

    b = v["laying_per_worker"] * workers
    laid = q * warmth * slow * food * (v["laying_founding"] + b / (1 + b / v["laying_max"]))
    pace = warmth / v["development"]
    lengths = [v["egg_days"], v["larva_days"], v["pupa_days"]]
    base = -math.log(v["brood_survival"]) * pace / sum(lengths)
    starving = v["hunger_death"] * (1 - food)
    loss_young = base + starving + v["untended_loss"] * (1 - cared) + harm
    d_eggs, hatched = flow(s["eggs"], 8 * pace / lengths[0], laid, loss_young)
    d_larvae, pupated = flow(s["larvae"], 8 * pace / lengths[1], hatched, loss_young)
    d_pupae, emerged = flow(s["pupae"], 8 * pace / lengths[2], pupated, base + harm)

    loss = starving + v["orphan_death"] * max(0.0, 1 - q / v["queen_absent"]) + v["worker_harm_share"] * harm
    loss += v["dump_death"] * v["dump_exposure"] * (warmth / v["worker_days"] + loss)
    d_inside, outside = flow(s["inside"], 3 * warmth / v["nurse_days"], emerged, loss)
    d_outside, old = flow(s["outside"], 4 * warmth / (v["worker_days"] - v["nurse_days"]), outside, loss)

    space = max(0.0, 1 - (volume / room) ** v["space_power"]) if room > 0 else 1.0
    carry = v["carry"] * (s["outside"].sum() + v["nurse_carry"] * s["inside"].sum()) * warmth
    brought = v["queen_brings"] * q * v["queen_half"] / (v["queen_half"] + workers) * warmth
    carry += brought
    intake = carry * at_most_one(v["uptake"] * mass * warmth * tended * space * slow / (carry + 1e-12), 4)
    d_leaves = wilted = 0.0
    wanted = intake
    if not v["free_leaves"]:
        lying, wilted = v["leaf_take"] * s["leaves"][0], v["leaf_wilt"] * s["leaves"][0]
        own = intake * brought / (carry + 1e-12)
        taken = lying * at_most_one((intake - own) / (lying + 1e-12), 4)
        intake = taken + own
        d_leaves = -taken - wilted

    sap = v["sap_share"] * intake
    rot = v["untended_loss"] * (1 - tended) + harm
    breath = v["respired"] * warmth
    eaten = demand * food * warmth * edible / (edible.sum() + 1e-12)
    d_garden, spent = flow(s["garden"], 7 * warmth / v["substrate_days"], intake - sap, rot + breath)
    d_garden = d_garden - eaten
    died = loss * workers + old
    totals = (intake, spent + rot * mass, breath * mass, sap + eaten.sum(), emerged, laid, died, wilted, wanted, 0.0)
    return np.concatenate((d_eggs, d_larvae, d_pupae, d_inside, d_outside, d_garden, [d_leaves], totals))


def solve(y, p, day, days):
    """The state after so many equal days, by LSODA at a relative tolerance of 1e-10."""
    got = solve_ivp(lambda _, x: change(x, p, day), (0, days), y, method="LSODA", rtol=1e-10, atol=1e-12)
    return got.y[:, -1]


def at_start(p):
    """What is there on the first day."""
    v = named(p)
    lengths = np.array([v["egg_days"], v["larva_days"], v["pupa_days"]])
    young = min(v["inside_most"], v["inside_growth"] * v["nurse_days"] / v["worker_days"])
    parts = [np.full(8, v["start_brood"] * share / 8) for share in lengths / lengths.sum()]
    parts += [np.full(3, v["start_workers"] * young / 3), np.full(4, v["start_workers"] * (1 - young) / 4)]
    return np.concatenate(
        (*parts, np.full(7, v["start_garden"] * v["dry_density"] / 7), np.zeros(1 + CHAINS["totals"]))
    )


def log_likelihood(p, days, air, room, events, seen):
    """Log-likelihood of a record.

    events (day, kind, value), of kinds leaves, room, queen, workers_added, garden_added; seen (day, kind, value,
    error, since) with the error on the log scale. The wander has independent daily steps, so two observations of one
    channel have the variance that the earlier day has gathered in common.
    """
    v = named(p)
    y = at_start(p)
    queen = v["queen"]
    mornings, gathered = [], np.zeros((days + 1, 2))
    for t in range(days + 1):
        mornings.append(y)
        workers = split(y)["inside"].sum() + split(y)["outside"].sum()
        own = (v["noise"] * v["worker_noise"]) ** 2 + v["demographic"] / v["worker_days"] / (workers + 1)
        if t < days:
            gathered[t + 1] = gathered[t] + (v["noise"] ** 2, own)
        y = y.copy()
        for _, kind, value in (e for e in events if int(e[0]) == t):
            s = split(y)  # views of y
            young = min(v["inside_most"], v["inside_growth"] * v["nurse_days"] / v["worker_days"])
            if kind == "leaves":
                s["leaves"] += 0.0 if v["free_leaves"] else value
            elif kind == "workers_added":
                s["inside"] += value * young / 3
                s["outside"] += value * (1 - young) / 4
            elif kind == "garden_added":
                s["garden"] += value * v["dry_density"] / 7
            elif kind == "room":
                room = value
            else:
                queen = value
        if t < days:
            y = solve(y, p, day_of(p, air[min(t, len(air) - 1)], queen, room), 1)

    total = 0.0
    channels = {"garden": [], "workers": []}
    for day, kind, value, error, since in seen:
        s = split(mornings[int(day)])
        if kind in ("eggs", "larvae", "pupae"):
            found = 1 - (1 - v["seen_share"]) ** s[kind].sum()
            chance = v["seen_falsely"] + (1 - v["seen_falsely"] - v["seen_missed"]) * found
            total += math.log(chance if value else 1 - chance)
            continue
        if kind == "workers":
            expected, offset = s["inside"].sum() + s["outside"].sum(), 0.5
        elif kind == "garden":
            expected, offset = s["garden"].sum() / v["dry_density"], 0.5
        else:
            place = TOTALS.index("waste" if kind == "waste" else "taken_in")
            expected, offset = s["totals"][place] - split(mornings[int(since)])["totals"][place], 0.02
        off = math.log(value + offset) - math.log(expected + offset)
        channels["workers" if kind == "workers" else "garden"].append((int(day), off, error * v["error_scale"]))
    for c, name in enumerate(channels):
        day, off, error = (np.array(x) for x in zip(*channels[name], strict=True))
        common = gathered[np.minimum.outer(day, day), c]
        total += multivariate_normal(cov=common + np.diag(error**2)).logpdf(off)
    return total
