"""The history knows what each of its acts told, whatever became of it since."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from nestwright.workshop.changes import act, steps, undo
from nestwright.workshop.colonies import add_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.told_steps import visits_told
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry, add_visit, read_visits, replace_visit


def test_each_act_tells_the_visit_that_it_wrote(tmp_path: Path) -> None:
    workshop = create_workshop(tmp_path / "w", "UTC")
    given = EventEntry("garden added", "12 mL", other="Sorrel")
    first = VisitEntry(date(2026, 3, 1), garden_ml=44.0, counts=(Count("workers", "guess", 60, 60),), seen=("eggs",),
                       feedings=(Feeding(3.0, "g", "bramble"), Feeding(40.0, "cm2")), events=(given,),
                       health=("grey",), note="x")  # fmt: skip
    second = VisitEntry(date(2026, 3, 1), fill_pct=60.0, not_seen=("pupae",))
    with writing(workshop.engine) as connection:
        done = act(connection, "two colonies")
        row = {"species": "Atta sexdens", "start": "2026-01-01", "queen": "laying", "leaves": "free"}
        colony, _ = (add_colony(done, row | {"name": name}) for name in ("Elder", "Sorrel"))
    with writing(workshop.engine) as connection:
        visit = add_visit(act(connection, "visit of Elder on 2026-03-01"), colony, first)
        as_first = read_visits(connection, colony)[0][1]
    with writing(workshop.engine) as connection:
        replace_visit(act(connection, "correction"), visit, second)
        as_second = read_visits(connection, colony)[0][1]
    with writing(workshop.engine) as connection:
        undo(connection, 3)
    with reading(workshop.engine) as connection:
        assert read_visits(connection, colony)[0][1] == as_first
        assert visits_told(connection, steps(connection)) == {2: as_first, 3: as_second}
        assert visits_told(connection, []) == {}
    with writing(workshop.engine) as connection:
        done = act(connection, "colony from a file")
        for day in (4, 5):
            add_visit(done, colony, VisitEntry(date(2026, 3, day), fill_pct=50.0))
        assert set(visits_told(connection, steps(connection))) == {2, 3}
