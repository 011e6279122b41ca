"""`nestwright export`: open files out and back."""

import csv
import json

import pytest

from nestwright.cli import main


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    run(capsys, "colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01")
    run(capsys, "visit", "Fern", "--date", "2024-03-02", "--garden", "44 mL", "--note", 'two\n"lines"')
    return tmp_path / "shop"


def test_out_and_back(shop, capsys, tmp_path):
    assert run(capsys, "export", tmp_path / "open")[0] == 0
    with (tmp_path / "open/visit.csv").open(newline="") as file:
        assert [row["note"] for row in csv.DictReader(file)] == ['two\n"lines"']
    told = json.loads(run(capsys, "export", tmp_path / "open", "--back", tmp_path / "back", "--json")[1])
    assert told["rows"]["visit"] == 1
    one, other = (
        run(capsys, "colony", "show", "Fern", "--json", "--workshop", p)[1] for p in (shop, tmp_path / "back")
    )
    assert one == other
    assert run(capsys, "workshop", "undo", "--workshop", tmp_path / "back")[0] == 0  # the history came too


def test_what_is_refused(shop, capsys, tmp_path):
    run(capsys, "export", tmp_path / "open")
    for words, says in (
        (["export", tmp_path / "open"], "not empty"),
        (["export", tmp_path / "a/b"], "not there"),
        (["export", shop / "photos", "--back", tmp_path / "back"], "workshop.toml is not there"),
        (["export", tmp_path / "open", "--back", shop], "not empty"),
        (["export", tmp_path / "gone", "--back", tmp_path / "back"], "is no exported record"),
    ):
        code, out, err = run(capsys, *words)
        assert (code, out) == (2, ""), words
        assert says in err
        assert len(err.splitlines()) == 1
    file = tmp_path / "open/visit.csv"
    file.write_text(file.read_text().replace("44", "45"))
    code, _, err = run(capsys, "export", tmp_path / "open", "--back", tmp_path / "back")
    assert (code, "visit.csv: is not what was exported" in err) == (2, True)
    assert not (tmp_path / "back").exists()
