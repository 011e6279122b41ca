"""Rates of the growth model in plain NumPy, written to be fast in NumPy: the baseline of the colony benchmark.

Also an independent second writing of the kernel's equations: tests/colony/test_numpy_colony.py compares the two.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from nestwright.colony import parameters as P  # noqa: N812

Array = np.ndarray
BROOD, NURSE, FORAGER, AGE = 8, 3, 4, 7
STATES = 49


def food_weight(p: Array) -> Array:
    """Yield of each age of the substrate for food, 1 at its best, shape (7,)."""
    age = (np.arange(AGE) + 0.5) * p[P.SUBSTRATE_DAYS] / AGE / p[P.FOOD_PEAK]
    return age * np.exp(1.0 - age)


def day_of(p: Array, climate: Array, room: float, queen: float) -> tuple[float, ...]:
    """What is fixed for a day without a rival cause: temperature factor, loss, slowing, room and queen.

    climate (6,): degC, then the depths hot, cold, dry, wet, co2.
    """
    rate = p[[P.HEAT_HARM, P.COLD_HARM, P.DRY_HARM, P.WET_HARM, P.CO2_HARM]] * p[P.USE_HOT : P.USE_CO2 + 1]
    harm = float(p[P.HARM_SCALE] * (rate @ climate[1:]))
    warmth = float(p[P.DEVELOPMENT_Q10] ** ((climate[0] - p[P.REFERENCE_TEMPERATURE]) / 10.0))
    return warmth, harm, 1.0 / (1.0 + harm / p[P.HARM_HALF]), room if p[P.USE_ROOM] > 0.5 else 0.0, queen


def at_most_one(x: float, power: float) -> float:
    return x / (1.0 + x**power) ** (1.0 / power)


def numpy_rates(p: Array, day: tuple[float, ...]) -> Callable[[float, Array], Array]:
    """A function rates(t, y) that returns dy/dt, shape (49,), for one vector and one day; leaves are free."""
    ft, harm, slow, room, q = day
    v = dict(zip((name.lower() for name in P.ORDER), p.tolist(), strict=True))
    weight = food_weight(p)
    scale = ft / v["development"]
    re, rl, rp = (BROOD * scale / v[k] for k in ("egg_days", "larva_days", "pupa_days"))
    base = -np.log(v["brood_survival"]) * scale / (v["egg_days"] + v["larva_days"] + v["pupa_days"])
    rn, rf = NURSE * ft / v["nurse_days"], FORAGER * ft / (v["worker_days"] - v["nurse_days"])
    rg, breath = AGE * ft / v["substrate_days"], v["respired"] * ft
    alone = v["orphan_death"] * max(0.0, 1.0 - q / v["queen_absent"])
    exposed = v["dump_death"] * v["dump_exposure"]
    # what leaves each place of the first 31 (brood and workers) and moves on to the next
    onward = np.repeat([re, rl, rp, rn, rf], [BROOD, BROOD, BROOD, NURSE, FORAGER])
    loss = np.empty(31)

    def rates(t: float, y: Array) -> Array:
        eggs, larvae = y[:8].sum(), y[8:16].sum()
        nurses, foragers = y[24:27].sum(), y[27:31].sum()
        garden, workers = y[31:38], nurses + foragers
        mass, edible = garden.sum(), weight @ garden
        volume = mass / v["dry_density"]
        demand = v["larva_food"] * larvae + v["worker_food"] * workers + 1e-12
        food = at_most_one(v["food_yield"] * edible / demand, 4)
        eaten, hunger = demand * food * ft, 1.0 - food
        tended = at_most_one((v["tended_per_worker"] * workers + v["queen_tends"] * q) / (volume + 1e-9), 8)
        cares = v["larvae_per_worker"] * workers + v["larvae_queen"] * q
        cared = at_most_one(cares / (eggs + larvae + 1e-9), 8)
        fed = v["laying_per_worker"] * workers
        laid = q * ft * slow * food * (v["laying_founding"] + fed / (1.0 + fed / v["laying_max"]))
        loss[:16] = base + v["hunger_death"] * hunger + v["untended_loss"] * (1.0 - cared) + harm
        loss[16:24] = base + harm
        lost = v["hunger_death"] * hunger + alone + v["worker_harm_share"] * harm
        lost += exposed * (ft / v["worker_days"] + lost)
        loss[24:] = lost
        dy = np.zeros(STATES)
        moved = onward * y[:31]
        dy[:31] = -moved - loss * y[:31]
        dy[1:31] += moved[:30]
        # no chain but brood to workers and inside to outside feeds the next
        dy[0] += laid
        carry = v["carry"] * (foragers + v["nurse_carry"] * nurses) * ft
        carry += v["queen_brings"] * q * v["queen_half"] / (v["queen_half"] + workers) * ft
        space = 1.0 if room <= 0.0 else max(0.0, 1.0 - (volume / room) ** v["space_power"])
        intake = carry * at_most_one(v["uptake"] * mass * ft * tended * space * slow / (carry + 1e-12), 4)
        rot = v["untended_loss"] * (1.0 - tended) + harm
        eats = eaten / (edible + 1e-12)
        older = rg * garden
        dy[31:38] = -older - (rot + breath + eats * weight) * garden
        dy[32:38] += older[:-1]
        sap = v["sap_share"] * intake
        dy[31] += intake - sap
        dy[39] = dy[47] = intake
        dy[40] = older[-1] + rot * mass
        dy[41] = breath * mass
        dy[42] = sap + eats * edible
        dy[43] = moved[23]
        dy[44] = laid
        dy[45] = lost * workers + moved[30]
        return dy

    return rates
