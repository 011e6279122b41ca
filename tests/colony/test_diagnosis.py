"""The diagnosis finds planted causes, says so when it cannot tell, and knows what would tell.

Invented records; how often it is right on many of them stands in docs/how-it-computes/diagnosis-study.md.
"""

import importlib.util
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from nestwright.colony import next_look
from nestwright.colony.causes import CLIMATE, SAYS, logger_chances, rivals
from nestwright.colony.diagnosis import diagnose, verdict_of, weights
from nestwright.colony.parameters import CAUSES
from nestwright.colony.problem import pose
from nestwright.colony.results import Cause
from nestwright.data import diagnosis_values

SPEC = importlib.util.spec_from_file_location("lives", Path(__file__).parent / "lives.py")
lives = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(lives)
QUICK = {"particles": 160, "moves": 2}


def weight_of(result):
    return {c.name: c.weight for c in result.causes}


def test_every_cause_of_the_kernel_has_words():
    assert set(SAYS) == set(CAUSES)


@cache
def diagnosed(cause, onset, size):
    """A record with a planted cause, and what is said of it."""
    record, _ = lives.lived(cause, onset, size)
    return record, diagnose(record, look=False, **QUICK)


@pytest.mark.parametrize(
    ("cause", "size", "among", "least"),
    [("queen", 1.0, {"queen"}, 0.8), ("leaves", 0.9, {"leaves"}, 0.5), ("wet", 4.0, set(CLIMATE), 0.8)],
)
def test_a_planted_cause_comes_first_and_since_when(cause, size, among, least):
    result = diagnosed(cause, 45.0, size)[1]
    weight = weight_of(result)
    assert result.causes[0].name in among
    assert sum(weight[n] for n in among) > least, weight
    assert sum(weight.values()) == pytest.approx(1.0)
    found = next(c for c in result.causes if c.name == cause)
    assert found.since[0] - 7 <= 45 <= found.since[2] + 7


def test_a_sound_colony_is_not_accused():
    record, _ = lives.lived(seed=4)
    result = diagnose(record, look=False, **QUICK)
    assert result.causes[0].name == "nothing"


def test_a_full_bell_is_told_from_the_stated_volume():
    record, path = lives.lived(days=110, room=150.0)
    assert path[-1, 0] > 0.8 * 150
    result = diagnose(record, look=False, **QUICK)
    assert result.causes[0].name == "room"
    without = replace(record, housing=(), events=())
    assert "room" not in [r.name for r in rivals(pose(without))]


def test_a_logger_tells_what_harms_alike():
    """Dry, wet and hot do the same to a garden; with a logger that shows one of them, it comes first."""
    record, _ = lives.lived("dry", 45.0, 0.15)
    logged = replace(record, climate=lives.good_climate(record.days, dry=(45, 0.15)))
    result = diagnose(logged, look=False, **QUICK)
    assert result.causes[0].name == "dry"
    assert result.causes[0].weight > 0.8
    assert result.causes[0].since[1] == 45.0


def test_nothing_seen_cannot_be_told():
    result = diagnose(lives.plain(60), **QUICK)
    assert result.verdict == "cannot tell yet"
    weight = weight_of(result)
    assert weight["nothing"] == pytest.approx(diagnosis_values()["nothing"].value, abs=1e-6)


def test_the_next_look_is_worth_something_and_lies_ahead():
    record, _ = lives.lived("dry", 60.0, 0.15, days=90)
    result = diagnose(record, **QUICK)
    assert {c.name for c in result.causes[:2]} <= set(CLIMATE)
    assert result.next_look in next_look._WORDS.values()
    assert result.look_day >= record.days
    assert 0.0 < result.tells <= 1.0


def test_weights_as_the_record_grew_end_at_the_last():
    record, once = diagnosed("queen", 45.0, 1.0)
    result = diagnose(record, history=3, look=False, **QUICK)
    assert len(result.evidence_days) == 4
    assert np.allclose(sum(result.evidence.values()), 1.0)
    assert result.evidence["queen"][0] < 0.5 < result.evidence["queen"][-1]
    assert result.evidence["queen"][-1] == pytest.approx(weight_of(once)["queen"], abs=0.1)


def test_chances_of_a_logger():
    record = lives.plain(40, climate=lives.good_climate(40, dry=(10, 0.2)))
    problem = pose(record)
    known = diagnosis_values()
    right, wrong = known["logger_shows"].value, known["logger_cries"].value
    chances = logger_chances(problem, ["nothing", "dry", "hot"], np.array([5.0, 40.0]))
    assert chances[0, 0] == pytest.approx((1 - wrong) ** 3)
    assert chances[1, 0] == pytest.approx((1 - right) * (1 - wrong) ** 2)
    assert chances[1, 1] == pytest.approx(right * (1 - wrong) ** 2)
    assert chances[2, 1] == pytest.approx(wrong * (1 - right) * (1 - wrong))
    bare = logger_chances(pose(lives.plain(40)), ["nothing", "dry"], np.array([40.0]))
    assert np.array_equal(bare, np.ones((2, 1)))


def test_weights_from_evidence_by_hand():
    nothing = diagnosis_values()["nothing"].value
    made = weights(["nothing", "queen", "dry"], np.log([[1.0], [4.0], [1.0]]), np.ones((3, 1)))[:, 0]
    share = (1 - nothing) / 2
    whole = nothing + 4 * share + share
    assert made == pytest.approx([nothing / whole, 4 * share / whole, share / whole])


def test_verdicts():
    def made(**weight):
        rest = dict.fromkeys(CAUSES, 0.0) | weight
        ranked = sorted(rest, key=lambda n: -rest[n])
        return tuple(Cause(n, SAYS[n], rest[n], 0.0, None, None, "") for n in ranked)

    assert verdict_of(made(nothing=0.9, queen=0.1)) == "nothing wrong"
    assert verdict_of(made(dry=0.4, hot=0.45, nothing=0.15)).startswith("the garden's climate")
    assert verdict_of(made(dry=0.4, queen=0.5, nothing=0.1)).startswith("something is wrong")
    assert verdict_of(made(nothing=0.5, queen=0.5)) == "cannot tell yet"


def test_bits_of_a_look():
    """A look that always tells is worth one bit, one that tells nothing none; normal case against numbers by hand:
    two normals ten standard deviations apart."""
    assert next_look._bits_chance(1.0, 0.0, 0.5) == pytest.approx(1.0, abs=1e-6)
    assert next_look._bits_chance(0.3, 0.3, 0.5) == pytest.approx(0.0, abs=1e-9)
    rng = np.random.default_rng(1)
    a, b = rng.standard_normal(4000), rng.standard_normal(4000)
    assert next_look._bits_normal(a, b + 10, 0.5) == pytest.approx(1.0, abs=1e-3)
    assert next_look._bits_normal(a, b, 0.5) < 0.01


def test_a_queen_known_to_be_lost_is_no_cause():
    names = [r.name for r in rivals(pose(lives.plain(30, queen=0.0)))]
    assert "queen" not in names
    assert names[0] == "nothing"


def test_recorded_leaves_are_the_cause_without_an_onset():
    leaves = next(r for r in rivals(pose(lives.plain(30, leaves="recorded"))) if r.name == "leaves")
    assert leaves.shown_from is not None
    assert "onset" not in [f.name for f in leaves.problem.free]
