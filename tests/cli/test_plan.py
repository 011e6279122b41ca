"""`nestwright plan`: what to do and when in words, as JSON and as a picture; mistakes told in one line."""

import json
import re
from datetime import date
from pathlib import Path

import pytest

from nestwright.cli.main import run
from nestwright.wording.plan import dated_text, part_text, span_text

ROOT = Path(__file__).parents[2]
COLONY = """
format = 1
name = "Stair [two]"
species = "Acromyrmex echinatior"
start = 2031-03-01

[arrival]
garden = "30 mL"
workers = "about 70"

[housing]
chamber = "1.5 L"
opening = "90 mm"
lid = "130 mm"
headroom = "110 mm"
making_time = "8 day"

[[bell]]
from = 2031-03-01
name = "first"
usable = "80 mL"
diameter = "60 mm"
height = "50 mm"

[[visit]]
date = 2031-03-11
garden = "36 mL"

[[visit]]
date = 2031-03-31
garden = "48 mL"
workers = "120"
"""
TODAY = date(2031, 3, 31)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "stair.toml"
    path.write_text(COLONY)
    return path


def called(capsys, *words):
    with pytest.raises(SystemExit) as end:
        run(["plan", *map(str, words)])
    out, err = capsys.readouterr()
    return end.value.code, out, err


def test_it_says_what_to_do_when_and_what_it_beat(capsys, file, tmp_path):
    picture = tmp_path / "plan.svg"
    code, out, _ = called(capsys, file, "--days", 90, "--picture", picture)
    assert code == 0
    assert "Stair [two]" in out
    step = re.search(r"1\. (\d{4}-\d\d-\d\d): (\d+) mL (dome|cylinder), (\d+) mm wide and (\d+) mm high outside", out)
    assert date.fromisoformat(step[1]) >= date(2031, 4, 8)
    assert int(step[4]) <= 90
    assert "passes the opening" in out
    begin = re.search(r"start making it by (\S+)", out)[1]
    assert (date.fromisoformat(step[1]) - date.fromisoformat(begin)).days == 8
    assert "leave it as it is" in out
    assert "days that a change counts" in out
    assert "±: standard error" in out
    assert re.search(r"Cost: as bad as \d+(\.\d)? ± \d+(\.\d)? days just outside the band", " ".join(out.split()))
    assert "as many as the colony takes, also where" in " ".join(out.split())
    assert out.rstrip().endswith(f"Written: {picture}")
    assert "local rules" in out.lower()
    assert picture.read_text().startswith("<svg")


def keys(document, path=""):
    for key, value in document.items():
        yield path + key
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], dict) else value
        # the steps of an alternative are told in the row of their list
        if isinstance(inner, dict) and path + key != "beaten.steps":
            yield from keys(inner, f"{path}{key}.")


def test_json_has_the_keys_that_are_documented(capsys, file):
    code, out, err = called(capsys, file, "--days", 60, "--sizes", "150 mL, 0.3 L", "--json")
    assert code == 0
    assert err == ""
    made = json.loads(out)
    assert {s["usable_mL"] for s in made["steps"] if s["kind"] == "bell"} <= {150, 300}
    assert made["steps"]
    text = (ROOT / "docs/guide/json.md").read_text().split("\n## `nestwright plan`\n")[1].split("\n## ")[0]
    told = {
        key
        for line in text.splitlines()
        if line.startswith("| `")
        for key in re.findall(r"`([^`]+)`", line.split("|")[1])
    }
    assert told == set(keys(made))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--sizes", "60"), "--sizes: the unit is missing; found '60'; allowed: volumes of 0.001 mL to 1000 L"),
        (("--sizes", "60 mL, 3 mm"), "wrong unit for a volume; found '3 mm'; allowed: volumes of"),
        (("--sizes", "60 mL, -3 mL"), "is negative; found '-3 mL'; allowed: volumes of"),
        (("--sizes", "60 mL, 2000 L"), "is too large; found '2000 L'; allowed: volumes of"),
        (("--sizes", "9 L"), "neither goes in nor stands"),
        (("--days", "3"), "--days"),
        (("--handling", "-1"), "--handling"),
        (("--picture", "plan.gif"), "two formats"),
    ],
)
def test_mistakes_are_told_before_the_work(capsys, file, words, says):
    code, out, err = called(capsys, file, *words)
    assert (code, out) == (2, "")
    assert says in err
    assert len(err.strip().splitlines()) == 1


def test_without_any_room_it_names_the_key(capsys, tmp_path, monkeypatch):
    """Said after the fit of the record: two seconds for what could be seen at once."""
    from nestwright.colony import fit as fitting

    def never(*_, **__):
        raise AssertionError("fitted before it was checked")

    monkeypatch.setattr(fitting, "fit", never)
    path = tmp_path / "bare.toml"
    path.write_text(COLONY.split("[housing]")[0] + '\n[[visit]]\ndate = 2031-03-11\ngarden = "36 mL"\n')
    code, out, err = called(capsys, path)
    assert (code, out) == (2, "")
    assert "housing.chamber" in err
    assert len(err.splitlines()) == 1


def test_a_colony_that_dies_out_is_told_what_to_do_instead(capsys, tmp_path):
    """Said "Nothing: leave the housing as it is", a cost of 0.0 days, and the reason among the notes at the end."""
    path = tmp_path / "lost.toml"
    text = COLONY.split("[[visit]]")[0].replace('garden = "30 mL"', 'garden = "0 mL"')
    path.write_text(text + '\n[[visit]]\ndate = 2031-03-03\ngarden = "0 mL"\nworkers = 60\n')
    code, out, _ = called(capsys, path, "--days", 60)
    says = " ".join(out.split())
    assert code == 0
    assert "What to do Workers and garden live to the end in 0 of 10 outcomes: find what is wrong first" in says
    assert "`nestwright rescue` says what it needs" in says
    assert "By the record the garden is gone since 2031-03-01: see `nestwright rescue FILE` Record of" in says
    assert says.count("By the record the garden is gone") == 1
    assert "Nothing: leave" not in says
    assert "Cost:" not in says


@pytest.mark.parametrize(
    ("name", "usable", "says"),
    [("dome", 180.0, "180 mL dome"), ("2 chambers", 300_000.0, "2 chambers, 300 L"), ("dome", 90.0, "90 mL dome")],
)
def test_a_part_is_told_with_its_volume(name, usable, says):
    assert part_text(name, usable) == says


@pytest.mark.parametrize(
    ("three", "says"),
    [
        ([30.0, 43.2, 51.0], "43 (30 to 51)"),
        # printed as "100 (100 to 100) %" and "93 (93 to 100)"
        ([99.6, 99.9, 100.0], "100"),
        ([92.9, 93.2, 100.0], "93 to 100"),
    ],
)
def test_a_middle_that_is_an_end_is_not_told_twice(three, says):
    assert span_text(three) == says


def test_days_of_a_plan_before_today_are_past():
    now = date(2031, 4, 8)
    assert dated_text(date(2031, 4, 7), now) == "2031-04-07, past"
    assert dated_text(now, now) == dated_text(now, None) == "2031-04-08"
