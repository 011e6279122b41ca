"""What a rescue begins with: the values drawn from a species card, the ants that came, amounts and climate to try."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.fit import Ends
from nestwright.colony.kernel import (
    BROOD,
    EGGS,
    FORAGERS,
    LARVAE,
    N_FORAGER,
    N_NURSE,
    N_STATE,
    NURSES,
    PUPAE,
    inside_share,
)
from nestwright.colony.problem import FITTED, Free, development, from_range
from nestwright.data import SpeciesCard, colony_values
from nestwright.errors import InputError

Array = NDArray[np.float64]

__all__ = [
    "DRAWS",
    "MOST_AMOUNTS",
    "MOST_DAYS",
    "MOST_GARDEN",
    "MOST_WORKERS",
    "NOT_IN_FIT",
    "PER_DRAW",
    "all_free",
    "arrivals",
    "check_counts",
    "check_run",
    "checked_amounts",
    "climate_at",
    "usual_amounts",
    "values_of",
]

DRAWS, PER_DRAW = 96, 4
"""Draws of the card, and paths of each."""
AMOUNTS = 7
MOST_DAYS, MOST_WORKERS, MOST_GARDEN, MOST_AMOUNTS = 730, 1e6, 1e6, 40
WARMTH = (5.0, 40.0)
"""Temperatures, degC, that are no slip of the pen."""
UNCERTAIN = (*FITTED, "queen_tends", "hunger_death", "untended_loss", "larva_food", "worker_food", "orphan_death")
"""Values of the card drawn beside the length of the brood and, without a record, the dry mass of a mL of garden."""
NOT_IN_FIT = tuple(name for name in UNCERTAIN if name not in FITTED)


def usual_amounts(card: SpeciesCard, workers: float) -> tuple[float, ...]:
    """Amounts to try, mL: 1, 2, 5 and tens of these, about the usual garden of so many workers, from 1 mL to 1 m3."""
    usual = max(1.0, workers) * card.growth["garden_per_worker"].value
    series = [x for x in (step * 10.0**power for power in range(8) for step in (1, 2, 5)) if x <= MOST_GARDEN]
    first = min(int(np.searchsorted(series, 0.1 * usual)), len(series) - AMOUNTS)
    return tuple(series[first : first + AMOUNTS])


def checked_amounts(amounts: Sequence[float] | None, usual: tuple[float, ...]) -> tuple[float, ...]:
    """Amounts in rising order, each once. Raises InputError."""
    if amounts is None:
        return usual
    made = sorted({float(a) for a in amounts})
    if not made or len(made) > MOST_AMOUNTS or not all(0 <= a <= MOST_GARDEN for a in made):
        found = ", ".join(f"{a:g} mL" for a in made[:5])
        raise InputError(
            "are no amounts of donor garden",
            field="garden",
            found=found,
            allowed=f"1 to {MOST_AMOUNTS} amounts of 0 to {MOST_GARDEN:.0f} mL",
        )
    return tuple(made)


def check_counts(workers: float, brood: Sequence[float], queen: bool) -> None:
    """Raises InputError for a count that is none, and where nothing came alive."""
    for name, count in zip(("workers", "eggs", "larvae", "pupae"), (workers, *brood), strict=True):
        if not 0 <= count <= MOST_WORKERS or count != int(count):
            raise InputError(
                "is no count", field=name, found=f"{count:g}", allowed=f"a whole number, 0 to {MOST_WORKERS:.0f}"
            )
    if workers == 0 and not queen:
        raise InputError("nothing is left to rescue", field="workers", found="0 without a queen", allowed="1 or more")


def check_run(days: int, temperature: float | None) -> None:
    """Raises InputError for a look ahead or a temperature out of range."""
    if not 1 <= days <= MOST_DAYS:
        raise InputError("is no look ahead", field="days", found=str(days), allowed=f"1 to {MOST_DAYS} days")
    if temperature is not None and not WARMTH[0] <= temperature <= WARMTH[1]:
        allowed = f"{WARMTH[0]:.0f} to {WARMTH[1]:.0f} degC"
        raise InputError("is no garden's temperature", field="temperature", found=f"{temperature:g}", allowed=allowed)


def all_free(card: SpeciesCard) -> tuple[Free, ...]:
    """The values drawn, log-normal within their ranges as a fit's prior is."""
    free = [development(card), *(from_range(n, P.ORDER.index(n), card.growth[n]) for n in UNCERTAIN)]
    return (*free, from_range("noise", P.NOISE, colony_values()["noise"]))


def values_of(free: Sequence[Free], n: int, rng: np.random.Generator) -> dict[str, Array]:
    """n draws of each value, one in each nth of its distribution (Latin hypercube)."""
    from scipy.special import ndtri

    return {f.name: f.value(ndtri((rng.permutation(n) + rng.random(n)) / n)) for f in free}


def arrivals(card: SpeciesCard, workers: float, brood: Sequence[float], queen: bool, seed: int) -> Ends:
    """What each path begins with: DRAWS vectors, each PER_DRAW times; each ant's age within its stage is drawn."""
    rng = np.random.default_rng(seed)
    free = all_free(card)
    vectors = np.repeat(P.card_vector(card)[None], DRAWS, axis=0)
    for f, values in zip(free, values_of(free, DRAWS, rng).values(), strict=True):
        vectors[:, f.target] = values
    # as in a fit: nearly all brood may live, and no worker is a nurse all its life
    vectors[:, P.BROOD_SURVIVAL] = np.minimum(vectors[:, P.BROOD_SURVIVAL], survival_most())
    vectors[:, P.NURSE_DAYS] = np.minimum(vectors[:, P.NURSE_DAYS], 0.8 * vectors[:, P.WORKER_DAYS])
    vectors[:, P.QUEEN] = float(queen)
    vectors = np.repeat(vectors, PER_DRAW, axis=0)
    states = np.zeros((len(vectors), N_STATE))
    for y, p in zip(states, vectors, strict=True):
        young = inside_share(p)
        ages = [young / N_NURSE] * N_NURSE + [(1 - young) / N_FORAGER] * N_FORAGER
        y[NURSES : FORAGERS + N_FORAGER] = rng.multinomial(int(workers), ages)
        for first, count in zip((EGGS, LARVAE, PUPAE), brood, strict=True):
            y[first : first + BROOD] = rng.multinomial(int(count), [1 / BROOD] * BROOD)
    return Ends(vectors, states, np.zeros(len(vectors)), np.full(len(vectors), float(queen)))


def survival_most() -> float:
    """The most brood that a fit lets live."""
    from nestwright.colony.likelihood import SURVIVAL_MOST

    return float(SURVIVAL_MOST)


def climate_at(card: SpeciesCard, temperature: float | None) -> Array:
    """One day's climate for ever, shape (1, 6): inside the limits but for the temperature stated, degC."""
    row = np.zeros((1, 6))
    row[0, 0] = card.growth["reference_temperature"].value if temperature is None else temperature
    if temperature is not None:
        for limit in card.limits:
            if limit.role == "garden" and limit.quantity == "temperature":
                row[0, 1] = max(0.0, temperature + 273.15 - limit.high) if limit.high is not None else 0.0
                row[0, 2] = max(0.0, limit.low - temperature - 273.15) if limit.low is not None else 0.0
    return row
