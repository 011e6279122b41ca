"""The database's forms, and files that are no database of this program."""

import json
import os
import random
import sqlite3
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, create_engine
from workshops import do, dump, fresh, record

from nestwright.errors import InputError
from nestwright.workshop.builds import add_build
from nestwright.workshop.database import HEAD, open_database, reading, writing
from nestwright.workshop.folder import Workshop, create_workshop
from nestwright.workshop.migrations.upgrade import configuration
from nestwright.workshop.tables import metadata

FIRST = Path(__file__).parent / "form-0001.sql"
"""A workshop as the first form had it, as `sqlite3 .dump` writes it."""


def test_the_newest_form_is_that_of_the_last_step():
    assert ScriptDirectory.from_config(configuration()).get_current_head() == HEAD


def test_the_steps_make_the_tables_that_the_program_knows(shop):
    with shop.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, metadata) == []


def test_the_steps_make_the_same_rules(shop, tmp_path):
    """Checks are not compared by Alembic: the database's own text of each table against one made from the metadata."""
    plain = create_engine(f"sqlite:///{tmp_path / 'plain.db'}")
    metadata.create_all(plain)

    def words(engine):
        with engine.connect() as connection:
            found = connection.exec_driver_sql("SELECT name, sql FROM sqlite_master WHERE sql IS NOT NULL").all()
        return {name: " ".join(sql.replace('"', "").split()).replace("( ", "(") for name, sql in found}

    made, wanted = words(shop.engine), words(plain)
    made.pop("alembic_version")
    assert made == wanted


def test_every_rule_is_held_by_the_database(shop):
    n = 0
    for table in metadata.sorted_tables:
        for column in table.columns:
            if any(isinstance(rule, CheckConstraint) for rule in column.constraints):
                n, name = n + 1, column.name
                values = {c.name: 1 for c in table.columns if not c.nullable} | {name: "nonsense"}
                link = sqlite3.connect(shop.database)
                keys = ", ".join(f'"{k}"' for k in values)
                with pytest.raises(sqlite3.IntegrityError, match="CHECK"):
                    link.execute(
                        f'INSERT INTO "{table.name}" ({keys}) VALUES ({", ".join("?" * len(values))})',
                        list(values.values()),
                    )
                link.close()
    assert n >= 20


def test_the_first_form_opens_and_becomes_the_newest(tmp_path):
    link = sqlite3.connect(tmp_path / "workshop.db")
    link.executescript(FIRST.read_text())
    link.close()
    shop = Workshop(tmp_path)
    assert shop.zone.key == "Europe/Lisbon"
    with reading(shop.engine) as connection:
        assert connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar() == HEAD
        assert MigrationContext.configure(connection).get_current_revision() == HEAD
    from nestwright.workshop.colonies import find_colony, model_colony
    from nestwright.workshop.visits import read_visits

    with reading(shop.engine) as connection:
        kept = find_colony(connection, "Fern")
        visits = read_visits(connection, kept.id)
        assert [v.garden_ml for _, v in visits] == [40.0]
        assert visits[0][1].events[0].other == "Moss"
        assert model_colony(connection, kept).days == 9


def test_a_parcel_of_the_first_form_is_kept_and_its_act_can_be_taken_back(tmp_path):
    link = sqlite3.connect(tmp_path / "workshop.db")
    link.executescript(FIRST.read_text())
    was = {"id": 7, "uid": "p7", "direction": "in", "colony_id": 1, "build_id": None, "sent": "2024-02-27"}
    was |= {"arrived": None, "carrier": "it's: night post", "state": "", "note": "two\nlines"}
    link.execute(f"INSERT INTO parcel VALUES ({', '.join('?' * len(was))})", list(was.values()))
    values = (99, 99, 1709989200000, "parcel of Moss", "parcel", 7, "", json.dumps(was), None)
    link.execute(f"INSERT INTO change VALUES ({', '.join('?' * len(values))})", values)
    link.commit()
    link.close()
    shop = Workshop(tmp_path)
    from nestwright.workshop.changes import undo

    with writing(shop.engine) as connection:
        kept = connection.exec_driver_sql("SELECT * FROM parcel").mappings().one()
        assert {k: kept[k] for k in was} == was
        assert (kept["route"], kept["promised_hours"], kept["logger_id"]) == ("", None, None)
        assert undo(connection, 99) == "parcel of Moss"
        assert undo(connection, 100) == "undo: parcel of Moss"
        assert dict(connection.exec_driver_sql("SELECT * FROM parcel").mappings().one()) == dict(kept)


def said(path):
    """What is said of a database that cannot be opened; it is as it was before."""
    before = path.read_bytes() if path.is_file() else None
    with pytest.raises(InputError) as caught:
        open_database(path)
    assert (path.read_bytes() if path.is_file() else None) == before
    assert len(str(caught.value).splitlines()) == 1
    return str(caught.value)


def test_a_newer_form_is_refused_and_left_alone(shop):
    link = sqlite3.connect(shop.database)
    link.execute("UPDATE alembic_version SET version_num = '9999'")
    link.commit()
    link.close()
    assert "newer version" in said(shop.database)


