"""A large file in many short transactions: whenever it ends, all of it shows or nothing, and others write meanwhile."""

import signal
import subprocess
import sys
import time
from contextlib import contextmanager

import numpy as np
import pytest
from workshops import do, dump, fresh

from nestwright.errors import InputError
from nestwright.sensing.loggers import recognise
from nestwright.workshop import arriving, imports
from nestwright.workshop.changes import last_step, steps, undo
from nestwright.workshop.database import reading, writing
from nestwright.workshop.exchange import export_record
from nestwright.workshop.imports import accepted, import_file, import_in_pieces
from nestwright.workshop.readings import channels_of, keep_logger, mean_of_hours, read_hours, read_raw, span_of

HEAD = "time,temperature °C,humidity %\n"
ROWS = 3000


def file_of(path, first=0, rows=ROWS, shift=0.0):
    """A reading a minute from 2026-03-01 on."""
    at = np.datetime64("2026-03-01") + np.arange(first, first + rows).astype("timedelta64[m]")
    value = np.arange(first, first + rows) % 700 / 100 + 20 + shift
    path.write_text(HEAD + "".join(f"{str(t).replace('T', ' ')},{v:.2f},90\n" for t, v in zip(at, value, strict=True)))
    return path


def in_pieces(shop, path, told=None, name="pot", at_once=0):
    return import_in_pieces(
        shop, "readings", path, name, accepted(recognise(path, "UTC")), told, size=20_000, at_once=at_once
    )


def in_one(shop, path):
    mapping = accepted(recognise(path, "UTC"))
    return do(shop, "readings", lambda done: import_file(done, path, "pot", mapping))


def shown(shop):
    """Readings of each channel that anybody sees, by every way of looking."""
    with reading(shop.engine) as connection:
        out = {}
        for one in channels_of(connection):
            raw = read_raw(connection, one.id)
            n = len(raw.at)
            assert read_hours(connection, one.id).n.sum() == n == span_of(connection, one.id)[2]
            if n:
                assert mean_of_hours(connection, one.id, 0) == pytest.approx(raw.value.mean())
            out[f"{one.logger}.{one.name}"] = n
    return out


@pytest.fixture(autouse=True)
def small_pieces(monkeypatch):
    monkeypatch.setattr(arriving, "AT_ONCE", 700)


def held(shop):
    """Readings and their sums by the hour, whoever wrote them in whatever order."""
    every = dump(shop)
    return every["reading"], [(*r[:5], round(r[5], 6)) for r in every["rollup"]], every["channel"], every["logger"]


def test_it_ends_as_in_one_transaction(tmp_path):
    one, other = fresh(tmp_path / "one"), fresh(tmp_path / "other")
    first, second = file_of(tmp_path / "a.csv", 1000, 900), file_of(tmp_path / "b.csv", 0, ROWS)
    differing = file_of(tmp_path / "c.csv", 500, 4000, 0.5)
    for path in (first, second, differing):  # alone, around what is there, over it with other values
        want, got = in_one(one, path), in_pieces(other, path)
        assert got == want
        assert held(one) == held(other)
    assert [s.act for s in steps_of(one)] == [s.act for s in steps_of(other)]


def steps_of(shop):
    with reading(shop.engine) as connection:
        return steps(connection)


def test_others_read_all_or_nothing_and_write_meanwhile(shop, tmp_path):
    path, small = file_of(tmp_path / "a.csv"), file_of(tmp_path / "s.csv", 0, 30)
    seen, refused = [], []

    def told(at, size):
        seen.append(shown(shop).get("pot.temperature"))
        do(shop, "written meanwhile", lambda done: keep_logger(done, f"other {len(seen)}"))
        if len(seen) == 3:
            assert in_pieces(shop, small, name="small", at_once=1000).rows == 30
            with pytest.raises(InputError, match="another import is running"):
                in_pieces(shop, small, name="small")
            with pytest.raises(InputError, match="another import is running") as error:
                export_record(shop, tmp_path / "out")
            refused.append(error)

    in_pieces(shop, path, told)
    assert refused
    assert seen[:4] == [None] * 4
    assert set(seen) == {None, ROWS}
    assert seen.count(ROWS) > 3  # seen whole while it is moved to its place
    assert len([s for s in steps_of(shop) if s.act == "written meanwhile"]) == len(seen)


class Killed(BaseException):
    """Ends the process in the midst of a transaction."""


