"""`nestwright dryrun`: in words, as JSON, as a picture; mistakes told in one line."""

import json
import re
from pathlib import Path

import numpy as np
import pytest

from nestwright.cli.main import run
from nestwright.cli.progress import PlainProgress

ROOT = Path(__file__).parents[2]
HABITAT = ROOT / "examples/workshop/habitats/single-pot.toml"
LOGS = sorted((ROOT / "examples/workshop/dry-runs").glob("single-pot-*.csv"))
PAGE = (ROOT / "docs/guide/dryrun.md").read_text()


def called(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        run([str(one) for one in ["dryrun", *arguments]])
    return left.value.code, *capsys.readouterr()


@pytest.fixture(scope="module")
def short(tmp_path_factory):
    """The first nine hours of the example, thinned: enough for one fit, quick."""
    folder = tmp_path_factory.mktemp("short")
    made = []
    for path in LOGS:
        lines = path.read_text().splitlines()
        top = [line for line in lines if not line[0].isdigit()]
        rows = [line for line in lines if line[0].isdigit()][:108]
        target = folder / path.name
        target.write_text("\n".join(top + rows) + "\n")
        made.append(target)
    return made


def keys(document, path=""):
    for key, value in document.items():
        yield key
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], dict) else value
        if isinstance(inner, dict):
            yield from keys(inner, f"{path}{key}.")


def test_json_has_the_documented_keys(capsys, short):
    code, out, err = called([HABITAT, *short, "--json"], capsys)
    assert code == 0, err
    result = json.loads(out)
    told = set(re.findall(r"`([a-z_0-9A-Z]+)`", PAGE.split("## JSON")[1]))
    assert set(keys(result)) <= told
    lists = {"causes", "behaviour", "releases", "decays", "parts", "sums", "explanations", "limits"}
    for name in lists:
        assert result[name], name
    assert told <= set(keys(result)) | {"data/dry_run.toml"}
    assert 0 < result["chance"] <= 1
    assert sum(e["chance"] for e in result["explanations"]) <= 1.0001
    leak = next(p for p in result["parts"] if p["name"] == "leak of sump")
    assert leak["unit"] == "mm2"
    assert leak["high"] > 2  # 7.5 mm2 were planted


def test_words_and_picture(capsys, monkeypatch, short, tmp_path, held_to_grammar):
    picture = tmp_path / "dry.svg"
    shares = []
    monkeypatch.setattr(PlainProgress, "update", lambda *_, completed, description: shares.append(completed))
    code, out, err = called([HABITAT, *short, "--picture", picture], capsys)
    assert code == 0, err
    steps = np.diff([*shares, 1.0])
    assert shares[0] == 0
    assert 0 <= steps.min() <= steps.max() < 0.2, "the bar rises by real steps, none of them long"
    assert "leak of sump" in out
    assert "times the design" in out
    assert "CO2 in a closed or low room smothers" in out
    assert "Dry ice" in out
    assert "mains near water" in out
    drawn = picture.read_text()
    assert "Dots: loggers" in drawn
    assert "relative humidity, %" in drawn
    assert "CO2, ppm" in drawn
    assert list(tmp_path.iterdir()) == [picture]


def test_an_interrupt_leaves_nothing(capsys, monkeypatch, short, tmp_path):
    def stop(*_, completed, description):
        if completed > 0.05:
            raise KeyboardInterrupt

    shop = tmp_path / "shop"
    for words in (["workshop", "new", shop], ["build", "add", "A-1", "--habitat", HABITAT.name, "--workshop", shop]):
        if words[0] == "build":
            (shop / HABITAT.name).write_text(HABITAT.read_text())
        with pytest.raises(SystemExit) as left:
            run([str(one) for one in words])
        assert left.value.code == 0
    before = {p for p in shop.rglob("*") if "workshop.db" not in p.name}
    capsys.readouterr()
    monkeypatch.setattr(PlainProgress, "update", stop)
    code, out, err = called(["A-1", *short, "--picture", shop / "dry.svg", "--workshop", shop], capsys)
    assert (code, out) == (130, "")
    assert "stopped" in err
    assert {p for p in shop.rglob("*") if "workshop.db" not in p.name} == before
    with pytest.raises(SystemExit):
        run(["build", "show", "A-1", "--workshop", str(shop), "--json"])
    assert json.loads(capsys.readouterr().out)["quality"] == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([HABITAT, "nowhere.csv"], "nowhere.csv: cannot be read"),
        ([HABITAT, LOGS[0]], "what air the room had"),
        ([HABITAT, *LOGS, "--room", "21 degC, 45 %"], "one of the two"),
        ([HABITAT, *LOGS, "--start", "filed"], "did you mean 'filled'"),
        ([HABITAT, *LOGS, "--picture", "dry.gif"], ".svg or .png"),
        ([LOGS[0], *LOGS], "single-pot-inside.csv"),
        ([HABITAT.with_name("three-pot.toml"), *LOGS], "has no such chamber"),
    ],
)
def test_a_mistake_is_told_in_one_line(capsys, arguments, says):
    code, out, err = called(arguments, capsys)
    assert code == 2
    assert says in err
    assert "Traceback" not in err
    assert out == ""
