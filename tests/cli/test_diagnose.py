"""`nestwright diagnose`: what is printed of a diagnosis, above all what to do next."""

import re
from datetime import date

import numpy as np
import pytest

from nestwright.cli.diagnose import next_steps, print_diagnosis
from nestwright.colony.results import Cause, Diagnosis


def cause(name, says, weight):
    return Cause(name, says, weight, -10.0, None, None, "")


NOTHING, QUEEN = cause("nothing", "nothing wrong", 0.6), cause("queen", "queen lost or not laying", 0.4)


def diagnosis(**changed):
    values = {
        "colony": "Attic [two]",
        "species": "Acromyrmex octospinosus",
        "start": date(2031, 3, 1),
        "days": 40,
        "causes": (NOTHING, QUEEN),
        "verdict": "cannot tell yet",
        "next_look": "look for eggs",
        "look_day": 44.0,
        "tells": 0.42,
        "evidence_days": np.array([40.0]),
        "evidence": {"nothing": np.array([0.6]), "queen": np.array([0.4])},
        "judgements": ("laying_max", "noise"),
    }
    return Diagnosis(**(values | changed))


def text(made):
    return " ".join(next_steps(made))


def test_the_look_that_tells_most_is_named():
    says = text(diagnosis())
    assert (
        says
        == "To tell 'nothing wrong' and 'queen lost or not laying' apart: look for eggs on 2031-04-14 (0.4 bit of 1)"
    )


@pytest.mark.parametrize("tells", [0.0, 0.04, 0.09])
def test_where_no_look_tells_it_is_said_with_what_to_do(tells):
    says = text(diagnosis(tells=tells))
    assert "No single look in the next two weeks tells 'nothing wrong' and 'queen lost or not laying' apart" in says
    assert "The one that tells most: look for eggs on 2031-04-14" in says
    assert "Go on recording once a week: the garden in mL or as fill" in says


def test_with_hardly_a_doubt_there_is_a_next_step_too():
    nothing_left = {"next_look": "", "look_day": None, "tells": None}
    says = text(diagnosis(**nothing_left))
    assert "nothing is wrong" in says
    assert "Go on recording once a week" in says
    says = text(diagnosis(causes=(QUEEN, NOTHING), verdict="queen lost or not laying", **nothing_left))
    assert "nothing is wrong" not in says
    assert "Look for yourself before you act" in says


def test_the_whole_is_printed_in_plain_words(capsys):
    print_diagnosis(diagnosis(days=1))
    says = re.sub(r"\s+", " ", capsys.readouterr().out)
    for part in (
        "Attic [two], Acromyrmex octospinosus Record of 1 day from 2031-03-01",
        "Cannot tell yet",
        "What to do next To tell",
        "eggs of a queen at most, chance ups and downs of the garden",
        "Escape and plant pests",
    ):
        assert part in says
