"""Shares of variance against a function whose shares are known in closed form."""

import csv
from pathlib import Path

import numpy as np
import pytest

from nestwright.sensitivity import designed_rows, designed_shares, given_shares

REFERENCE = Path(__file__).parents[1] / "reference" / "ishigami.csv"
A, B = 7.0, 0.1


def ishigami(u):
    """Ishigami & Homma 1990, at x = pi (2 u - 1)."""
    x = np.pi * (2 * u - 1)
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def published():
    with REFERENCE.open() as file:
        return {(r["input"], r["index"]): float(r["value"]) for r in csv.DictReader(file)}


def test_the_published_shares_of_the_ishigami_function_lie_within_the_intervals():
    names = ["x1", "x2", "x3"]
    found, lost = designed_shares(names, ishigami(designed_rows(names, 1024)))
    assert lost == 0
    for i, name in enumerate(names):
        for index, value, error in (
            ("first", found.first[i], found.first_error[i]), ("total", found.total[i], found.total_error[i]),
        ):  # fmt: skip
            assert abs(value - published()[name, index]) < 1.5 * error + 0.005, (name, index)
            assert error < 0.15


def test_shares_from_draws_that_are_there_agree_with_the_published_ones():
    u = np.random.default_rng(3).random((4000, 3))
    found = given_shares(u, ishigami(u))
    for i, name in enumerate(("x1", "x2", "x3")):
        assert abs(found.first[i] - published()[name, "first"]) < 0.05, name
    assert np.isnan(found.total).all()


def test_a_group_has_the_share_of_its_members_together():
    # a sum of independent inputs: shares are those of their variances, exactly
    groups = ["a", "rest", "rest", "rest"]
    rows = designed_rows(groups, 512)
    found, _ = designed_shares(groups, rows @ np.array([2.0, 1.0, 1.0, 1.0]))
    assert found.first == pytest.approx([4 / 7, 3 / 7], abs=0.03)
    assert found.total == pytest.approx([4 / 7, 3 / 7], abs=0.03)


def test_a_point_without_a_value_costs_that_point_only():
    groups = ["a", "b"]
    rows = designed_rows(groups, 256)
    values = rows @ np.array([3.0, 1.0])
    values[5] = np.nan
    found, lost = designed_shares(groups, values)
    assert lost == 1
    assert found.first == pytest.approx([0.9, 0.1], abs=0.05)


def test_draws_of_an_unknown_that_does_nothing_have_no_share():
    draw = np.random.default_rng(1).standard_normal((400, 3))
    draw[:, 2] = 1.0
    found = given_shares(draw, draw[:, 0])
    assert found.first[0] > 0.85
    assert found.first[1] < 0.02
    assert found.first[2] == 0.0


def test_neither_the_common_generator_nor_the_form_of_warnings_is_touched():
    import warnings

    np.random.seed(4)
    expected, form = np.random.random(), warnings.formatwarning
    np.random.seed(4)
    draw = np.random.default_rng(1).standard_normal((60, 2))
    given_shares(draw, draw[:, 0])
    assert np.random.random() == expected
    assert warnings.formatwarning is form


def test_what_is_the_same_everywhere_hangs_on_nothing():
    groups = ["a", "b"]
    found, _ = designed_shares(groups, np.full(4 * 16, 2.5))
    assert not found.first.any()
    assert not found.total.any()
