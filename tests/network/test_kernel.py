"""The kernel against differences, against its second writing in NumPy, and against conservation."""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import lu_factor, lu_solve

from nestwright.network.kernel import bernoulli, saturation
from nestwright.network.sparse import factorise, solve
from nestwright.physics import air

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[2] / "benchmarks")]

from nets import disturbed, rate, soaked, two_pots  # noqa: E402

from numpy_rates import numpy_rates  # noqa: E402


@pytest.fixture(scope="module")
def pots():
    return two_pots()


@pytest.mark.parametrize(("state", "seed"), [*((disturbed, n) for n in range(6)), (soaked, 6)])
def test_jacobian_is_the_slope_of_the_rates(pots, state, seed):
    y = state(pots, seed)
    _, jacobian = rate(pots, y, True)
    n = pots.net.size
    slope = np.zeros((n, n))
    for i in range(n):
        h = max(abs(y[i]) * 1e-6, 1e-9)
        up, down = y.copy(), y.copy()
        up[i] += h
        down[i] -= h
        slope[:, i] = (rate(pots, up)[0] - rate(pots, down)[0]) / (2 * h)
    scale = np.abs(slope).max(axis=1, keepdims=True) + 1e-30
    assert np.abs((jacobian - slope) / scale).max() < 1e-4


@pytest.mark.parametrize(("state", "seed"), [*((disturbed, n) for n in range(4)), (soaked, 4)])
def test_rates_equal_their_second_writing(pots, state, seed):
    y = state(pots, seed)
    f, _ = rate(pots, y)
    g = numpy_rates(pots.net)(0.0, y, np.zeros(2), np.ones(1))
    np.testing.assert_allclose(f, g, rtol=1e-10, atol=1e-13 * np.abs(f).max())


@pytest.mark.parametrize(("state", "seed"), [*((disturbed, n) for n in range(4)), (soaked, 4)])
def test_nothing_is_lost_in_any_state(pots, state, seed):
    net = pots.net
    f, _ = rate(pots, state(pots, seed))
    heat = sum(net.capacity[j] * f[net.heat[j]] for j in range(net.room))
    water = sum(f[net.water[j]] for j in range(net.room) if net.water[j] >= 0)
    assert heat == pytest.approx(f[4] - f[0] - f[10], abs=1e-9)
    assert water == pytest.approx(f[5] - f[1] - f[9], abs=1e-15)
    assert sum(f[net.co2[z]] for z in range(net.zones)) == pytest.approx(f[6] - f[2], abs=1e-16)
    assert sum(f[net.o2[z]] for z in range(net.zones)) == pytest.approx(f[7] - f[3], abs=1e-16)


def test_sparse_solution_equals_lapack(pots):
    net = pots.net
    y = disturbed(pots, 3)
    f, jacobian = rate(pots, y, True)
    matrix = np.eye(net.size) / 900.0 - jacobian
    a = np.zeros(len(net.pattern.column))
    state = np.argsort(net.pattern.position)
    for r in range(net.size):
        for s in range(net.pattern.row_start[r], net.pattern.row_start[r + 1]):
            a[s] = matrix[state[r], state[net.pattern.column[s]]]
    inverse = np.zeros(net.size)
    assert factorise(net.pattern, a, inverse)
    x = f.copy()
    solve(net.pattern, a, inverse, x, np.zeros(net.size))
    np.testing.assert_allclose(x, lu_solve(lu_factor(matrix), f), rtol=1e-6, atol=1e-9 * np.abs(x).max())


def test_saturation_table_is_the_formula(pots):
    net = pots.net
    start, end = net.table_start, net.table_start + net.table_step * (len(net.table) - 1)
    inside = [start + 0.1, end - 0.1, *np.random.default_rng(0).uniform(start, end, 200)]
    for t in inside:
        value, slope = saturation(net.table_start, net.table_step, net.table, t)
        exact = float(air.saturation_pressure(t))
        assert value == pytest.approx(exact, rel=1e-8)
        difference = (air.saturation_pressure(t + 1e-3) - air.saturation_pressure(t - 1e-3)) / 2e-3
        assert slope == pytest.approx(float(difference), rel=1e-5)
    # beyond its ends it goes on straight
    for last, t in ((start, start - 5.0), (end, end + 5.0)):
        value, slope = saturation(net.table_start, net.table_step, net.table, last)
        assert saturation(net.table_start, net.table_step, net.table, t)[0] == pytest.approx(value + slope * (t - last))
        assert saturation(net.table_start, net.table_step, net.table, t)[1] == pytest.approx(slope, rel=1e-12)


@pytest.mark.parametrize("u", [-600.0, -3.0, -0.0101, -0.0099, 0.0, 0.0099, 0.0101, 2.0, 40.0, 600.0])
def test_bernoulli_is_smooth_where_its_forms_meet(u):
    value, slope = bernoulli(u)
    exact = 1.0 if u == 0 else (u / np.expm1(u) if u < 500 else 0.0)
    assert value == pytest.approx(exact, rel=1e-9, abs=1e-200)
    h = 1e-5
    assert slope == pytest.approx((bernoulli(u + h)[0] - bernoulli(u - h)[0]) / (2 * h), rel=1e-5, abs=1e-7)
