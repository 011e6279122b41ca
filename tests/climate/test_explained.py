"""What a limit's margin hangs on, where the answer is known beforehand."""

import numpy as np
import pytest

from nestwright.climate import explained
from nestwright.climate.rooms import read_room
from nestwright.data import Value
from nestwright.errors import InputError
from nestwright.habitat.assemble import uncertain_values
from nestwright.habitat.file import read_habitat

POT = "examples/workshop/habitats/single-pot.toml"
BREATH, BENCH = "garden.respiration_co2", "assembly.bench_resistance"


@pytest.fixture
def two_unknowns(monkeypatch):
    """All values known but the breath of the garden, and what the bench under the pot keeps of heat."""

    def few(habitat, card):
        every = uncertain_values(habitat, card)
        return {name: every[name] for name in (BREATH, BENCH)}

    monkeypatch.setattr(explained, "uncertain_values", few)


def test_carbon_dioxide_hangs_on_the_breath_of_the_garden_and_not_on_the_bench(two_unknowns):
    found = explained.explain_proof(read_habitat(POT), read_room("23 degC, 45 %"), "pot/bell: CO2", base=32)
    shares = {one.name: one for one in found.shares}
    assert found.leading.name == BREATH
    assert found.undecided is None
    assert shares[BREATH].total == pytest.approx(1.0, abs=0.3)
    assert shares[BENCH].total < 0.02
    assert found.low < found.middle < found.high
    # the margin of CO2 without a garden's breath is the limit less the room's own
    assert found.high < 3.0


def test_a_value_known_exactly_has_no_share(two_unknowns, monkeypatch):
    every = explained.uncertain_values

    def known(habitat, card):
        made = every(habitat, card)
        one = made[BREATH]
        return made | {BREATH: Value(one.value, one.value, one.value, one.unit, one.source, one.mark)}

    monkeypatch.setattr(explained, "uncertain_values", known)
    found = explained.explain_proof(read_habitat(POT), read_room("23 degC, 45 %"), "pot/bell: temperature", base=32)
    assert [one.name for one in found.shares] == [BENCH]
    assert found.shares[0].total == pytest.approx(1.0, abs=0.3)


def test_half_of_the_draws_lie_below_a_value_whatever_its_range():
    value = Value(2.0, 1.0, 10.0, "1", "", "judgement")
    drawn = explained.value_at(value, np.linspace(0, 1, 101))
    assert (drawn[0], drawn[50], drawn[100]) == (1.0, 2.0, 10.0)
    assert (np.diff(drawn) > 0).all()


def test_a_limit_that_is_not_there_is_refused_with_the_nearest():
    with pytest.raises(InputError) as caught:
        explained.explain_proof(read_habitat(POT), read_room("23 degC, 45 %"), "pot/bell: C02")
    assert caught.value.nearest == "pot/bell: CO2"


def test_one_run_far_from_all_others_hides_nothing():
    margins = np.append(np.linspace(0.0, 1.0, 999), -500.0)
    kept = explained._without_ends(margins)
    assert kept.min() > -0.1
    assert np.ptp(kept) > 0.95
    assert np.isnan(explained._without_ends(np.array([1.0, np.nan]))[1])
