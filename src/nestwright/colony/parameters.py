"""The parameter vector of the growth model: which value stands at which place, and how a card fills it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from nestwright.data import SpeciesCard, colony_values

__all__ = ["CAUSES", "COMMON", "GROWTH", "N_PARAMETERS", "card_vector"]

GROWTH = (
    "egg_days",
    "larva_days",
    "pupa_days",
    "reference_temperature",
    "development_q10",
    "brood_survival",
    "laying_founding",
    "laying_per_worker",
    "laying_max",
    "worker_days",
    "nurse_days",
    "carry",
    "uptake",
    "substrate_days",
    "respired",
    "dry_density",
    "larva_food",
    "worker_food",
    "food_yield",
    "tended_per_worker",
    "queen_tends",
    "queen_brings",
    "untended_loss",
    "hunger_death",
    "orphan_death",
    "heat_harm",
    "cold_harm",
    "dry_harm",
    "wet_harm",
    "co2_harm",
)
"""Values of a species card, in the order of the vector."""
COMMON = (
    "harm_half",
    "worker_harm_share",
    "space_power",
    "sap_share",
    "larvae_per_worker",
    "larvae_queen",
    "nurse_carry",
    "leaf_take",
    "leaf_wilt",
    "food_peak",
    "queen_half",
    "queen_absent",
    "leaf_harm_days",
    "inside_most",
    "inside_growth",
    "dump_death",
    "noise",
    "worker_noise",
    "demographic",
    "error_scale",
    "seen_share",
    "seen_falsely",
    "seen_missed",
)
"""Values common to all species (data/colony.toml)."""
CONTROL = (
    "development",
    "start_garden",
    "start_workers",
    "start_brood",
    "queen",
    "cause",
    "onset",
    "size",
    "use_hot",
    "use_cold",
    "use_dry",
    "use_wet",
    "use_co2",
    "use_room",
    "free_leaves",
    "dump_exposure",
    "harm_scale",
)
"""What a run is told beside the card: scale of the stage lengths, what was there at first, rival cause, switches."""

ORDER = GROWTH + COMMON + CONTROL
N_PARAMETERS = len(ORDER)
(
    EGG_DAYS,
    LARVA_DAYS,
    PUPA_DAYS,
    REFERENCE_TEMPERATURE,
    DEVELOPMENT_Q10,
    BROOD_SURVIVAL,
    LAYING_FOUNDING,
    LAYING_PER_WORKER,
    LAYING_MAX,
    WORKER_DAYS,
    NURSE_DAYS,
    CARRY,
    UPTAKE,
    SUBSTRATE_DAYS,
    RESPIRED,
    DRY_DENSITY,
    LARVA_FOOD,
    WORKER_FOOD,
    FOOD_YIELD,
    TENDED_PER_WORKER,
    QUEEN_TENDS,
    QUEEN_BRINGS,
    UNTENDED_LOSS,
    HUNGER_DEATH,
    ORPHAN_DEATH,
    HEAT_HARM,
    COLD_HARM,
    DRY_HARM,
    WET_HARM,
    CO2_HARM,
    HARM_HALF,
    WORKER_HARM_SHARE,
    SPACE_POWER,
    SAP_SHARE,
    LARVAE_PER_WORKER,
    LARVAE_QUEEN,
    NURSE_CARRY,
    LEAF_TAKE,
    LEAF_WILT,
    FOOD_PEAK,
    QUEEN_HALF,
    QUEEN_ABSENT,
    LEAF_HARM_DAYS,
    INSIDE_MOST,
    INSIDE_GROWTH,
    DUMP_DEATH,
    NOISE,
    WORKER_NOISE,
    DEMOGRAPHIC,
    ERROR_SCALE,
    SEEN_SHARE,
    SEEN_FALSELY,
    SEEN_MISSED,
    DEVELOPMENT,
    START_GARDEN,
    START_WORKERS,
    START_BROOD,
    QUEEN,
    CAUSE,
    ONSET,
    SIZE,
    USE_HOT,
    USE_COLD,
    USE_DRY,
    USE_WET,
    USE_CO2,
    USE_ROOM,
    FREE_LEAVES,
    DUMP_EXPOSURE,
    HARM_SCALE,
) = range(N_PARAMETERS)

CAUSES = ("nothing", "queen", "leaves", "dry", "wet", "cold", "hot", "room", "harmful_leaf")
"""Rival causes by their code in the vector."""


def card_vector(card: SpeciesCard) -> NDArray[np.float64]:
    """The parameter vector of a species' central values, shape (N_PARAMETERS,), for a queen without anything else.

    Units as in the card: days, g dry matter, mL, counts, degC.
    """
    common = colony_values()
    p = np.zeros(N_PARAMETERS)
    for i, name in enumerate(GROWTH):
        p[i] = card.growth[name].value
    for i, name in enumerate(COMMON):
        p[len(GROWTH) + i] = common[name].value
    p[DEVELOPMENT] = p[QUEEN] = p[FREE_LEAVES] = p[HARM_SCALE] = 1.0
    p[USE_HOT : USE_ROOM + 1] = 1.0
    p[ONSET] = math.inf
    return p
