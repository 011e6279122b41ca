"""The command `rescue`: what it prints, what it documents, and what it refuses."""

import json
import re
from pathlib import Path

import pytest

from nestwright.cli.main import run
from nestwright.cli.rescue import answer, chance, table_of, workers_for
from nestwright.colony.results import Rescue, RescueCase

ROOT = Path(__file__).parents[2]
COLONY = """\
format = 1
name = "Landing"
species = "Acromyrmex echinatior"
start = 2031-02-03
[arrival]
workers = 45
garden = "25 mL"
[[event]]
date = 2031-02-10
what = "garden lost"
"""
SHORT = ["--garden", "5 mL, 20 mL", "--days", "20"]


def told(capsys, *words):
    with pytest.raises(SystemExit) as end:
        run(["rescue", *map(str, words)])
    out, err = capsys.readouterr()
    return end.value.code, " ".join(out.split()), err


def case(garden, through, held=(1.2, 3.0, 7.1), **changed):
    values = {
        "garden": garden,
        "pulls_through": through,
        "interval": (max(0.0, through - 0.3), 1.0),
        "held_by": held,
        "first_workers": (2.0, 5.0, 9.0),
        "workers_at_end": (10.0, 35.4, 80.0),
        "garden_at_end": (0.0, 22.61, 57.0),
    }
    return RescueCase(**(values | changed))


def invented(*cases, queen=True, enough=None):
    return Rescue("Atta sexdens", queen, 4.0, (1.0, 2.0, 3.0), 90, cases, enough, ("larva_food",), ("a note",))


def test_the_answer_names_the_least_amount_that_is_enough():
    text = answer(invented(case(5.0, 0.4), case(10.0, 0.93), case(20.0, 0.97), enough=10.0))
    assert "10 mL is the least" in text
    assert "93 %" in text
    assert "3 workers (2 to 8)" in text


def test_the_answer_says_when_none_is_enough():
    text = answer(invented(case(5.0, 0.4), case(10.0, 0.61)))
    assert "None of the amounts" in text
    assert "10 mL: 61 %" in text


def test_without_a_queen_the_answer_is_how_long_it_lasts():
    lasting = {"workers_last": (40.0, 70.0, None), "garden_lasts": (50.0, 80.0, None)}
    text = answer(invented(case(5.0, 0.0, **lasting), queen=False))
    assert "cannot go on" in text
    assert "70 days (40 to over 90)" in text
    assert "80 days (50 to over 90)" in text


def test_a_row_has_the_digits_of_its_range():
    names, rows = table_of(invented(case(5.0, 0.4), case(100.0, 0.997, held=(20.0, 33.2, 101.0))))
    assert dict(zip(names, rows[0], strict=True)) == {
        "garden mL": "5",
        "pulls through": "40 % (10 to 100)",
        "to tend it": "3 (2 to 8)",
        "next worker, day": "5 (2 to 9)",
        "workers at end": "35 (10 to 80)",
        "garden at end mL": "23 (0 to 57)",
    }
    assert rows[1][:3] == ["100*", "over 99 % (70 to 100)", "34 (20 to 110)"]


def test_a_garden_that_the_queen_holds_alone():
    assert "queen" in workers_for(case(1.0, 0.5, held=(0.0, 0.0, 0.0)))


def test_no_chance_is_never_or_certain():
    assert chance(0.0) == "under 1 %"
    assert chance(1.0) == "over 99 %"


@pytest.mark.parametrize("more", [[], ["--no-queen"]])
def test_cautions_are_always_shown(capsys, more):
    code, out, _ = told(capsys, "Atta cephalotes", "--workers", 30, "--pupae", 5, *SHORT, *more)
    assert code == 0
    for words in (
        "its workers are not",
        "Escovopsis",
        "plant pests",
        "Local rules",
        "pulls through: after 20 days",
        "not counted",
        "30 workers",
        "5 pupae",
    ):
        assert words in out


def documented():
    text = (ROOT / "docs/guide/json.md").read_text().split("\n## `nestwright rescue`\n")[1].split("\n## ")[0]
    return {key for line in text.splitlines() for key in re.findall(r"^\| `([^`]+)`", line)}


def test_json_has_the_documented_keys(capsys):
    code, out, _ = told(capsys, "Atta sexdens", "--workers", 20, "--larvae", 4, *SHORT, "--json")
    data = json.loads(out)
    keys = set(data) | {f"brood.{k}" for k in data["brood"]} | {f"cases.{k}" for k in data["cases"][0]}
    assert code == 0
    assert keys == documented()
    assert [c["garden_mL"] for c in data["cases"]] == [5, 20]
    assert data["brood"] == {"eggs": 0, "larvae": 4, "pupae": 0}


def test_a_picture_is_written(capsys, tmp_path):
    path = tmp_path / "rescue.svg"
    code, out, _ = told(capsys, "Atta sexdens", "--workers", 20, *SHORT, "--picture", path)
    assert code == 0
    assert path.read_text().lstrip().startswith("<svg")
    assert "Written:" in out


def test_a_colony_file_gives_the_ants(capsys, tmp_path):
    path = tmp_path / "colony.toml"
    path.write_text(COLONY)
    code, out, err = told(capsys, path, *SHORT, "--json")
    data = json.loads(out)
    assert code == 0, err
    assert data["species"] == "Acromyrmex echinatior"
    assert 30 < data["workers"] < 70
    assert data["queen"] is True


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["Ata sexdens", "--workers", "9"], "did you mean 'Atta sexdens'?"),
        (["Atta sexdens"], "--workers"),
        (["Atta sexdens", "--workers", "-1"], "whole number"),
        (["Atta sexdens", "--workers", "0", "--no-queen"], "nothing is left"),
        (["Atta sexdens", "--workers", "9", "--garden", "5"], "unit is missing"),
        (["Atta sexdens", "--workers", "9", "--garden", "5 g"], "wrong unit"),
        (["Atta sexdens", "--workers", "9", "--garden", "5 mL,"], "--garden"),
        (["Atta sexdens", "--workers", "9", "--temperature", "24"], "unit is missing"),
        (["Atta sexdens", "--workers", "9", "--temperature", "75 degC"], "5 to 40 degC"),
        (["Atta sexdens", "--workers", "9", "--days", "0"], "--days"),
        (["Atta sexdens", "--workers", "9", "--picture", "a.gif"], ".svg or .png"),
        (["none.toml"], "none.toml"),
        (["none.toml", "--eggs", "3"], "stands beside a colony file"),
    ],
)
def test_what_cannot_be_used_is_told_in_a_line(capsys, words, says):
    code, out, err = told(capsys, *words)
    assert code == 2
    assert out == ""
    assert says in err
    assert "Traceback" not in err
    assert err.count("\n") == 1
