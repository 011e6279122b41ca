"""`nestwright calendar`: the file, its JSON, and a place that cannot be written."""

import json
from datetime import UTC, datetime, timedelta

import pytest
import vobject

from nestwright.cli import main
from nestwright.workshop.folder import create_workshop

TODAY = datetime.now(UTC).date()


def done(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main.run([str(one) for one in arguments])
    told = capsys.readouterr()
    return left.value.code or 0, told.out, told.err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    create_workshop(tmp_path / "shop", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    start = (TODAY - timedelta(days=40)).isoformat()
    name = "Wood; ants, and <b>"
    species = "Acromyrmex echinatior"
    assert done(capsys, "colony", "add", name, "--species", species, "--start", start, "--garden", "40 mL")[0] == 0
    return name


def test_file_and_json_tell_the_same(shop, tmp_path, capsys):
    code, out, err = done(capsys, "calendar", "--no-forecast", "--hour", "7", "--json")
    assert code == 0, err
    told = json.loads(out)
    events = vobject.readOne((tmp_path / "shop/tasks.ics").read_bytes().decode()).vevent_list
    assert [e.uid.value for e in events] == [e["uid"] for e in told["entries"]]
    assert [e.dtstart.value.isoformat() for e in events] == [e["day"] for e in told["entries"]]
    assert events[0].summary.value == f"{shop}: visit it"
    assert events[0].valarm.trigger.value == timedelta(hours=7)
    assert int(events[0].sequence.value) == told["sequence"]


def test_twice_the_same_bytes(shop, tmp_path, capsys):
    for name in ("a.ics", "b.ics"):
        assert done(capsys, "calendar", "--no-forecast", "--out", name)[0] == 0
    assert (tmp_path / "shop/a.ics").read_bytes() == (tmp_path / "shop/b.ics").read_bytes()


def test_what_cannot_be_is_refused_and_nothing_written(shop, tmp_path, capsys):
    code, _, err = done(capsys, "calendar", "--out", "nowhere/tasks.ics")
    assert (code, "nowhere" in err) == (2, True)
    code, _, err = done(capsys, "calendar", "--hour", "24")
    assert (code, "0 to 23" in err) == (2, True)
    assert not list((tmp_path / "shop").glob("*.ics"))


def test_nothing_but_a_calendar_is_written_over(shop, tmp_path, capsys):
    """Regression: --out workshop.db replaced the record."""
    database = tmp_path / "shop" / "workshop.db"
    before = database.read_bytes()
    code, _, said = done(capsys, "calendar", "--out", database)
    assert code == 2
    assert ".ics" in said
    assert database.read_bytes() == before
