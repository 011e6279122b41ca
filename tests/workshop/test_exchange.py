"""The record as open files and back: nothing lost, nothing changed unseen."""

import contextlib
import csv
import hashlib
import tempfile
import tomllib
from pathlib import Path

import numpy as np
import polars
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from workshops import contents, do, fill, fresh, held, record

from nestwright.errors import InputError
from nestwright.workshop.colonies import add_colony
from nestwright.workshop.database import HEAD
from nestwright.workshop.exchange import export_record, import_record
from nestwright.workshop.folder import Workshop
from nestwright.workshop.tables import metadata


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(contents())
def test_what_goes_out_comes_back_the_same(made):
    with tempfile.TemporaryDirectory() as place:
        shop = fresh(Path(place) / "shop")
        fill(shop, made)
        export_record(shop, Path(place) / "open")
        import_record(Path(place) / "open", Path(place) / "back")
        assert held(Workshop(Path(place) / "back")) == held(shop)


@pytest.fixture(scope="module")
def opened(tmp_path_factory):
    """A small record as open files, with a reading and a note of two lines."""
    place = tmp_path_factory.mktemp("opened")
    shop = fresh(place / "shop")
    values = {"name": "Fern", "species": "Acromyrmex echinatior", "start": "2024-03-01", "note": 'two\n"lines"'}
    do(shop, "colony Fern", lambda done: add_colony(done, values))

    from nestwright.workshop.database import writing
    from nestwright.workshop.readings import keep_channel, keep_logger, store_readings

    channel = do(shop, "logger", lambda done: keep_channel(done, keep_logger(done, "L"), "t", "temperature", "degC"))
    with writing(shop.engine) as connection:
        store_readings(connection, channel, np.arange(100) * 60_000, np.linspace(20, 25, 100))
    export_record(shop, place / "open")
    return place / "open"


def test_the_files_can_be_read_by_others(opened):
    """By the standard library and by polars: a text of two lines, an empty text, and no text at all."""
    with (opened / "colony.csv").open(newline="", encoding="utf-8") as file:
        row = next(csv.DictReader(file))
    assert (row["name"], row["note"], row["origin"]) == ("Fern", 'two\n"lines"', "")
    assert polars.read_parquet(opened / "readings/channel-1.parquet").shape == (100, 2)
    about = tomllib.loads((opened / "workshop.toml").read_text())
    assert about["zone"] == "Europe/Lisbon"
    for name, told in about["sha256"].items():
        assert hashlib.sha256((opened / name).read_bytes()).hexdigest() == told


def test_every_table_of_the_record_is_in_it(opened):
    made = {file.stem for file in opened.glob("*.csv")}
    assert made == {t.name for t in metadata.sorted_tables} - {"reading", "rollup"}


def _refused(folder, into):
    with pytest.raises(InputError) as caught:
        import_record(folder, into)
    assert not into.exists()
    assert not [p for p in into.parent.iterdir() if p.name.startswith(".")], "a scratch folder is left"
    return str(caught.value)


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_changed_file_is_refused_by_its_name(opened, data):
    import shutil

    file = data.draw(
        st.sampled_from(sorted(p.relative_to(opened).as_posix() for p in opened.rglob("*") if p.is_file()))
    )
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "open"
        shutil.copytree(opened, folder)
        content = bytearray((folder / file).read_bytes())
        spot = data.draw(st.integers(0, len(content) - 1))
        how = data.draw(st.sampled_from(["flip", "cut", "more", "gone", "empty"]))
        if how == "flip":
            content[spot] ^= 1 << data.draw(st.integers(0, 7))
        elif how == "cut":
            del content[spot:]
        elif how == "more":
            content += b"x\n"
        (folder / file).unlink()
        if how != "gone":
            (folder / file).write_bytes(b"" if how == "empty" else bytes(content))
        into = Path(place) / "back"
        if file == "workshop.toml":  # its comments and its zone may change without harm to the record
            with contextlib.suppress(InputError):
                import_record(folder, into)
            return
        said = _refused(folder, into)
        assert len(said.splitlines()) == 1
        assert Path(file).name in said


