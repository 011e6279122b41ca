"""A workshop in one file and back: nothing lost, and damage told."""

import contextlib
import sqlite3
import tempfile
import threading
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshops import contents, do, dump, fill, fresh, held

from nestwright.errors import InputError
from nestwright.workshop.backup import back_up, restore, verify
from nestwright.workshop.builds import add_build
from nestwright.workshop.database import HEAD
from nestwright.workshop.folder import Workshop


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(contents())
def test_what_is_backed_up_is_restored_the_same(made):
    with tempfile.TemporaryDirectory() as place:
        shop = fresh(Path(place) / "shop")
        fill(shop, made)
        back_up(shop, Path(place) / "b.zip")
        restore(Path(place) / "b.zip", Path(place) / "back")
        assert held(Workshop(Path(place) / "back")) == held(shop)


def files(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_every_file_of_the_workshop_is_in_it(shop, tmp_path):
    (shop.folder / "habitats" / "pot.toml").write_text("x")
    (shop.folder / "photos" / "2024").mkdir()
    (shop.folder / "photos" / "2024" / "é.jpg").write_bytes(bytes(range(256)) * 5000)
    (shop.folder / "contents.json").write_text("a file of the user's own")
    (shop.folder / ".hidden").write_text("left behind by a program")
    back_up(shop, shop.folder / "papers" / "b.zip")  # inside itself
    done = restore(shop.folder / "papers" / "b.zip", tmp_path / "back")
    there = files(tmp_path / "back")
    expected = files(shop.folder)
    for gone in (".hidden", "papers/b.zip", "workshop.db", "workshop.db-wal", "workshop.db-shm"):
        expected.pop(gone, None)
    database = there.pop("workshop.db")
    assert there == expected
    assert database.startswith(b"SQLite format 3")
    assert done.files == len(expected) + 1
    assert {p.name for p in (tmp_path / "back").iterdir() if p.is_dir()} >= {"habitats", "photos", "parts"}
    with zipfile.ZipFile(shop.folder / "papers" / "b.zip") as made:  # as the standard library's own reader sees it
        assert made.testzip() is None


def test_a_backup_while_another_writes_is_of_one_moment(shop, tmp_path):
    """Every build is written with one check of its own, in one transaction: no copy may hold one without the other."""
    from nestwright.workshop.builds import check_build

    stop = threading.Event()

    def write():
        own, n = Workshop(shop.folder), 0
        while not stop.is_set() and n < 400:
            n += 1

            def both(done, n=n):
                row = add_build(done, {"serial": f"B{n}", "habitat": "h.toml"})
                check_build(done, row, "seam", True, "x" * 20000, None)

            do(own, "build", both)

    thread = threading.Thread(target=write)
    thread.start()
    try:
        for i in range(3):
            back_up(shop, tmp_path / f"{i}.zip")
            restore(tmp_path / f"{i}.zip", tmp_path / f"back{i}")
            held = dump(Workshop(tmp_path / f"back{i}"))
            assert len(held["build"]) == len(held["quality"])
    finally:
        stop.set()
        thread.join()


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_damaged_backup_is_never_restored_as_something_else(sound, data):
    content = bytearray(sound.read_bytes())
    spot = data.draw(st.integers(0, len(content) - 1))
    if data.draw(st.booleans()):
        content[spot] ^= 1 << data.draw(st.integers(0, 7))
    else:
        del content[spot:]
    with tempfile.TemporaryDirectory() as place:
        bad = Path(place) / "bad.zip"
        bad.write_bytes(bytes(content))
        with contextlib.suppress(InputError):
            restore(bad, Path(place) / "back")
        assert [p.name for p in Path(place).iterdir() if p.name.startswith(".")] == []
        if (Path(place) / "back").exists():  # a flag or a time in the zip file's own lists says nothing of the content
            restore(sound, Path(place) / "good")
            assert files(Path(place) / "back") == files(Path(place) / "good")


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    place = tmp_path_factory.mktemp("sound")
    shop = fresh(place / "shop")
    do(shop, "build", lambda done: add_build(done, {"serial": "B1", "habitat": "h.toml"}))
    (shop.folder / "rooms" / "attic.toml").write_text("x" * 300)
    back_up(shop, place / "b.zip")
    return place / "b.zip"


def test_what_is_no_backup_is_told(sound, shop, tmp_path):
    for name, content in (("text.zip", b"hello"), ("empty.zip", b""), ("list.zip", None), ("out.zip", None)):
        file = tmp_path / name
        if content is not None:
            file.write_bytes(content)
        else:
            with zipfile.ZipFile(file, "w") as made:
                inside = "[]" if name == "list.zip" else '{"form": "0001", "sha256": {"../x": ""}}'
                made.writestr(".contents.json", inside)
        with pytest.raises(InputError, match=name):
            verify(file)
        with pytest.raises(InputError, match=name):
            restore(file, tmp_path / "back")
        assert not (tmp_path / "back").exists()
    with pytest.raises(InputError, match="gone"):
        verify(tmp_path / "gone.zip")
    with pytest.raises(InputError, match="not empty"):
        restore(sound, shop.folder)
    with pytest.raises(InputError, match="not there"):
        restore(sound, tmp_path / "a" / "b")
    with pytest.raises(InputError, match="no such folder"):
        back_up(shop, tmp_path / "a" / "b.zip")
    with pytest.raises(InputError, match="folder"):
        back_up(shop, tmp_path)


def test_a_file_that_would_lie_outside_is_refused(sound, tmp_path):
    import hashlib
    import json

    with zipfile.ZipFile(sound) as made:
        held = {n: made.read(n) for n in made.namelist()}
    told = json.loads(held.pop(".contents.json"))
    held["../outside.txt"] = b"out"
    told["sha256"]["../outside.txt"] = hashlib.sha256(b"out").hexdigest()
    with zipfile.ZipFile(tmp_path / "evil.zip", "w") as made:
        for name, content in held.items():
            made.writestr(name, content)
        made.writestr(".contents.json", json.dumps(told))
    with pytest.raises(InputError, match="outside the workshop"):
        restore(tmp_path / "evil.zip", tmp_path / "back")
    assert not (tmp_path / "outside.txt").exists()
    assert not (tmp_path / "back").exists()


def test_a_newer_backup_is_refused(sound, tmp_path):
    with zipfile.ZipFile(sound) as made, zipfile.ZipFile(tmp_path / "new.zip", "w") as new:
        for name in made.namelist():
            new.writestr(name, made.read(name).replace(b'"form": "%s"' % HEAD.encode(), b'"form": "9999"'))
    with pytest.raises(InputError, match="newer version"):
        restore(tmp_path / "new.zip", tmp_path / "back")


def test_a_damaged_record_is_not_backed_up(shop, tmp_path):
    do(shop, "b", lambda done: [add_build(done, {"serial": f"B{n}", "habitat": "h" * 50}) for n in range(200)])
    link = sqlite3.connect(shop.database)
    link.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    root = link.execute("SELECT rootpage FROM sqlite_master WHERE name = 'build'").fetchone()[0]
    link.close()
    content = bytearray(shop.database.read_bytes())
    content[(root - 1) * 4096 + 8 : (root - 1) * 4096 + 200] = bytes(192)
    shop.database.write_bytes(bytes(content))
    before = (tmp_path / "b.zip").write_bytes(b"the backup of yesterday")
    with pytest.raises(InputError, match="damaged"):
        back_up(shop, tmp_path / "b.zip")
    assert (tmp_path / "b.zip").stat().st_size == before
