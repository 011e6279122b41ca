"""`nestwright section` writes one picture, or says why not."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from nestwright.cli.main import run

FILE = str(Path(__file__).parents[2] / "examples" / "workshop" / "habitats" / "single-pot.toml")


def outcome(*arguments):
    with pytest.raises(SystemExit) as left:
        run(["section", *arguments])
    return left.value.code


def test_svg_with_a_room_shows_humidity(tmp_path, capsys):
    assert outcome(FILE, "--room", "22 degC, 50 %", "--out", str(tmp_path / "a.svg")) == 0
    shown = " ".join(ET.parse(tmp_path / "a.svg").getroot().itertext())
    assert "% RH" in shown
    assert "Single pot" in shown
    assert "a.svg" in capsys.readouterr().out


def test_png_without_a_room(tmp_path):
    assert outcome(FILE, "--out", str(tmp_path / "a.png")) == 0
    assert (tmp_path / "a.png").read_bytes().startswith(b"\x89PNG")


def test_json_writes_no_file_unasked(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert outcome(FILE, "--json") == 0
    found = json.loads(capsys.readouterr().out)
    air = next(p for p in found["pieces"] if p["kind"] == "air" and p["name"] == "pot")
    # The file says 100 mm across, 70 mm high, floor 36 mm above the bench.
    assert sorted({x for x, _ in air["outline_mm"]}) == [-50, 50]
    assert sorted({z for _, z in air["outline_mm"]}) == [36, 106]
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("bad", [("--out", "a.gif"), ("--out", "nowhere/a.svg"), ("--room", "22 parsec, 50 %")])
def test_what_cannot_be_done_leaves_nothing(tmp_path, monkeypatch, capsys, bad):
    monkeypatch.chdir(tmp_path)
    assert outcome(FILE, *bad) == 2
    assert capsys.readouterr().err.count("\n") >= 1
    assert not list(tmp_path.iterdir())