def test_rows_that_contradict_the_tables_are_refused_even_with_right_sums(opened, tmp_path):
    import shutil

    for change in (("Fern", "Fern\0"), ("laying", "asleep"), ("2024-03-01", "1 March"), ("free", "fre")):
        folder = tmp_path / f"open-{change[1][:3]}"
        shutil.copytree(opened, folder)
        file = folder / "colony.csv"
        before = hashlib.sha256(file.read_bytes()).hexdigest()
        file.write_text(file.read_text().replace(change[0], change[1]))
        about = folder / "workshop.toml"
        about.write_text(about.read_text().replace(before, hashlib.sha256(file.read_bytes()).hexdigest()))
        if change[0] == "Fern":  # any text is a name here
            import_record(folder, tmp_path / "named")
            continue
        assert "does not fit" in _refused(folder, tmp_path / "back")


def test_places_that_cannot_be_written_or_read(opened, shop, tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "mine.txt").write_text("mine")
    for target in (tmp_path / "full", tmp_path / "none" / "deep", tmp_path / "full" / "mine.txt"):
        with pytest.raises(InputError):
            export_record(shop, target)
        with pytest.raises(InputError):
            import_record(opened, target)
    assert (tmp_path / "full" / "mine.txt").read_text() == "mine"
    assert "workshop.toml" in _refused(tmp_path / "full", tmp_path / "back")
    export_record(shop, tmp_path / "out")
    assert record(shop)["colony"] == []


@pytest.mark.parametrize(("told", "says"), [("9999", "newer"), ("0000", "never had")])
def test_another_form_is_told(opened, tmp_path, told, says):
    import shutil

    shutil.copytree(opened, tmp_path / "open")
    about = tmp_path / "open" / "workshop.toml"
    about.write_text(about.read_text().replace(f'form = "{HEAD}"', f'form = "{told}"'))
    assert says in _refused(tmp_path / "open", tmp_path / "back")


def _cell(value, kind):
    if value is None:
        return ""
    if kind == "BOOLEAN":
        return "true" if value else "false"
    return '"' + value.replace('"', '""') + '"' if isinstance(value, str) else str(value)


def test_a_record_that_was_exported_in_the_first_form_comes_back_in_the_newest(tmp_path):
    """The files as the first form wrote them: a CSV of each of its tables, with the columns that it had."""
    import sqlite3

    link = sqlite3.connect(":memory:")
    link.executescript((Path(__file__).parent / "form-0001.sql").read_text())
    link.execute("INSERT INTO parcel VALUES (1, 'p', 'in', 1, NULL, '2024-02-27', NULL, 'night post', '', '')")
    old = tmp_path / "old"
    (old / "readings").mkdir(parents=True)
    names = [n for (n,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    rows = {}
    for name in sorted(set(names) - {"alembic_version", "reading", "rollup"}):
        found = link.execute(f'SELECT * FROM "{name}"')
        every, head = found.fetchall(), [d[0] for d in found.description]
        kinds = [row[2] for row in link.execute(f'PRAGMA table_info("{name}")')]
        lines = [",".join(_cell(v, kind) for v, kind in zip(row, kinds, strict=True)) for row in every]
        (old / f"{name}.csv").write_text("\n".join([",".join(head), *lines]) + "\n", "utf-8")
        rows[name] = len(every)
    at, value = np.arange(5) * 60_000, np.arange(5.0)
    polars.DataFrame({"at": at, "value": value}).write_parquet(old / "readings/channel-1.parquet")
    rows["reading"] = 5
    sums = {f.relative_to(old).as_posix(): hashlib.sha256(f.read_bytes()).hexdigest() for f in old.rglob("*.*")}
    lines = ['form = "0001"', 'zone = "Europe/Lisbon"', "[rows]", *(f"{k} = {v}" for k, v in rows.items())]
    lines += ["[sha256]", *(f'"{k}" = "{v}"' for k, v in sums.items())]
    (old / "workshop.toml").write_text("\n".join(lines) + "\n")
    import_record(old, tmp_path / "back")
    back = record(Workshop(tmp_path / "back"))
    assert len(back["parcel"]) == 1
    assert back["parcel"][0][:8] == (1, "p", "in", 1, None, "2024-02-27", None, "night post")
    assert {k: len(v) for k, v in back.items() if rows.get(k)} == {k: v for k, v in rows.items() if v and k != "change"}
    export_record(Workshop(tmp_path / "back"), tmp_path / "new")
    assert tomllib.loads((tmp_path / "new/workshop.toml").read_text())["form"] == HEAD
    (old / "parcel.csv").unlink()
    assert "parcel.csv" in _refused(old, tmp_path / "again")
