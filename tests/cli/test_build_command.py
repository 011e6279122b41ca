"""`nestwright build`: serials, measured values, checks."""

import json
import shutil
from pathlib import Path

import pytest

from nestwright.cli import main

EXAMPLES = Path(__file__).parents[2] / "examples/workshop"


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    shutil.copytree(EXAMPLES / "habitats", tmp_path / "shop/habitats", dirs_exist_ok=True)
    return tmp_path / "shop"


ADD = ["build", "add", "B1", "--habitat", "habitats/single-pot.toml", "--date", "2024-02-01"]


def test_from_the_design_to_the_checks(shop, capsys):
    assert "No builds yet" in run(capsys, "build", "list")[1]
    assert run(capsys, *ADD, "--stands", "shelf", "--note", "first of its kind")[0] == 0
    assert run(capsys, "build", "measure", "B1", "inner width", "118.4 mm", "--date", "2024-02-02")[0] == 0
    assert (
        run(capsys, "build", "check", "B1", "heater", "--passed", "--value", "36 degC", "--date", "2024-02-02")[0] == 0
    )
    assert "none" not in run(capsys, "build", "list")[1]
    assert run(capsys, "build", "check", "B1", "lid")[1] == "Build B1: lid, still to do\n"
    assert "1 to do" in run(capsys, "build", "list")[1]
    assert run(capsys, "build", "check", "B1", "seam", "--failed")[1] == "Build B1: seam, failed\n"
    assert "1 failed" in run(capsys, "build", "list")[1]
    told = json.loads(run(capsys, "build", "show", "B1", "--json")[1])
    assert (told["habitat"], told["made"], told["stands"]) == ("habitats/single-pot.toml", "2024-02-01", "shelf")
    assert told["measured"] == [{"what": "inner width", "value": "118.4 mm", "day": "2024-02-02", "note": ""}]
    assert [(q["what"], q["passed"]) for q in told["quality"]] == [("heater", True), ("lid", None), ("seam", False)]
    text = run(capsys, "build", "show", "B1")[1]
    for part in ("Stands: shelf", "Note: first of its kind", "118.4 mm", "36 degC", "still to do"):
        assert part in text
    run(capsys, "build", "add", "B0", "--habitat", "single-pot")
    assert [one["habitat"] for one in json.loads(run(capsys, "build", "list", "--json")[1])["builds"]] == [
        "habitats/single-pot.toml", "habitats/single-pot.toml",
    ]  # fmt: skip
    assert run(capsys, "workshop", "undo")[0] == 0
    assert json.loads(run(capsys, "build", "list", "--json")[1])["builds"][0]["serial"] == "B1"
    for _ in range(4):
        assert run(capsys, "workshop", "undo")[0] == 0
    assert json.loads(run(capsys, "build", "show", "B1", "--json")[1])["measured"] == []


def test_what_is_refused(shop, capsys):
    run(capsys, *ADD)
    for words, says in (
        (ADD, "a build of this serial already; found 'B1'"),
        (["build", "add", "B2", "--habitat", "habitats/gone.toml"], "gone.toml"),
        (["build", "add", "B2", "--habitat", "singlepot"], "did you mean 'single-pot'"),
        (["build", "add", "B2", "--habitat", "habitats"], "habitats"),
        (["build", "add", "B2", "--habitat", "habitats/single-pot.toml", "--date", "2199-01-01"], "still to come"),
        (["build", "measure", "B2", "lid", "3 mm"], "did you mean 'B1'"),
        (["build", "measure", "B1", "", "3 mm"], "what: is empty"),
        (["build", "measure", "B1", "lid", " "], "value: is empty"),
        (["build", "check", "B1", "x" * 300], "what: is too long; found 300 characters"),
        (["build", "show", "b"], "is no build of this workshop"),
        (["build", "add", "B2"], "Missing option"),
    ):
        code, out, err = run(capsys, *words)
        assert (code, out) == (2, "")
        assert says in err, err
    assert len(json.loads(run(capsys, "build", "list", "--json")[1])["builds"]) == 1


def test_a_measured_value_written_as_a_key_must_be_one_of_the_design(shop, capsys):
    assert run(capsys, *ADD)[0] == 0
    misspelt = {"vent.crwn.diameter": "crown", "chamber.pot.hieght": "height", "vnt.crown.count": "vent.crown.count"}
    for key, near in misspelt.items():
        code, out, err = run(capsys, "build", "measure", "B1", key, "5 mm")
        assert (code, out) == (2, "")
        assert f"did you mean {near!r}" in " ".join(err.split())
    assert run(capsys, "build", "measure", "B1", "vent.crown.diameter", "5.02 mm")[0] == 0
    assert run(capsys, "build", "measure", "B1", "inner width, at the rim", "118.4 mm")[0] == 0
