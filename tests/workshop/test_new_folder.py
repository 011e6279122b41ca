"""What a killed process left behind goes at the next run of the same command, and nothing else does."""

import os
import signal
import subprocess
import sys
import time

import pytest

from nestwright.errors import InputError
from nestwright.new_folder import HELD, LEFT_AFTER, check_new_folder, new_folder, scratch_folder
from nestwright.workshop.backup import back_up, restore
from nestwright.workshop.exchange import export_record, import_record

KILLED = """
import os, signal, sys
from pathlib import Path
from nestwright.new_folder import new_folder
with new_folder(Path(sys.argv[1]), "a thing", sys.argv[2]) as fresh:
    (fresh / "half").write_text("half of it")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def killed(folder, task):
    """The scratch folder that a process killed in the middle of its work leaves."""
    before = set(folder.parent.iterdir())
    made = subprocess.run([sys.executable, "-c", KILLED, str(folder), task], check=False)
    assert made.returncode == -signal.SIGKILL
    (left,) = set(folder.parent.iterdir()) - before
    assert left.name.startswith(".")
    assert not folder.exists()
    return left


def without_lock(left):
    (left / HELD).unlink()
    return left


def age(place, seconds):
    then = time.time() - seconds
    for one in (*place.rglob("*"), place):
        os.utime(one, (then, then), follow_symlinks=False)


def test_what_was_left_goes_and_nothing_else(shop, tmp_path):
    """At once where its lock is free; one without a lock, of a system that has none, after a day."""
    room = tmp_path / "room"
    room.mkdir()
    work = {
        "backup": lambda n: back_up(shop, room / f"{n}.zip"),
        "restore": lambda n: restore(room / "0.zip", room / f"back-{n}"),
        "export": lambda n: export_record(shop, room / f"open-{n}"),
        "import": lambda n: import_record(room / "open-0", room / f"again-{n}"),
    }
    for task, run in work.items():
        old, fresh, busy = (without_lock(killed(room / "thing", task)) for _ in range(3))
        at_once = killed(room / "thing", task)
        other = killed(room / "thing", "other")
        named = room / f".nestwright-{task}-of-mine"
        named.mkdir()
        link = room / f".nestwright-{task}-abcdefgh"
        link.symlink_to(named, target_is_directory=True)
        for place in (old, busy, other, named, link):
            age(place, LEFT_AFTER + 60)
        (busy / "new" / "half").write_text("still written to")
        age(fresh, LEFT_AFTER - 60)
        with scratch_folder(room, task) as held:
            age(held, LEFT_AFTER + 60)
            assert not at_once.exists(), task
            run(0)
            assert held.exists(), task
        assert not old.exists(), task
        for place in (fresh, busy, other, named, link):
            assert place.exists(), (task, place)
        assert not [p for p in room.iterdir() if p.is_dir() and p.name.startswith(f".nestwright-{task}")
                    and p not in (fresh, busy, named, link)], task  # fmt: skip


def half(folder, error):
    with new_folder(folder, "a thing", "test") as fresh:
        (fresh / "half").write_text("half")
        raise error


def test_an_interrupt_or_a_full_disk_leaves_the_folder_as_it_was(tmp_path, monkeypatch):
    there = tmp_path / "there"
    there.mkdir()
    for error, shown in ((KeyboardInterrupt(), KeyboardInterrupt), (OSError(28, "No space left"), InputError)):
        with pytest.raises(shown):
            half(there, error)
        assert list(tmp_path.rglob("*")) == [there]
    with new_folder(there, "a thing", "test") as fresh:
        (fresh / "whole").write_text("whole")
    assert [p.name for p in there.iterdir()] == ["whole"]
    with (
        pytest.raises(InputError, match="not empty: a thing is put into a new folder"),
        new_folder(there, "a thing", "x"),
    ):
        pass
    with pytest.raises(InputError, match="is not there"), new_folder(tmp_path / "no" / "where", "a thing", "x"):
        pass

    def refused(*_):
        raise PermissionError(13, "Permission denied")

    check_new_folder(tmp_path / "new", "a thing")
    assert list(tmp_path.iterdir()) == [there]
    monkeypatch.setattr("tempfile.mkdtemp", refused)
    with pytest.raises(InputError, match="new: cannot write; found Permission denied"):
        check_new_folder(tmp_path / "new", "a thing")
