"""What of a visit is kept and doubted."""

from datetime import date

import pytest

from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_bell, add_colony
from nestwright.workshop.database import writing
from nestwright.workshop.doubted import doubts_of
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.visits import Feeding, VisitEntry, add_visit

DAY = date(2026, 3, 1)


@pytest.mark.parametrize(
    ("feeding", "says"),
    [
        (Feeding(3000.0, "g", "bramble"), "the most before was 5 g"),
        (Feeding(40.0, "g", "bramble"), ""),
        (Feeding(3.0, "g", "brambel"), "is it bramble?"),
        (Feeding(3.0, "g", "oak"), ""),
        (Feeding(3.0, "g"), "no plant is told"),
        (Feeding(20_000.0, "cm2", "rose"), "nothing was given before"),
    ],
)
def test_leaves_far_beyond_all_before_and_names_as_if_misspelt_are_doubted(tmp_path, feeding, says):
    workshop = create_workshop(tmp_path / "w", "UTC")
    with writing(workshop.engine) as connection:
        done = act(connection, "test")
        row = {"name": "Elder", "species": "Atta sexdens", "start": "2026-01-01", "queen": "laying", "leaves": "free"}
        colony = add_colony(done, row)
        first = VisitEntry(DAY, feedings=(Feeding(5.0, "g", "bramble"), Feeding(2.0, "g", "rose")))
        add_visit(done, colony, first)
        told = doubts_of(connection, colony, VisitEntry(DAY, feedings=(feeding,)))
        assert len(told) == (1 if says else 0)
        assert says in " ".join(told)
        assert "--" not in " ".join(told)
        # a visit is not doubted for what it tells itself
        assert doubts_of(connection, colony, first) == ()


@pytest.mark.parametrize(("day", "garden", "says"), [(1, 156.0, "a fill of 120 %"), (1, 129.0, ""), (20, 156.0, "")])
def test_a_garden_larger_than_the_bell_over_it_on_that_day_is_doubted(tmp_path, day, garden, says):
    """156 mL under 130 mL is a fill of 120 %, under the 300 mL of the 15th one of 52 %."""
    workshop = create_workshop(tmp_path / "w", "UTC")
    with writing(workshop.engine) as connection:
        done = act(connection, "test")
        row = {"name": "Elder", "species": "Atta sexdens", "start": "2026-01-01", "queen": "laying", "leaves": "free"}
        colony = add_colony(done, row)
        add_bell(done, colony, {"day": "2026-03-01", "usable_ml": 130.0})
        add_bell(done, colony, {"day": "2026-03-15", "usable_ml": 300.0})
        told = doubts_of(connection, colony, VisitEntry(date(2026, 3, day), garden_ml=garden))
    assert len(told) == (1 if says else 0)
    assert says in " ".join(told)
