"""Runs of the growth model for the checks: one card, one climate, the whole state by day."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from nestwright.colony import kernel as K  # noqa: N812
from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.noise import TABLE, run_paths
from nestwright.colony.problem import FITTED, STEP, development, from_range
from nestwright.data import load_species

MONTH = 365.25 / 12
FOUNDING = 0.2  # mL of garden that a founding queen has made in her first days; judgement
BEST = ("uptake", "carry", "tended_per_worker", "food_yield", "substrate_days")
BEST += ("worker_days", "brood_survival", "laying_per_worker")
NONE = (np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0))


def vector(species, *, workers=0.0, garden=0.0, brood=0.0, **changes):
    """A card's central values, with a start and changed values; keys are those of the card, lower case."""
    p = P.card_vector(load_species(species))
    p[P.START_WORKERS], p[P.START_GARDEN], p[P.START_BROOD] = workers, garden, brood
    for name, value in changes.items():
        p[P.ORDER.index(name)] = value
    return p


def climate(temperature=25.0, hot=0.0, cold=0.0, dry=0.0, wet=0.0, co2=0.0):
    """A steady climate, shape (1, 6)."""
    return np.array([[temperature, hot, cold, dry, wet, co2]])


def make_events(*events):
    """(day, kind, value) as the arrays of a run."""
    events = sorted(events, key=lambda e: e[0])
    return (
        np.array([e[0] for e in events], dtype=float),
        np.array([K.EVENT_CODES[e[1]] for e in events], dtype=np.int64),
        np.array([e[2] for e in events], dtype=float),
    )


@dataclass(frozen=True)
class Run:
    """States of a run by day, shape (days + 1, N_STATE), and what events put into the garden, g."""

    p: np.ndarray
    states: np.ndarray
    added: float

    def __getattr__(self, name):
        spans = {
            "eggs": (K.EGGS, K.LARVAE),
            "larvae": (K.LARVAE, K.PUPAE),
            "pupae": (K.PUPAE, K.NURSES),
            "workers": (K.NURSES, K.GARDEN),
            "mass": (K.GARDEN, K.LEAVES),
        }
        if name == "garden":
            return self.mass / self.p[P.DRY_DENSITY]
        if name not in spans:
            raise AttributeError(name)
        first, end = spans[name]
        return self.states[:, first:end].sum(axis=1)

    def total(self, place):
        """A running total by day."""
        return self.states[:, place]


def run(p, days, *, air=None, room=0.0, events=NONE, start=None, step=STEP):
    """The skeleton over so many days."""
    y = np.zeros(K.N_STATE)
    if start is None:
        K.start_state(p, y)
    else:
        y[:] = start
    out = np.full((days + 1, K.N_STATE), np.nan)
    air = climate() if air is None else air
    *_, added = K.run_days(p, y, 0, days, air, float(room), *events, step, out)
    return Run(p, out, added)


def paths(p, days, n, *, air=None, room=0.0, events=NONE, start=None, seed=1):
    """Paths with noise, shape (n, days + 1, len(TABLE)); TABLE names the columns."""
    y = np.zeros(K.N_STATE)
    if start is None:
        K.start_state(p, y)
    else:
        y[:] = start
    out = np.full((n, days + 1, len(TABLE)), np.nan)
    air = climate() if air is None else air
    vectors, states = np.tile(p, (n, 1)), np.tile(y, (n, 1))
    run_paths(vectors, states, 0, days, air, np.full(n, float(room)), np.full(n, p[P.QUEEN]), events, seed, out)
    return out


def column(table, name):
    """One column of the paths, shape (n, days + 1)."""
    return table[..., TABLE.index(name)]


def free_values(species):
    """What a fit of this species leaves free: the values of the card and the factor on its stages."""
    card = load_species(species)
    return [development(card), *(from_range(n, P.ORDER.index(n), card.growth[n]) for n in FITTED)]


def spread(p, species, n, seed=0, only=None):
    """n vectors with the free values between the 5 and 95 % points of their priors, evenly (Latin hypercube).

    `only` names the values that are moved; all of them where it is None.
    """
    free = [f for f in free_values(species) if only is None or f.name in only]
    shares = 0.05 + 0.9 * qmc.LatinHypercube(len(free), seed=seed).random(n)
    z = ndtri(shares)
    out = np.tile(p, (n, 1))
    for j, f in enumerate(free):
        out[:, f.target] = p[f.target] * np.exp(f.b * z[:, j]) if f.name == "development" else f.value(z[:, j])
    out[:, P.BROOD_SURVIVAL] = np.minimum(out[:, P.BROOD_SURVIVAL], 0.98)
    return out


def corner(p, species, high=(), low=()):
    """The vector with the named free values at the 95 % (high) or 5 % (low) point of their priors."""
    p = p.copy()
    for f in free_values(species):
        z = 1.6448536269514722 * ((f.name in high) - (f.name in low))
        if z:
            p[f.target] = f.value(np.array(z))
    return p


def cohort(species, **changes):
    """A run of ten eggs and nothing laid after them, well fed and cared for."""
    changes |= {"laying_founding": 0, "laying_per_worker": 0, "brood_survival": 0.98, "larvae_per_worker": 1e6}
    p = vector(species, workers=100, garden=100, **changes)
    y = np.zeros(K.N_STATE)
    K.start_state(p, y)
    y[K.EGGS] = 10
    return run(p, 200, start=y)


def pulse(species):
    """A gram of fresh substrate that nothing eats and nothing spoils."""
    nothing = dict.fromkeys(("uptake", "sap_share", "respired", "untended_loss"), 0.0)
    p = vector(species, worker_food=1e-12, larva_food=1e-12, laying_founding=0, **nothing)
    y = np.zeros(K.N_STATE)
    y[K.GARDEN] = 1.0
    return run(p, 150, start=y)


def well_kept(species):
    """A young garden with many workers."""
    return vector(species, garden=60, workers=200, brood=200)


def times(p, air=None):
    """Garden after 18 days over garden at first."""
    garden = run(p, 18, air=air).garden
    return garden[-1] / garden[0]


def poor(species):
    """Hot, dry and cold for this card: 28 degC or 1 K above the band, 80 % RH, 2 K below the band; and hot and dry."""
    limits = {(one.role, one.quantity): one for one in load_species(species).limits}
    band, humidity = limits["garden", "temperature"], limits["garden", "relative_humidity"]
    low, high = band.low - 273.15, band.high - 273.15
    hot = max(28.0, high + 1)
    dry = humidity.low - 0.80
    return (
        climate(hot, hot=hot - high),
        climate(25, dry=dry),
        climate(low - 2, cold=2.0),
        climate(hot, hot=hot - high, dry=dry),
    )
