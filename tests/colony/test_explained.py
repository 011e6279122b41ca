"""What a forecast hangs on, where the answer is known beforehand."""

import numpy as np
import pytest

from nestwright.colony.explained import _parts, explain_forecast
from nestwright.colony.file import read_colony
from nestwright.colony.fit import Posterior
from nestwright.colony.problem import pose
from nestwright.colony.sampler import Sample
from nestwright.errors import InputError


@pytest.fixture(scope="session")
def posterior():
    """A posterior in which all is known but the leaf that a forager brings."""
    problem = pose(read_colony("examples/workshop/colonies/marigold.toml"))
    draws = np.zeros((400, len(problem.free)))
    column = [f.name for f in problem.free].index("carry")
    draws[:, column] = np.random.default_rng(2).permutation(np.linspace(-2, 2, 400))
    # nearly no chance ups and downs
    draws[:, [f.name for f in problem.free].index("noise")] = -3.0
    return Posterior(problem, Sample(draws, np.zeros(400), 0.0, 0.0))


def test_the_only_value_that_is_open_leads(posterior):
    found = explain_forecast(posterior, 30)
    shares = {one.name: one for one in found.shares}
    free = {f.name for f in posterior.problem.free}
    assert shares["carry"].first > 0.5
    assert shares["carry"].sure
    assert {one.first for name, one in shares.items() if name in free - {"carry"}} == {0.0}
    assert 0.0 < found.chance < 0.4
    assert found.low < found.middle < found.high
    assert all(one.total is None for one in found.shares)


def test_chance_is_parted_from_what_is_not_known():
    # variances by construction: 4 between draws, 1 of chance
    draw = np.random.default_rng(1)
    told = 2.0 * draw.standard_normal(4000) + draw.standard_normal((8, 4000))
    assert _parts(told) == pytest.approx((1.0, 4.0), rel=0.1)


def test_what_cannot_be_explained_is_refused(posterior):
    with pytest.raises(InputError):
        explain_forecast(posterior, 30, "waste")
