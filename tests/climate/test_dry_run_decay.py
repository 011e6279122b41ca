"""Air change from tracer decay, against exact solutions of the decay that ASTM E741 reads."""

import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.stats import linregress

from nestwright.climate.dry_run_decay import decay_rate, decay_span

sys.path.insert(0, str(Path(__file__).parent))


@pytest.mark.parametrize("rate", [0.05, 0.35, 2.0, 9.0])
def test_an_exact_decay_gives_its_rate(rate):
    # ASTM E741: C(t) - C_bg = (C(0) - C_bg) exp(-n t); the design asks for n within 1 %
    t = np.linspace(0, 1.5 * 3600 / rate, 31)
    made = decay_rate(t, 450 + 8000 * np.exp(-rate * t / 3600), 450.0)
    assert made.rate * 3600 == pytest.approx(rate, rel=1e-6)
    assert made.single


def test_a_worked_pair_of_readings():
    # two-point form of the same standard, n = ln(C1/C2)/t: 100 to 50 ppm in 20 min is 2.079 per hour (by hand)
    made = decay_rate(np.array([0.0, 400, 800, 1200]), 100 * 0.5 ** np.array([0, 1 / 3, 2 / 3, 1]), 0.0)
    assert made.rate * 3600 == pytest.approx(3 * np.log(2), rel=1e-9)


def test_slope_and_error_are_those_of_the_reference_library():
    # scipy.stats.linregress on ln(excess); independent noise, so that nothing is widened but by chance
    rng = np.random.default_rng(3)
    t = np.arange(60) * 120.0
    c = 450 + 6000 * np.exp(-t / 3600) * np.exp(rng.normal(0, 0.02, 60))
    made = decay_rate(t, c, 450.0, chance=0.8)
    ref = linregress(t, np.log(c - 450))
    assert made.rate == pytest.approx(-ref.slope, rel=1e-12)
    rest = np.log(c - 450) - ref.intercept - ref.slope * t
    r = max(0.0, rest[1:] @ rest[:-1] / (rest @ rest))
    wide = 1.2956 * ref.stderr * np.sqrt((1 + r) / (1 - r))  # Student's t, 90 % point of 58 degrees of freedom
    assert made.high - made.rate == pytest.approx(wide, rel=1e-3)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    rng, inside = np.random.default_rng(8), 0
    t = np.arange(40) * 300.0
    for _ in range(400):
        c = 450 + 9000 * np.exp(-0.8 * t / 3600) * np.exp(rng.normal(0, 0.03, 40))
        made = decay_rate(t, c, 450.0)
        inside += made.low * 3600 <= 0.8 <= made.high * 3600
    assert 0.75 < inside / 400 < 0.88  # 80 %, by a binomial of 400, and a little over by the widening


def test_errors_that_last_widen_the_interval():
    rng = np.random.default_rng(5)
    t = np.arange(60) * 60.0
    slow = np.zeros(60)
    for k in range(1, 60):
        slow[k] = 0.9 * slow[k - 1] + rng.normal(0, 0.02 * np.sqrt(1 - 0.81))
    even = np.random.default_rng(6).normal(0, slow.std(), 60)
    widths = [
        (m.high - m.low) for m in (decay_rate(t, 450 + 9000 * np.exp(-t / 3600 + e), 450.0) for e in (slow, even))
    ]
    assert widths[0] > 1.5 * widths[1]


def test_an_error_of_the_background_widens_it_by_what_it_does():
    t = np.arange(25) * 300.0
    c = 450 + 5000 * np.exp(-1.5 * t / 3600)
    made = decay_rate(t, c, 450.0, background_error=20.0)
    ends = [decay_rate(t, c, 450.0 + d).rate for d in (-1.0, 1.0)]
    slope = abs(ends[1] - ends[0]) / 2
    assert made.high - made.rate == pytest.approx(1.2816 * 20 * slope, rel=0.02)


def test_two_chambers_are_not_one_exponential():
    # exact solution of two zones in series, by the matrix exponential; the first sum of exponentials bends
    n = np.array([[-3.0, 2.5], [0.8, -1.0]]) / 3600
    t = np.arange(60) * 180.0
    c = np.array([expm(n * s) @ [9000.0, 0.0] for s in t])[:, 0]
    made = decay_rate(t, 450 + c, 450.0)
    assert not made.single
    assert made.bend < -0.1  # it slows down
    # late on only the slow eigenvalue is left, and that is read as one
    late = decay_rate(t[45:], 450 + c[45:], 450.0)
    assert late.rate == pytest.approx(-np.linalg.eigvals(n).max(), rel=0.02)


def test_the_span_begins_after_mixing_and_ends_where_little_is_left():
    t = np.arange(0, 6 * 3600, 300.0)
    c = 4.5e-4 + 0.01 * np.exp(-t / 3600)
    chosen = decay_span(t, c, 4.5e-4, 0.0, np.inf)
    assert t[chosen][0] == 600.0
    first = c[chosen][0] - 4.5e-4
    assert (c[chosen] - 4.5e-4 >= 0.1 * first).all()
    assert c[chosen][-1] - 4.5e-4 < 0.12 * first


def test_too_few_readings_tell_nothing():
    assert decay_rate(np.arange(3.0), np.array([3.0, 2.0, 1.0]), 0.0) is None
    assert decay_rate(np.arange(9.0), np.full(9, 400.0), 450.0) is None
