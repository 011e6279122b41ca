"""A visit that is in the record, told anew from its colony's page: what was not touched stays to the letter."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

import pytest

from nestwright.errors import InputError
from nestwright.web.corrected_visit import correct_visit, find_visit, mark_of, told_by
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import find_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop, find_workshop
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry, add_visit

UID = "0" * 32


def parts(workshop: Path) -> tuple[int, ...]:
    """Rows of visits and of what belongs to them."""
    link = sqlite3.connect(workshop / "workshop.db")
    try:
        tables = ("visit", "feeding", "event", "count", "brood")
        return tuple(link.execute(f'SELECT count(*) FROM "{one}"').fetchone()[0] for one in tables)
    finally:
        link.close()


@pytest.fixture
def opened(workshop: Path) -> Workshop:
    return find_workshop(workshop)


def full(opened: Workshop) -> int:
    """A visit with more than the form's first fields can tell; its row."""
    with writing(opened.engine) as connection:
        kept = find_colony(connection, "Marigold")
        entry = VisitEntry(
            day=_today(opened),
            garden_ml=0.1 + 0.2,
            garden_error_pct=7.3,
            counts=(Count("workers", "band", 50.0, 80.0), Count("dead", "guess", 3.0, 3.0)),
            seen=("larvae",),
            not_seen=("eggs",),
            feedings=(Feeding(3.0, "g", "rose"), Feeding(40.0, "cm2", "bramble")),
            leaves_taken=1 / 3,
            leaves_taken_unit="cm2",
            waste_g=1.5,
            health=("white", "wet"),
            events=(
                EventEntry("garden added", "20 mL", other="Hollyhock", note="by spoon"),  # no line of the form tells it
                EventEntry("garden taken", "2 mL", other="Hollyhock"),
            ),
            note="two\nlines",
            at=1,
        )
        return add_visit(act(connection, "visit"), kept.id, entry)


def _today(opened: Workshop) -> Any:
    from datetime import datetime

    return datetime.now(opened.zone).date()


def look(opened: Workshop, row: int) -> VisitEntry:
    with reading(opened.engine) as connection:
        return find_visit(connection, find_colony(connection, "Marigold"), row)


def sent(entry: VisitEntry, row: int, **more: Any) -> dict[str, Any]:
    """As a browser sends the form: line ends as CR LF."""
    told = {k: v.replace("\n", "\r\n") if isinstance(v, str) else v for k, v in told_by(entry).items()}
    return told | {"uid": UID, "corrects": str(row), "was": mark_of(entry)} | more


def test_what_is_not_touched_stays_to_the_letter(opened: Workshop, workshop: Path) -> None:
    row = full(opened)
    old, there = look(opened, row), parts(workshop)
    assert correct_visit(opened, "Marigold", sent(old, row), []).again, "the form as it was opened changes nothing"
    done = correct_visit(opened, "Marigold", sent(old, row, waste="2"), [])
    now = look(opened, row)
    assert now.to_dict() == old.to_dict() | {"waste_g": 2.0}
    assert parts(workshop) == there
    # sent again after a lost answer: known, the same step can be taken back
    again = correct_visit(opened, "Marigold", sent(old, row, waste="2"), [])
    assert (again.again, again.step) == (True, done.step)
    # one line told anew leaves the others as they were; the donation goes along into the other colony's history
    changed = sent(now, row, more_events="garden taken 3 mL to Hollyhock")
    correct_visit(opened, "Marigold", changed, [])
    told = look(opened, row).events
    assert told == (old.events[0], EventEntry("garden taken", "3 mL", other="Hollyhock"))
    assert parts(workshop) == there


def test_two_who_correct_one_visit_do_not_write_over_each_other_unread(opened: Workshop) -> None:
    row = full(opened)
    old = look(opened, row)
    correct_visit(opened, "Marigold", sent(old, row, waste="2"), [])
    with pytest.raises(InputError, match="was changed since") as told:
        correct_visit(opened, "Marigold", sent(old, row, waste="3"), [])
    assert "waste 2 g" in told.value.found
    assert look(opened, row).waste_g == 2
    with pytest.raises(InputError, match="not in the record"):
        correct_visit(opened, "Hollyhock", sent(old, row, waste="3"), [])
    with pytest.raises(InputError, match="still to come"):
        correct_visit(opened, "Marigold", sent(look(opened, row), row, day="2099-01-01"), [])
    assert look(opened, row).waste_g == 2


def test_a_visit_is_corrected_from_the_colonys_page_and_taken_back(phone: Any, served: str, workshop: Path) -> None:
    there = parts(workshop)
    phone.goto(served + "/colonies/Marigold")
    line = phone.inner_text(".record li:has(.correct) >> nth=0")
    phone.click(".correct >> nth=0")
    phone.fill("#f-note", "told anew")
    phone.dblclick("text=Record the correction")
    phone.wait_for_selector(".done >> text=correction of the visit of Marigold")
    assert "told anew" in phone.inner_text(".record li:has(.correct) >> nth=0")
    assert parts(workshop)[0] == there[0]
    phone.click(".done button")
    phone.goto(served + "/colonies/Marigold")
    assert phone.inner_text(".record li:has(.correct) >> nth=0") == line
    assert parts(workshop) == there


def test_a_correction_without_network_waits_and_one_that_comes_too_late_is_asked_about(
    phone: Any, served: str, opened: Workshop
) -> None:
    row = full(opened)
    phone.goto(f"{served}/visit/Marigold/{row}")
    phone.context.set_offline(True)
    phone.fill("#f-waste", "")
    phone.uncheck('[name="health"][value="wet"]', force=True)
    phone.click("text=Record the correction")
    phone.wait_for_selector("#news >> text=Kept on this device")
    assert phone.is_hidden("#visit")
    correct_visit(opened, "Marigold", sent(look(opened, row), row, waste="9"), [])  # at the bench meanwhile
    phone.context.set_offline(False)
    phone.wait_for_selector(".refused >> text=was changed since")
    assert look(opened, row).waste_g == 9
    phone.click("text=Mend it")
    phone.wait_for_selector(".faults >> text=waste 9 g")
    assert phone.input_value("#f-waste") == ""
    phone.click("text=Record the correction")
    phone.wait_for_selector(".done >> text=correction of the visit of Marigold")
    assert (look(opened, row).waste_g, look(opened, row).health) == (None, ("white",))