def test_what_is_no_database_of_a_workshop(tmp_path, shop):
    path = tmp_path / "x.db"
    path.write_bytes(b"")
    assert "empty" in said(path)
    path.write_text("this is a letter\n" * 100)
    assert "no database" in said(path)
    path.unlink()
    link = sqlite3.connect(path)
    link.execute("CREATE TABLE alembic_version (version_num TEXT)")
    link.execute("CREATE TABLE songs (name TEXT)")
    link.commit()
    link.close()
    assert "not of a workshop" in said(path)
    (tmp_path / "folder").mkdir()
    assert "no record here" in said(tmp_path / "folder")
    assert "no record here" in said(tmp_path / "gone.db")
    whole = shop.database.read_bytes()
    path.write_bytes(whole[: len(whole) // 3])
    assert "damaged" in said(path)


@pytest.mark.parametrize("seed", range(12))
def test_a_flipped_bit_or_a_cut_is_told_or_harmless(tmp_path, seed):
    """Whatever the damage, a command shows the record or says one line; never a fault of the program."""
    from workshops import EXAMPLES

    from nestwright.workshop.colony_files import add_colony_file

    rng = random.Random(seed)
    shop = fresh(tmp_path / "shop")
    do(shop, "colony", lambda done: add_colony_file(done, EXAMPLES / "colonies/marigold.toml"))
    shop.engine.dispose()
    whole = shop.database.read_bytes()
    for _ in range(4):
        content = bytearray(whole)
        if rng.random() < 0.3:
            del content[rng.randrange(len(content)) :]
        else:
            for _ in range(rng.choice([1, 3, 40])):
                content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
        for end in ("-wal", "-shm"):
            Path(f"{shop.database}{end}").unlink(missing_ok=True)
        shop.database.write_bytes(bytes(content))
        for words in (
            ["colony", "list"],
            ["workshop", "history"],
            ["workshop", "undo"],
            ["backup", str(tmp_path / "b.zip")],
            ["visit", "Marigold", "--garden", "44 mL", "--date", "2026-03-05"],
        ):
            code, out, err = run(*words, "--workshop", str(shop.folder))
            assert code in (0, 2), (words, out, err)
            assert code == 0 or 0 < len(err.splitlines()) <= 3, err


def run(*words):
    import contextlib
    import io

    from nestwright.cli import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), pytest.raises(SystemExit) as end:
        main.run(list(words))
    return end.value.code, out.getvalue(), err.getvalue()


def as_nobody(work):
    """Run in a child process that has no rights of its own where the tests run as root; its exit code."""
    pid = os.fork()
    if pid:
        return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    try:
        if os.getuid() == 0:
            os.setgid(65534)
            os.setuid(65534)
        os._exit(work())
    except BaseException:
        os._exit(99)


@pytest.mark.parametrize("what", ["file", "folder", "none"])
def test_without_permission_one_message_and_nothing_lost(shop, what):
    do(shop, "build", lambda done: add_build(done, {"serial": "B1", "habitat": "h.toml"}))
    checked = ("build", "check", "B1", "seam", "--passed", "--workshop", str(shop.folder))
    listed = ("build", "list", "--workshop", str(shop.folder))
    assert [run(*words)[0] for words in (checked, listed)] == [0, 0]  # who has no rights may not import either
    before = record(shop)
    for folder in shop.folder.parents:
        if os.stat(folder).st_uid == os.getuid() and folder != Path("/") and "pytest" in str(folder):
            folder.chmod(0o755)
    for path in (shop.folder, *shop.folder.rglob("*")):
        path.chmod(0o777)
    changed = {"file": shop.database, "folder": shop.folder, "none": shop.database}[what]
    changed.chmod({"file": 0o444, "folder": 0o555, "none": 0o000}[what])

    def work():
        code, _, err = run(*checked)
        if code != 2 or len(err.splitlines()) != 1:
            return 3
        # what may be read is still told, with no place for a log beside it
        code, out, _ = run(*listed)
        return 0 if what == "none" or (code == 0 and "B1" in out) else 4

    try:
        assert as_nobody(work) == 0
    finally:
        changed.chmod(0o755)
    assert record(shop) == before


def test_a_workshop_is_made_whole_or_not_at_all(tmp_path, monkeypatch):
    made = create_workshop(tmp_path / "a", "UTC")
    assert made.setting("zone") == "UTC"
    assert not [p for p in (tmp_path / "a").iterdir() if p.name.startswith(".")]
    with pytest.raises(InputError, match="already"):
        create_workshop(tmp_path / "a", "UTC")
    with pytest.raises(InputError, match="no time zone"):
        create_workshop(tmp_path / "b", "Mars/Olympus")
    assert not (tmp_path / "b").exists()
    (tmp_path / "c").write_text("a file")
    with pytest.raises(InputError, match="cannot make"):
        create_workshop(tmp_path / "c", "UTC")

    def fails(*_):
        raise InputError("the disk is full")

    monkeypatch.setattr("nestwright.workshop.folder._into_place", fails)
    with pytest.raises(InputError, match="full"):
        create_workshop(tmp_path / "d", "UTC")
    assert not (tmp_path / "d").exists()


def test_foreign_keys_the_log_and_full_sync_are_on(shop):
    with writing(shop.engine) as connection:
        settings = [
            connection.exec_driver_sql(f"PRAGMA {k}").scalar() for k in ("foreign_keys", "journal_mode", "synchronous")
        ]
    assert settings == [1, "wal", 2]  # 2 = FULL, sqlite.org/pragma.html#pragma_synchronous


def test_a_transaction_that_fails_leaves_nothing(shop):
    before = dump(shop)

    def fails(done):
        add_build(done, {"serial": "B1", "habitat": "h.toml"})
        raise InputError("no")

    with pytest.raises(InputError):
        do(shop, "build", fails)
    assert dump(shop) == before
