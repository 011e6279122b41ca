"""The demo from a checkout: the workshop, the run, the pictures, one page; and nothing when it is stopped."""

import json
import re

import pytest

from nestwright.cli import demo, main

DRAWN = ("section", "window", "year", "growth", "dates", "leaves", "brood", "evidence")
FILES = ("index.html", "year.csv", *(f"pictures/{name}.svg" for name in DRAWN))


def left_with(arguments):
    with pytest.raises(SystemExit) as left:
        main.run(arguments)
    return left.value.code


def test_the_demo_writes_everything_and_says_where(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert left_with(["demo", "shop", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["folder"] == "shop"
    assert told["year"]["hours"] == pytest.approx(8760, abs=24)
    assert max(told["year"]["balances"].values()) < 1e-6
    assert told["forecast"]["fit"]["days"] == 121
    # what studies/make_demo_colony.py planted: a harmful leaf, given on 2026-01-21
    causes = told["diagnosis"]["causes"]
    likeliest = max(causes.values(), key=lambda cause: cause["weight"])
    assert likeliest is causes["harmful_leaf"]
    assert "hedge by the car park" in likeliest["note"]
    early, _, late = likeliest["since"]
    assert early <= "2026-01-22"
    assert late >= "2026-01-20"
    # and weeks before that, the dry spell of December
    course, days = told["diagnosis"]["evidence"]["weight"], told["diagnosis"]["evidence"]["day"]
    before = next(i for i, day in enumerate(days) if 60 < day < 80)
    assert max(course, key=lambda name: course[name][before]) == "dry"
    folder = tmp_path / "shop"
    for name in FILES:
        assert (folder / name).stat().st_size > 500, name
    assert (folder / demo.HABITAT).exists()
    assert [p.name for p in tmp_path.iterdir()] == ["shop"], "something was left beside the folder"
    page = (folder / "index.html").read_text()
    assert not re.search(r'(?:src|href)="(?:https?:)?//', page), "the page asks another place"
    assert "<script" not in page
    for picture in FILES[2:]:
        assert f'src="{picture}"' in page
    assert str(tmp_path) not in page

    # The folder is the user's now: it is not written over unasked.
    assert left_with(["demo", "shop"]) == 2
    assert "not empty" in capsys.readouterr().err


def test_a_stop_half_way_leaves_nothing(tmp_path, monkeypatch, capsys):
    def stopped(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(demo, "_prove_and_draw", stopped)
    monkeypatch.chdir(tmp_path)
    assert left_with(["demo", "shop"]) == 130
    assert "stopped; no file was left half-written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_a_file_in_the_way_is_refused(tmp_path, capsys):
    (tmp_path / "shop").write_text("mine")
    assert left_with(["demo", str(tmp_path / "shop")]) == 2
    assert (tmp_path / "shop").read_text() == "mine"
    assert "not a folder" in capsys.readouterr().err