@pytest.mark.parametrize("there", [False, True], ids=["new", "over others"])
def test_killed_in_any_transaction_it_shows_all_or_nothing(tmp_path, monkeypatch, there):
    path = file_of(tmp_path / "a.csv", rows=1000)
    plain = fresh(tmp_path / "plain")
    if there:
        in_one(plain, file_of(tmp_path / "b.csv", 300, 400, 0.25))
    before = shown(plain)
    in_one(plain, path)
    whole = shown(plain)
    ends = []
    for last in range(100):
        shop = fresh(tmp_path / f"shop {last}")
        if there:
            in_one(shop, tmp_path / "b.csv")
        count = iter(range(100))

        @contextmanager
        def failing(engine, count=count, last=last):
            with writing(engine) as connection:
                yield connection
                if next(count) == last:
                    raise Killed

        with monkeypatch.context() as patch:
            for module in (arriving, imports):
                patch.setattr(module, "writing", failing)
            patch.setattr(imports, "discard", lambda engine: None)  # a killed process tidies nothing up
            try:
                in_pieces(shop, path)
                break
            except Killed:
                pass
        ends.append("all" if shown(shop) == whole else "nothing")
        if ends[-1] == "nothing":
            assert shown(shop) == before
        arriving.settle(shop)
        assert shown(shop) == (whole if ends[-1] == "all" else before)
        assert not [row for row in dump(shop)["reading"] if row[0] < 0]
        in_pieces(shop, path)
        assert held(shop)[:2] == held(plain)[:2]
    assert ends == sorted(ends, reverse=True)  # nothing until the file is whole, all from then on
    assert {"all", "nothing"} == set(ends)


def test_interrupted_it_leaves_nothing(shop, tmp_path):
    before = dump(shop)

    def told(at, size):
        if at > size / 2:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        in_pieces(shop, file_of(tmp_path / "a.csv"), told)
    assert dump(shop) == before


def test_a_file_without_readings_or_of_another_quantity_leaves_nothing(shop, tmp_path):
    path = file_of(tmp_path / "a.csv")
    mapping = accepted(recognise(path, "UTC"))
    bad = tmp_path / "b.csv"
    bad.write_text(HEAD + "when,x,y\n" * 9000)
    before = dump(shop)
    with pytest.raises(InputError, match="no reading that can be used"):
        import_in_pieces(shop, "x", bad, "pot", mapping, size=20_000, at_once=-1)
    assert dump(shop) == before


def test_an_undo_while_it_is_moved_is_refused(shop, tmp_path):
    said = []

    def told(at, size):
        if shown(shop).get("pot.temperature") and not said:
            with pytest.raises(InputError, match="readings cannot be taken back"), writing(shop.engine) as connection:
                undo(connection, last_step(connection).step)
            said.append(at)

    in_pieces(shop, file_of(tmp_path / "a.csv"), told)
    assert said
    assert shown(shop) == {"pot.temperature": ROWS, "pot.humidity": ROWS}


SCRIPT = """
import sys
from pathlib import Path
from nestwright.sensing.loggers import recognise
from nestwright.workshop import arriving
from nestwright.workshop.folder import find_workshop
from nestwright.workshop.exchange import export_record
from nestwright.workshop.imports import accepted, import_in_pieces
arriving.AT_ONCE = 500
path = Path(sys.argv[2])
mapping = accepted(recognise(path, "UTC"))
print("begins", flush=True)
import_in_pieces(find_workshop(Path(sys.argv[1])), "x", path, "pot", mapping, size=10_000, at_once=0)
"""


@pytest.mark.parametrize("delay", [0.05, 0.3])
def test_killed_by_signal_nine(shop, tmp_path, delay):
    path = file_of(tmp_path / "a.csv", rows=40_000)
    shop.engine.dispose()
    one = subprocess.Popen([sys.executable, "-c", SCRIPT, str(shop.folder), str(path)], stdout=subprocess.PIPE)
    assert one.stdout.readline() == b"begins\n"
    time.sleep(delay)
    one.send_signal(signal.SIGKILL)
    one.wait()
    one.stdout.close()
    both = {"pot.temperature": 40_000, "pot.humidity": 40_000}
    assert shown(shop) in ({}, both)
    arriving.settle(shop)
    assert in_one(shop, path).rows == 40_000
    assert shown(shop) == both
