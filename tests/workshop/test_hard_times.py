"""A process that is killed, a disk that is full, two processes at once: nothing lost, nothing there by half."""

import contextlib
import importlib.util
import os
import resource
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from workshops import do, dump, fresh, record

from nestwright.workshop import colonies, readings, visits
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.readings import read_raw, store_readings

ROOT = Path(__file__).parents[2]
VALUES = {"name": "Fern", "species": "Acromyrmex echinatior", "start": "2024-03-01"}


def test_killed_at_random_moments(tmp_path):
    """Four of the kills of studies/record_kills.py, one of each kind of work; docs/record.md tells of a hundred."""
    spec = importlib.util.spec_from_file_location("record_kills", ROOT / "studies/record_kills.py")
    study = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(study)
    done, wrong = study.kills(4, seed=1)
    assert wrong == []
    assert all(sum(counts) > 0 for counts in done.values())


def test_the_study_sees_a_visit_that_is_there_by_half(tmp_path):
    spec = importlib.util.spec_from_file_location("record_kills", ROOT / "studies/record_kills.py")
    study = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(study)
    (tmp_path / "place").mkdir()
    shop = study.begin(tmp_path / "place" / "shop")
    with writing(shop.engine) as connection:
        connection.exec_driver_sql("INSERT INTO visit (uid, colony_id, day, written) VALUES ('x', 2, '2024-03-02', 1)")
        connection.exec_driver_sql("INSERT INTO reading VALUES (1, 2000000000000, 20.0)")
    wrong = study.faults(shop, "visits", ["x", "y"])
    assert len(wrong) == 4
    assert "y was told as done and is gone" in " ".join(wrong)


SMALL = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[1]), resource.RLIM_INFINITY))
from nestwright.cli.main import run
run(sys.argv[2:])
"""


def limited(size, *words):
    """A command whose files cannot grow beyond a size, as on a disk that is full; exit code and message."""
    done = subprocess.run(
        [sys.executable, "-c", SMALL, str(size), *map(str, words)], capture_output=True, text=True, timeout=120
    )
    return done.returncode, done.stderr


@pytest.fixture
def full_of_readings(shop):
    """A workshop with 60,000 readings, and its database's log written back."""
    do(shop, "colony", lambda done: colonies.add_colony(done, VALUES))
    row = do(
        shop, "L", lambda done: readings.keep_channel(done, readings.keep_logger(done, "L"), "t", "temperature", "degC")
    )
    with writing(shop.engine) as connection:
        store_readings(connection, row, np.arange(60_000) * 60_000, np.random.default_rng(1).normal(24, 1, 60_000))
    return shop


COMMANDS = {
    "visit": ["visit", "Fern", "--date", "2024-03-09", "--garden", "44 mL"],
    "backup": ["backup", "{tmp}/b.zip"],
    "export": ["export", "{tmp}/open"],
    "workshop": ["workshop", "new", "{tmp}/new"],
}


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("size", [3_000, 30_000])
def test_a_full_disk_is_one_message_and_nothing_is_lost(full_of_readings, tmp_path, name, size):
    shop = full_of_readings
    before = dump(shop)
    inside = [] if name == "workshop" else ["--workshop", shop.folder]
    code, said = limited(size, *(w.format(tmp=tmp_path) for w in COMMANDS[name]), *inside)
    if code == 0:  # a visit may fit
        assert (name, size) == ("visit", 30_000)
        return
    assert code == 2, said
    assert len(said.splitlines()) == 1, said
    assert dump(shop) == before
    assert [p.name for p in tmp_path.iterdir() if p.name not in ("shop", "new")] == []
    assert not (tmp_path / "new" / "workshop.db").exists()


@pytest.mark.parametrize("name", COMMANDS)
def test_a_small_disk_that_is_really_full(full_of_readings, tmp_path, name):
    """On a file system of 4 MB of its own, where the tests may make one."""
    disk = tmp_path / "disk"
    disk.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=4m", "tmpfs", disk], capture_output=True)
    if made.returncode:
        pytest.skip("no right to mount a file system here")
    try:
        small = fresh(disk / "shop")
        full_of_readings.engine.dispose()
        shutil.copy(full_of_readings.database, small.database)
        before = record(small)
        with (disk / "ballast").open("wb", buffering=0) as file, contextlib.suppress(OSError):
            while True:
                file.write(bytes(1024))
        inside = [] if name == "workshop" else ["--workshop", small.folder]
        code, said = limited(resource.RLIM_INFINITY, *(w.format(tmp=disk) for w in COMMANDS[name]), *inside)
        assert code == 2, said
        assert len(said.splitlines()) == 1, said
        (disk / "ballast").unlink()
        assert record(small) == before
        assert {p.name for p in disk.iterdir()} <= {"shop", "new"}
    finally:
        subprocess.run(["umount", disk], check=True)


def test_an_import_on_a_full_disk_leaves_what_was_there(full_of_readings):
    code = """
import resource, signal, sys
from pathlib import Path
import numpy as np
from nestwright.errors import InputError
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.readings import store_readings
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
shop = Workshop(Path(sys.argv[1]))
shop.engine
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, resource.RLIM_INFINITY))
try:
    with writing(shop.engine) as connection:
        store_readings(connection, 1, 10**12 + np.arange(200_000), np.zeros(200_000))
except InputError as error:
    print(error)
"""
    before = dump(full_of_readings)
    done = subprocess.run(
        [sys.executable, "-c", code, str(full_of_readings.folder)], capture_output=True, text=True, timeout=120
    )
    assert done.returncode == 0, done.stderr
    assert len(done.stdout.splitlines()) == 1
    assert "workshop.db" in done.stdout
    assert dump(full_of_readings) == before


