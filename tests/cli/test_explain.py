"""The command `nestwright explain`."""

import json
import re
from pathlib import Path

import pytest

from nestwright.charts.explained import explained_chart
from nestwright.cli import main
from nestwright.cli.explain_text import print_explained
from nestwright.sensitivity import Explained, Share, Unknown

JSON_PAGE = Path(__file__).parents[2] / "docs/guide/json.md"
POT = "examples/workshop/habitats/single-pot.toml"


def run(words, capsys):
    with pytest.raises(SystemExit) as done:
        main.run(words)
    return done.value.code, *capsys.readouterr()


@pytest.fixture
def shares():
    def made(name, weight, error, total=True):
        one = Unknown(name, 0.1, 0.2, 0.4, "1", "judgement", "invented")
        return Share(name, one, (name,), weight, error, weight if total else None, error if total else None)

    return made


def told(*shares, chance=None):
    return Explained("Pot", "margin of pot: CO2", "%", 0.1, 0.5, 0.9, shares, chance, 640, 0)


def test_a_proof_is_explained_and_drawn(tmp_path, capsys, held_to_grammar):
    picture = tmp_path / "shares.svg"
    words = ["explain", "climate", POT, "--room", "23 degC, 45 %", "--limit", "pot/bell: CO2", "--points", "32"]
    code, out, _ = run([*words, "--picture", str(picture), "--json"], capsys)
    found = json.loads(out)
    assert code == 0
    assert found["leading"] == "garden.respiration_co2"
    assert found["result"] == "margin of pot/bell: CO2"
    assert "garden.respiration_co2" in picture.read_text()
    section = JSON_PAGE.read_text().split("## `nestwright explain climate`")[1].split("\n## ")[0]
    documented = set(re.findall(r"`([\w.]+)`", section))
    assert documented == {*found, *(f"shares.{key}" for key in found["shares"][0])}


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (["climate", POT, "--room", "23 degC, 45 %", "--points", "100"], "--points"),
        (["climate", POT, "--room", "23 degC, 45 %", "--limit", "pot: warmth"], "--limit"),
        (["forecast", "examples/workshop/colonies/marigold.toml", "--of", "leafs"], "--of"),
    ],
)
def test_what_cannot_be_asked_is_refused(words, field, capsys):
    code, out, error = run(["explain", *words], capsys)
    assert (code, out) == (2, "")
    assert field in error


def test_the_leading_unknown_and_its_rival_are_named(shares, capsys):
    print_explained(told(shares("garden.shape_factor", 0.5, 0.2), shares("assembly.discharge", 0.4, 0.2)))
    said = " ".join(capsys.readouterr().out.split())
    assert "hangs most on: garden.shape_factor" in said
    assert "Not told apart from it: assembly.discharge" in said
    assert "50 ± 20" in said


def test_where_nothing_stands_out_nothing_is_advised(shares, capsys):
    print_explained(told(shares("carry", 0.02, 0.05, total=False), chance=0.9))
    said = " ".join(capsys.readouterr().out.split())
    assert "Nothing stands out" in said
    assert "Measure next" not in said
    assert "under 7" in said


def test_no_interval_of_the_picture_leaves_its_frame(shares):
    drawn = explained_chart(told(shares("a.b", 1.1, 0.4), shares("c.d", -0.01, 0.05)), {}).to_dict()
    for row in drawn["data"]["values"] if "data" in drawn else drawn["layer"][0]["data"]["values"]:
        assert 0 <= row["low"] <= row["high"] <= 100
