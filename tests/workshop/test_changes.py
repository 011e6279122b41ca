"""The history: complete, and every act can be taken back and done again exactly."""

import ast
import json
import tempfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from workshops import EXAMPLES, contents, do, fill, fresh, record

from nestwright.errors import InputError
from nestwright.workshop import builds, colonies, parcels, readings, visits
from nestwright.workshop.changes import last_step, steps, undo
from nestwright.workshop.colony_files import add_colony_file
from nestwright.workshop.database import reading, writing
from nestwright.workshop.tables import RECORD, build, change, colony, metadata, photo, visit
from nestwright.workshop.visits import Count, EventEntry, Feeding, VisitEntry

SPECIES = {"species": "Acromyrmex echinatior", "start": "2024-03-01"}
FULL = VisitEntry(
    date(2024, 3, 9),
    garden_ml=40.0,
    garden_error_pct=10.0,
    counts=(Count("workers", "band", 50.0, 80.0), Count("pupae", "exact", 12.0, 12.0)),
    seen=("eggs", "pupae"),
    not_seen=("larvae",),
    feedings=(Feeding(3.0, "g", "bramble"), Feeding(40.0, "cm2", "rose")),
    leaves_taken=2.0,
    leaves_taken_unit="g",
    waste_g=1.5,
    health=("white", "wet"),
    events=(EventEntry("garden added", "20 mL", other="Moss"), EventEntry("queen lost", note="lay dead")),
    note="first\nsecond",
    uid="one",
)


def begun(shop):
    """A workshop with two colonies, two builds, a visit with everything, a photo of it and a parcel under way."""

    def begin(done):
        moss = colonies.add_colony(done, {"name": "Moss", **SPECIES})
        fern = colonies.add_colony(done, {"name": "Fern", **SPECIES})
        for serial in ("B1", "B2"):
            builds.add_build(done, {"serial": serial, "habitat": "h.toml"})
        builds.measure_build(done, 2, "lid", "118.4 mm", None)
        row = visits.add_visit(done, fern, FULL)
        values = {"uid": "p", "colony_id": fern, "visit_id": row, "file": "a.jpg", "sha256": "0"}
        done.add(photo, values)
        parcels.add_parcel(done, moss, {"direction": "in", "sent": "2024-02-27"})
        colonies.move_in(done, moss, 1, "2024-03-02")

    do(shop, "begin", begin)
    return shop


@pytest.fixture
def kept(shop):
    return begun(shop)


def replaced(done):
    visits.replace_visit(
        done, 1, VisitEntry(FULL.day, fill_pct=30.0, events=(EventEntry("garden taken", "2 mL", other="Moss"),))
    )


KINDS = {
    "colony": lambda done: colonies.add_colony(done, {"name": "Ivy", **SPECIES, "note": "é'\n"}),
    "colony file": lambda done: add_colony_file(done, EXAMPLES / "colonies/hollyhock.toml"),
    "visit": lambda done: visits.add_visit(done, 2, VisitEntry(**{**FULL.__dict__, "uid": "two"})),
    "bare visit": lambda done: visits.add_visit(done, 1, VisitEntry(date(2024, 3, 3))),
    "visit told anew": replaced,
    "visit removed": lambda done: done.remove(visit, 1),
    "build removed": lambda done: done.remove(build, 2),
    "event": lambda done: visits.add_event(done, 1, date(2024, 3, 4), EventEntry("garden taken", "1 mL", other="Fern")),
    "bell": lambda done: colonies.add_bell(done, 1, {"day": "2024-03-05", "name": "", "usable_ml": 300.1}),
    "move": lambda done: colonies.move_in(done, 2, 2, "2024-03-05", "note"),
    "end": lambda done: done.change(colony, 1, {"ended": "2024-04-01", "end_reason": "sold"}),
    "parcel": lambda done: parcels.add_parcel(done, 2, {"direction": "out", "sent": "2024-04-01"}),
    "parcel arrived": lambda done: parcels.arrived(done, 1, "in", {"arrived": "2024-03-01", "state": "warm"}),
    "build": lambda done: builds.add_build(done, {"serial": "B3", "habitat": "h.toml"}),
    "measured": lambda done: builds.measure_build(done, 1, "lid", "118.4 mm", None),
    "check": lambda done: builds.check_build(done, 1, "seam", None, "", "2024-03-01"),
    "channel": lambda done: readings.keep_channel(done, readings.keep_logger(done, "L"), "t", "temperature", "degC"),
}


