"""Nothing left, and what chance cannot explain: neither is smoothed away."""

from datetime import date

import numpy as np
import pytest

from nestwright.colony.file import colony_from_dict
from nestwright.colony.fit import fit, report
from nestwright.colony.gone import taken_as_gone
from nestwright.colony.model import Event, Observation

START = date(2025, 1, 1)
VISITS = [
    {"date": "2025-01-10", "garden": "70 mL", "workers": 80},
    {"date": "2025-02-10", "garden": "100 mL", "workers": 100},
]


def colony(*visits, **more):
    top = {"format": 1, "name": "Invented", "species": "Acromyrmex octospinosus", "start": "2025-01-01"}
    arrival = {"garden": "60 mL", "workers": "about 60"}
    return colony_from_dict({**top, "arrival": arrival, "visit": [*VISITS, *visits], **more})


def test_a_dead_colony_is_not_carried_on():
    """Regression: nought workers and no garden were taken for looks with an error, and the colony lived on."""
    made, ends = report(fit(colony({"date": "2025-02-21", "garden": "0 mL", "workers": 0}), particles=100, moves=2))
    assert made.history["garden"].high[-1] > 0  # a look comes before what is done on its day
    assert np.all(ends.states[:, 31:] >= 0)
    _, last = report(
        fit(colony({"date": "2025-02-21", "garden": "0 mL", "workers": 0}, end="2025-02-22"), particles=100, moves=2)
    )
    from nestwright.colony.kernel import GARDEN, LEAVES, NURSES

    assert np.all(last.states[:, GARDEN:LEAVES].sum(axis=1) == 0)
    assert np.median(last.states[:, NURSES:GARDEN].sum(axis=1)) < 15  # only what hatched since


def test_a_nought_that_was_wrong_stays_a_look():
    later = [Observation(10, "garden", 0.0), Observation(17, "garden", 80.0)]
    kept, gone, notes = taken_as_gone(later, [], START)
    assert kept == later
    assert not gone
    assert not notes


def test_garden_that_was_added_again_makes_the_nought_true():
    seen = [Observation(10, "garden", 0.0), Observation(17, "garden", 20.0)]
    kept, gone, notes = taken_as_gone(seen, [Event(12, "garden_added", 25.0)], START)
    assert [o.value for o in kept] == [20.0]
    assert [(e.day, e.kind, e.value) for e in gone] == [(10, "garden_share_lost", 1.0)]
    assert notes == ["2025-01-11: no garden left by the record; taken as gone from that day"]


@pytest.mark.parametrize("crash", [True, False])
def test_a_crash_is_told_and_not_taken_for_chance(crash):
    """Regression: a garden that fell from 127 to 30 mL in three days was 'ups and downs' of 46 % a day."""
    grown = [62 * 1.08**i for i in range(1, 11)]
    visits = [
        {"date": str(date.fromordinal(START.toordinal() + 4 + 5 * i)), "garden": f"{g:.0f} mL"}
        for i, g in enumerate(grown)
    ]
    last = "25 mL" if crash else "130 mL"
    record = colony(end="2025-02-22", visit=[*visits, {"date": "2025-02-21", "garden": last}])
    made, _ = report(fit(record, particles=300, moves=3))
    assert any("do not trust the bands" in note for note in made.notes) == crash
