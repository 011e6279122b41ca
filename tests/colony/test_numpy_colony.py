"""The kernel's rates against their second writing in plain NumPy."""

import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony import parameters as P  # noqa: N812
from nestwright.colony.kernel import N_AGE, N_STATE, WANTED, rates, set_day, weigh_food
from nestwright.data import load_species, species_names

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from numpy_colony import day_of, numpy_rates


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("species", species_names())
def test_rates_agree_with_those_in_numpy(species, seed):
    rng = np.random.default_rng(seed)
    p = P.card_vector(load_species(species))
    p[P.DUMP_EXPOSURE] = rng.random()
    p[P.DEVELOPMENT] = rng.uniform(0.8, 1.2)
    climate = np.array([rng.uniform(18, 32), *rng.random(5) * [3, 3, 0.3, 2, 0.1]])
    room, queen = float(rng.choice([0.0, 80.0, 2000.0])), float(rng.random())
    y = rng.gamma(0.7, 10.0, N_STATE)
    y[31:38] = rng.gamma(0.7, 1.0, 7)
    day, w, own = np.empty(10), np.empty(N_AGE), np.empty(N_STATE)
    set_day(0.0, p, climate[None], room, queen, day)
    weigh_food(p, w)
    rates(y, p, w, day, own)
    other = numpy_rates(p, day_of(p, climate, room, queen))(0.0, y)
    assert np.allclose(own, other, rtol=1e-9, atol=1e-12)


def test_what_keeps_leaves_away_takes_its_share_of_what_is_wanted():
    p = P.card_vector(load_species(species_names()[0]))
    w, y = np.empty(N_AGE), np.full(N_STATE, 20.0)
    weigh_food(p, w)
    wanted = []
    for share in (1.0, 0.25):
        day, dy = np.array([1.0, 0.0, 1.0, share, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0]), np.empty(N_STATE)
        rates(y, p, w, day, dy)
        wanted.append(dy[WANTED])
    assert wanted[1] == pytest.approx(0.25 * wanted[0])
    assert wanted[0] > 0