WRITER = """
import sys
from datetime import date, timedelta
from pathlib import Path
from nestwright.workshop.changes import act
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.visits import VisitEntry, add_visit
shop = Workshop(Path(sys.argv[1]))
for i in range(25):
    with writing(shop.engine) as connection:
        add_visit(act(connection, "visit"), 1, VisitEntry(date(2024, 3, 2) + timedelta(days=i), garden_ml=1.0 + i))
"""


def test_two_processes_that_write_at_once_both_succeed(shop):
    do(shop, "colony", lambda done: colonies.add_colony(done, VALUES))
    both = [subprocess.Popen([sys.executable, "-c", WRITER, str(shop.folder)]) for _ in range(2)]
    assert [one.wait(timeout=120) for one in both] == [0, 0]
    held = dump(shop)
    assert len(held["visit"]) == 50
    steps = [row[1] for row in held["change"]]
    assert len(set(steps)) == 51  # every act has a number of its own


def test_a_reader_during_a_long_write_sees_what_was_there(shop):
    row = do(shop, "colony", lambda done: colonies.add_colony(done, VALUES))
    other = Workshop(shop.folder)
    with writing(shop.engine) as connection:
        from nestwright.workshop.changes import act

        visits.add_visit(act(connection, "visit"), row, visits.VisitEntry(date(2024, 3, 2)))
        with reading(other.engine) as seen:
            assert visits.read_visits(seen, row) == []
    with reading(other.engine) as seen:
        assert len(visits.read_visits(seen, row)) == 1


def test_a_writer_that_waits_too_long_says_so(shop, monkeypatch):
    from nestwright.errors import InputError

    monkeypatch.setattr("nestwright.workshop.database.WAIT", 0.1)
    other = Workshop(shop.folder)
    with (
        writing(shop.engine),
        pytest.raises(InputError, match="held by another process; nothing was written"),
        writing(other.engine),
    ):
        pass


def test_two_who_make_the_same_workshop(tmp_path):
    code = "import sys; from nestwright.cli.main import run; run(['workshop', 'new', sys.argv[1], '--zone', 'UTC'])"
    both = [subprocess.Popen([sys.executable, "-c", code, str(tmp_path / "w")], stdout=-3, stderr=-3) for _ in range(2)]
    assert sorted(one.wait(timeout=120) for one in both) == [0, 2]
    assert Workshop(tmp_path / "w").setting("zone") == "UTC"
    assert [p for p in os.listdir(tmp_path / "w") if p.startswith(".")] == []


odd = [0.0, -0.0, 5e-324, 1.7e308, -1.7e308, 0.1, 1 / 3]


def test_readings_are_stored_as_they_are_and_summed_by_the_hour(shop):
    """Sums against plain Python, before 1970 too; a second value of one moment does not take the place of the first."""
    row = do(
        shop, "L", lambda done: readings.keep_channel(done, readings.keep_logger(done, "L"), "t", "temperature", "degC")
    )
    rng = np.random.default_rng(2)
    at = rng.permutation(np.unique(rng.integers(-(10**9), 10**9, 500)))
    value = rng.normal(24, 1, len(at))
    with writing(shop.engine) as connection:
        parts = [store_readings(connection, row, at[i : i + 70], value[i : i + 70]) for i in range(0, len(at), 70)]
        assert sum(p.added for p in parts) == len(at)
        again = store_readings(connection, row, at, np.where(np.arange(len(at)) < 10, value + 1, value))
        assert (again.added, again.same, again.differing) == (0, len(at) - 10, 10)
        nothing = store_readings(connection, row, np.array([5, 6]), np.array([np.nan, np.inf]))
        assert nothing.added == 0
    by_hour = {}
    for t, v in zip(at.tolist(), value.tolist(), strict=True):
        by_hour.setdefault(t // 3_600_000, []).append(v)
    with reading(shop.engine) as connection:
        series, hours = read_raw(connection, row), readings.read_hours(connection, row)
    order = np.argsort(at)
    assert (series.at == at[order]).all()
    assert (series.value == value[order]).all()
    assert hours.hour.tolist() == sorted(by_hour)
    for hour, n, low, high, mean in zip(hours.hour.tolist(), hours.n, hours.low, hours.high, hours.mean, strict=True):
        held = by_hour[hour]
        assert (n, low, high) == (len(held), min(held), max(held))
        assert mean == pytest.approx(sum(held) / len(held), rel=1e-12)


def test_odd_numbers_are_kept(shop):
    row = do(
        shop, "L", lambda done: readings.keep_channel(done, readings.keep_logger(done, "L"), "t", "temperature", "degC")
    )
    with writing(shop.engine) as connection:
        store_readings(connection, row, np.arange(len(odd)), np.array(odd))
    with reading(shop.engine) as connection:
        assert read_raw(connection, row).value.tolist() == odd


def test_a_workshop_that_cannot_be_made_leaves_no_folder(tmp_path, monkeypatch):
    from nestwright.errors import InputError
    from nestwright.workshop import folder

    def full(*_, **__):
        raise InputError("the disk is full")

    monkeypatch.setattr(folder, "open_database", full)
    with pytest.raises(InputError):
        folder.create_workshop(tmp_path / "bench", "UTC")
    assert not (tmp_path / "bench").exists()
