"""Every value that a fit, a plan or a rescue names has plain words, and the guide lists those of the forecast."""

from pathlib import Path

import pytest

from nestwright.colony.problem import FITTED, FITTED_COMMON
from nestwright.data import plan_values
from nestwright.wording.values import in_words, on_screen

ROOT = Path(__file__).parents[2]
AT_START = ("development", "start_garden", "start_workers", "start_brood", "queen", "harm_scale")
OTHER = ("fill_low", "fill_high", "onset", "size")
DRAWN = ("leaf_dry_share", "leaf_dry_area", "waste_dry_share")


@pytest.mark.parametrize("name", [*FITTED, *FITTED_COMMON, *AT_START, *DRAWN, *plan_values(), *OTHER])
def test_a_name_is_told_in_plain_words(name):
    assert in_words(name) != name.replace("_", " ")


@pytest.mark.parametrize("name", [*FITTED, *FITTED_COMMON, *AT_START, *DRAWN])
def test_the_guide_lists_it(name):
    assert f"| {in_words(name)} |" in (ROOT / "docs/guide/forecast.md").read_text()


def test_an_unknown_name_is_left_readable():
    assert in_words("one_more") == "one more"
    assert on_screen("one_more", "1") == ("", 1.0)
    assert on_screen("one_more", "K") == ("K", 1.0)


def test_figures_go_with_their_unit():
    # 0.003 g a day is 3 mg a day; 1.0 of 39 days from egg to worker is 39 days
    assert on_screen("carry", "g/d") == ("mg a day", 1000.0)
    assert on_screen("development", "of 39 d") == ("days", 39.0)
