"""`nestwright diagnose`: what is printed of a diagnosis, above all what to do next."""

import re
from datetime import date

import numpy as np
import pytest

from nestwright.cli.diagnose import print_diagnosis
from nestwright.cli.main import run
from nestwright.colony.results import Cause, Diagnosis
from nestwright.wording.diagnosis import next_steps


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
    # weights of 0.6 and 0.4 leave a doubt of 0.97 bit (Shannon's entropy), of which 0.42 are 43 %
    assert says == (
        "To tell 'nothing wrong' and 'queen lost or not laying' apart: look for eggs on 2031-04-14 "
        "(likely to take away about 40 % of the doubt)"
    )


def test_a_look_that_was_best_on_a_past_day_is_for_today():
    assert "look for eggs on 2031-05-02 (" in " ".join(next_steps(diagnosis(), date(2031, 5, 2)))
    assert "look for eggs on 2031-04-14 (" in " ".join(next_steps(diagnosis(), date(2031, 4, 2)))


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


COLONY = """
format = 1
name = "Sill"
species = "Acromyrmex echinatior"
start = 2031-03-01
[arrival]
garden = "30 mL"
workers = "about 60"
"""


def called(capsys, path, *words):
    with pytest.raises(SystemExit) as end:
        run(["diagnose", str(path), *words])
    out, err = capsys.readouterr()
    assert end.value.code == 0, err
    return out


def test_with_no_observation_there_is_nothing_to_weigh(capsys, tmp_path):
    """Weighed the chances beforehand for ten seconds and said "weights are known to about 0 % of themselves"."""
    path = tmp_path / "sill.toml"
    path.write_text(COLONY)
    says = " ".join(called(capsys, path).split())
    assert "No observation in the record: there is nothing to weigh" in says
    assert "Record first: the garden in mL or as fill" in says
    assert "weight" not in says.replace("to weigh", "")


def test_a_garden_gone_by_the_record_is_said_before_any_cause(capsys):
    """Said "nothing wrong 63 %, measure the garden's volume" of a garden that the record tells as lost."""
    line = "By the record the garden is gone since 2031-03-20: see `nestwright rescue FILE`"
    print_diagnosis(diagnosis(notes=(line, "another")), (line,), gone=True)
    out = capsys.readouterr().out
    says = " ".join(out.split())
    assert says.startswith(f"Attic [two], Acromyrmex octospinosus {line}; what follows are further causes Record of")
    assert "Beside that: cannot tell yet" in says
    assert "nothing further wrong" in says
    assert "What to do next `nestwright rescue FILE` says how much donor garden" in says
    assert says.count("By the record") == 1
    assert "Note: another" in says


def test_a_look_that_does_not_tell_is_not_weighed_in_bits(capsys):
    print_diagnosis(diagnosis(tells=0.04))
    assert "bit" not in re.sub(r"habitat|a bit", "", capsys.readouterr().out)
