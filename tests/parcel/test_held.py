"""Losses predicted against found: the sum of unlike coins, against SciPy's binomial and by hand."""

import numpy as np
import pytest
from scipy.stats import binom

from nestwright.parcel.held import Predicted, held_against


def rows(chances, lost):
    return [Predicted(f"P{k}", p, k < lost) for k, p in enumerate(chances)]


@pytest.mark.parametrize(("n", "p"), [(12, 0.3), (40, 0.05)])
def test_alike_chances_are_the_binomial(n, p):
    told = held_against(rows([p] * n, 2))
    assert (told.low, told.high) == tuple(binom.ppf([0.1, 0.9], n, p))
    assert told.expected == pytest.approx(n * p)


def test_sure_ones_are_certain():
    told = held_against(rows([1.0] * 4 + [0.0] * 8, 4))
    assert (told.low, told.high, told.found, told.verdict) == (4, 4, 4, "kept")


def test_the_verdict_follows_the_truth_of_invented_records():
    """Records whose chances are right miss the range about as often as it says; those half as high miss it mostly."""
    rng = np.random.default_rng(2)
    right, half = [], []
    for _ in range(300):
        truth = rng.uniform(0.2, 0.9, 30)
        lost = rng.random(30) < truth
        for factor, said in ((1.0, right), (0.5, half)):
            told = held_against([Predicted("", float(p), bool(x)) for p, x in zip(factor * truth, lost, strict=True)])
            said.append(told.verdict)
    assert right.count("kept") / 300 > 0.78
    assert half.count("too low") / 300 > 0.9
    assert held_against(rows([0.5] * 9, 9)).verdict == "too few"
