"""Comparison of revisions: growth, differences, losses, against published examples and brute force."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2, norm

from nestwright.trial.difference import colonies_needed, differ
from nestwright.trial.growth import garden_growth
from nestwright.trial.report import TrialColony, report
from nestwright.trial.survival import Kept, log_rank, survival

REFERENCE = list(csv.DictReader((Path(__file__).parents[1] / "reference/trial.csv").open()))
TREATED = (
    "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+",
    "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23",
)
GROUPS = {
    name: [Kept(float(one.rstrip("+")), not one.endswith("+")) for one in group.split()]
    for name, group in zip(("treated", "placebo"), TREATED, strict=True)
}
SCHOOLS = list(zip([28, 8, -3, 7, -1, 1, 18, 12], [15, 10, 16, 11, 9, 11, 10, 18], strict=True))


@pytest.mark.parametrize(
    "row", [r for r in REFERENCE if r["check"] == "kept"], ids=lambda r: f"{r['group']}-{r['day']}"
)
def test_share_kept_as_published(row):
    found = survival(GROUPS[row["group"]])
    share = dict(zip(found.day, found.share, strict=True))[float(row["day"])]
    assert share == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def expected(check):
    row = next(r for r in REFERENCE if r["check"] == check)
    return pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


def test_losses_compared_as_published():
    assert chi2.isf(log_rank(GROUPS["treated"], GROUPS["placebo"]), 1) == expected("log_rank")


def test_a_group_without_spread_is_pooled_as_published():
    found = differ(SCHOOLS, SCHOOLS, 1e-4)
    assert found.first[0] == expected("pooled")
    assert found.first[1] == expected("pooled_error")


def test_median_is_told_only_where_half_are_lost():
    assert survival([Kept(10, True), Kept(20, False), Kept(30, False)]).median is None
    assert survival([Kept(10, True), Kept(20, True), Kept(30, False)]).median == 20


def test_nothing_to_compare():
    assert survival([]) is None
    assert log_rank([Kept(3, False)], [Kept(4, False)]) is None
    assert differ([], [(1.0, 0.1)], 1.0) is None


def test_difference_equals_brute_force():
    """Posterior of the difference on a grid of both means and the spread, from the model's own densities."""
    first, second, scale = [(0.02, 0.004), (0.03, 0.006)], [(0.045, 0.005), (0.05, 0.004), (0.06, 0.01)], 0.01
    m = np.linspace(-0.06, 0.14, 201)
    t = np.linspace(0, 0.05, 201)
    parts = []
    for group in (first, second):
        log = np.zeros((len(t), len(m)))
        for value, error in group:
            log += norm.logpdf(value, m[None, :], np.hypot(t, error)[:, None])
        parts.append(np.exp(log))
    joint = np.einsum("t,ta,tb->ab", norm.pdf(t, 0, scale), *parts)
    joint /= joint.sum()
    difference = m[None, :] - m[:, None]
    found = differ(first, second, scale)
    assert found.chance == pytest.approx(joint[difference > 0].sum() + 0.5 * joint[difference == 0].sum(), abs=2e-3)
    order = np.argsort(difference, axis=None)
    total = np.cumsum(joint.ravel()[order])
    for told, q in ((found.low, 0.1), (found.middle, 0.5), (found.high, 0.9)):
        assert told == pytest.approx(difference.ravel()[order][np.searchsorted(total, q)], abs=2e-3)


def test_intervals_hold_what_they_say():
    """400 invented trials whose truth is drawn from the prior: the 80 % interval holds it in 74 to 86 %."""
    rng, held = np.random.default_rng(3), 0
    for _ in range(400):
        spread, truth = abs(rng.normal(0, 0.01)), rng.normal(0, 0.02)
        groups = []
        for mean, n in ((0.0, 3), (truth, 4)):
            error = rng.uniform(0.002, 0.01, n)
            groups.append(list(zip(mean + rng.normal(0, np.hypot(spread, error)), error, strict=True)))
        found = differ(*groups, 0.01)
        held += found.low <= truth <= found.high
    assert 0.74 <= held / 400 <= 0.86


def test_two_colonies_never_tell():
    """One colony of each revision, however different and well measured, is no evidence between revisions."""
    assert differ([(0.0, 1e-6)], [(1.0, 1e-6)], 0.01).says(0.9) == "cannot be told"


def test_more_colonies_are_needed_for_less():
    assert colonies_needed(0.005, 0.01, 0.002, 0.9) > colonies_needed(0.01, 0.01, 0.002, 0.9) >= 2


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(0.5, 500), min_size=2, max_size=8),
    st.floats(0.01, 0.5),
    st.floats(0.0, 0.05),
    st.floats(0.1, 10),
)
def test_growth_does_not_know_the_unit_of_volume(volume, error, wander, unit):
    day = list(range(0, 7 * len(volume), 7))
    one = garden_growth(day, volume, [error] * len(day), wander)
    other = garden_growth(day, [unit * v for v in volume], [error] * len(day), wander)
    assert one.per_day == pytest.approx(other.per_day, abs=1e-9)
    assert one.error == pytest.approx(other.error)


def test_growth_of_two_readings_is_their_ratio():
    """Closed form: ln(v1 / v0) / t, error sqrt(2 e^2 + w^2 t) / t."""
    found = garden_growth([0, 16], [10.0, 30.0], [0.1, 0.1], 0.02)
    assert found.per_day == pytest.approx(np.log(3) / 16)
    assert found.error == pytest.approx(np.sqrt(2 * 0.01 + 0.0004 * 16) / 16)


def test_garden_that_was_added_is_no_growth():
    grown = garden_growth([0, 10, 20], [10.0, 10.0, 20.0], [0.05] * 3, 0.0, changes=[(10.0, 10.0)])
    assert grown.per_day == pytest.approx(0.0, abs=1e-12)


def colony(name, revision, per_day, days, lost):
    grown = garden_growth([0, 30], [10.0, 10.0 * np.exp(30 * per_day)], [0.1, 0.1], 0.01)
    return TrialColony(name, f"B{name}", revision, "2025-01-01", "2025-06-01", Kept(days, lost), grown, {})


def test_report_tells_a_clear_difference_and_leaves_a_thin_one_open():
    clear = [colony(str(k), "1", 0.01 + 0.001 * k, 100 + k, False) for k in range(5)]
    clear += [colony(f"x{k}", "2", 0.05 + 0.001 * k, 100 + k, False) for k in range(5)]
    found = report("habitats/x.toml", {"1": 5, "2": 5}, clear).compared[0]
    assert found.says == "better"
    thin = report("habitats/x.toml", {"1": 5, "2": 5}, clear[:1] + clear[5:6]).compared[0]
    assert thin.says == "cannot be told"
    assert thin.needed >= 2
    assert not thin.losses_told


def test_report_without_colonies():
    found = report("habitats/x.toml", {"1": 1, "2": 0}, [])
    assert found.compared[0].growth is None
    assert found.compared[0].says == "cannot be told"
    assert found.to_dict()["revisions"][0]["survival"] is None
