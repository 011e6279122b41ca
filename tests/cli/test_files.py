"""A file is written whole or not at all."""

import os

import polars
import pytest
from invented import year

from nestwright.cli.year_table import write_table
from nestwright.climate.run_columns import columns
from nestwright.errors import InputError
from nestwright.files import check_place, replacing, write_whole


def test_an_interrupt_leaves_the_old_file_and_nothing_else(tmp_path):
    target = tmp_path / "run.csv"
    target.write_text("old")

    def stopped():
        with replacing(target) as scratch:
            scratch.write_text("half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stopped()
    assert target.read_text() == "old"
    assert os.listdir(tmp_path) == ["run.csv"]


def test_replaced_in_one_step(tmp_path):
    target = tmp_path / "a.svg"
    write_whole(target, "one")
    write_whole(target, b"two")
    assert target.read_text() == "two"
    assert os.listdir(tmp_path) == ["a.svg"]


def test_missing_folder_is_said(tmp_path):
    with pytest.raises(InputError, match=f"no such folder; found {tmp_path / 'no'}$"):
        write_whole(tmp_path / "no" / "deeper" / "a.svg", "x")
    with pytest.raises(InputError, match="is a folder"):
        write_whole(tmp_path, "x")


def test_a_place_is_checked_and_left_as_it_was(tmp_path):
    assert check_place(tmp_path / "a.svg") == tmp_path / "a.svg"
    (tmp_path / "b.svg").write_text("old")
    check_place(tmp_path / "b.svg")
    assert (tmp_path / "b.svg").read_text() == "old"
    assert os.listdir(tmp_path) == ["b.svg"]


@pytest.mark.parametrize(
    ("place", "says"),
    [
        ("no/a.svg", "there is no such folder; found no$"),
        ("no/deeper/a.svg", "there is no such folder; found no$"),
        ("file/a.svg", "is a file and no folder to write into; found file$"),
        ("here", "is a folder, not a file"),
        ("/proc/a.svg", "cannot write into the folder; found /proc: "),
        ("x" * 300 + ".svg", "cannot write into the folder"),
    ],
)
def test_where_nothing_can_be_written_is_said_beforehand(tmp_path, monkeypatch, place, says):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "file").write_text("x")
    (tmp_path / "here").mkdir()
    with pytest.raises(InputError, match=says):
        check_place(place)
    assert sorted(os.listdir(tmp_path)) == ["file", "here"]


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_the_run_comes_back_from_its_table(tmp_path, suffix):
    target = write_table(year(), tmp_path / f"run{suffix}")
    read = polars.read_csv(target) if suffix == ".csv" else polars.read_parquet(target)
    assert read.columns == list(columns(year()))
    assert read["pot.temperature_degC"][0] == 24.0
    assert read["pot.relative_humidity_pct"][5] == 97.0
    assert read["water.pot_g"][10] == pytest.approx(99.0)
    assert len(read) == 49


def test_a_wrong_table_name_is_refused(tmp_path):
    with pytest.raises(InputError, match=r"\.csv or \.parquet"):
        write_table(year(), tmp_path / "run.xlsx")