@pytest.mark.parametrize("kind", KINDS)
def test_taken_back_and_done_again_exactly(kept, kind):
    before = record(kept)
    do(kept, kind, KINDS[kind])
    after = record(kept)
    assert after != before
    with writing(kept.engine) as connection:
        step = last_step(connection).step
        assert undo(connection, step) == kind
    assert record(kept) == before
    with reading(kept.engine) as connection:
        assert steps(connection)[1].undone_by == step + 1
        assert last_step(connection).act == "begin"
    with writing(kept.engine) as connection:
        undo(connection, step + 1)
    assert record(kept) == after
    with reading(kept.engine) as connection:
        assert last_step(connection).step == step  # in force again, and the next that `undo` would take back
        assert steps(connection)[0].act == f"redo: {kind}"
    with writing(kept.engine) as connection:
        undo(connection, step)
    assert record(kept) == before


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(st.sampled_from(sorted(KINDS)), max_size=6))
def test_any_row_of_acts_can_be_taken_back_one_by_one(kinds):
    with tempfile.TemporaryDirectory() as place:
        shop = begun(fresh(Path(place) / "shop"))
        states = [record(shop)]
        for kind in kinds:
            try:
                do(shop, kind, KINDS[kind])
            except Exception:  # what a second time cannot be, as a colony of the same name
                assert record(shop) == states[-1]
                continue
            if record(shop) != states[-1]:
                states.append(record(shop))
        assert replay(shop) == shown(shop)
        while len(states) > 1:
            states.pop()
            with writing(shop.engine) as connection:
                undo(connection, last_step(connection).step)
            assert record(shop) == states[-1]
            assert replay(shop) == shown(shop)


def shown(shop):
    """Every row of the record as the library reads it, by table and id."""
    with reading(shop.engine) as connection:
        tables = [t for t in RECORD if t.name != "workshop"]
        return {(t.name, row["id"]): dict(row) for t in tables for row in connection.execute(select(t)).mappings()}


def replay(shop):
    """The same from the history alone."""
    found = {}
    with reading(shop.engine) as connection:
        for row in connection.execute(select(change).order_by(change.c.id)).mappings():
            key = (row["of_table"], row["row"])
            assert found.get(key) == (json.loads(row["before"]) if row["before"] else None)
            if row["after"]:
                found[key] = json.loads(row["after"])
            else:
                del found[key]
    return found


@pytest.mark.parametrize("kind", KINDS)
def test_the_history_alone_gives_the_record(kept, kind):
    do(kept, kind, KINDS[kind])
    assert replay(kept) == shown(kept)


def test_nothing_else_writes_to_the_record():
    """No module of the record inserts, changes or removes on its own but the history, open files' way back, imports.

    Alarms and readings are no entries of a person; they are written without history.
    """
    names = {t.name for t in RECORD} - {"workshop"}
    folder = Path(colonies.__file__).parent
    wrong = []
    for file in folder.glob("*.py"):
        if file.name in ("changes.py", "exchange.py", "arriving.py"):
            continue
        for node in ast.walk(ast.parse(file.read_text())):
            if (
                isinstance(node, ast.Call)
                and isinstance(node.func, ast.Name)
                and node.func.id in ("insert", "update", "delete")
            ):
                table = node.args[0]
                if isinstance(table, ast.Name) and table.id in names:
                    wrong.append(f"{file.name}:{node.lineno}")
    assert wrong == []


def test_what_later_entries_need_is_not_taken_back(kept):
    with writing(kept.engine) as connection, pytest.raises(InputError, match=r"no such step.*77"):
        undo(connection, 77)
    do(kept, "colony", KINDS["colony"])
    do(kept, "visit of it", lambda done: visits.add_visit(done, 3, VisitEntry(date(2024, 3, 4))))
    with writing(kept.engine) as connection, pytest.raises(InputError, match=r"later entries belong.*1 visit$"):
        undo(connection, 2)
    do(kept, "end", lambda done: done.change(colony, 3, {"ended": "2024-05-01"}))
    with writing(kept.engine) as connection, pytest.raises(InputError, match="was changed since"):
        undo(connection, 2)
    with writing(kept.engine) as connection:
        undo(connection, 4)
        undo(connection, 3)
        undo(connection, 2)
    with writing(kept.engine) as connection, pytest.raises(InputError, match="was taken back already"):
        undo(connection, 2)


def test_an_alarm_does_not_hold_an_act(kept):
    """Alarms come of themselves: one about a colony goes with it when its adding is taken back."""
    from nestwright.workshop.tables import alarm

    row = do(kept, "colony", KINDS["colony"])
    with writing(kept.engine) as connection:
        values = {"key": "k", "kind": "visit", "colony_id": row, "message": "m", "raised": 1, "seen": 1}
        connection.execute(alarm.insert(), values)
        undo(connection, last_step(connection).step)
        assert connection.execute(select(alarm)).all() == []


def test_undo_with_nothing_to_take_back(shop):
    with reading(shop.engine) as connection:
        assert last_step(connection) is None
        assert steps(connection) == []


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(contents(), st.data())
def test_anything_removed_comes_back_exactly(made, data):
    """Whatever the texts and numbers: the history keeps them without loss."""
    with tempfile.TemporaryDirectory() as place:
        shop = fresh(Path(place) / "shop")
        made[0]["change"] = []
        fill(shop, (made[0], {}))
        there = [
            (name, row["id"]) for name, rows in made[0].items() if name not in ("workshop", "alarm") for row in rows
        ]
        if not there:
            return
        name, row = data.draw(st.sampled_from(there))
        before = record(shop)
        try:
            do(shop, "gone", lambda done: done.remove(metadata.tables[name], row))
        except Exception:  # others need it
            assert record(shop) == before
            return
        with writing(shop.engine) as connection:
            undo(connection, last_step(connection).step)
        after = record(shop)
        if not made[0]["alarm"]:  # alarms of it are gone with it
            assert after == before
