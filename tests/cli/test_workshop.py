"""`nestwright workshop`, and the guide of the record, command by command."""

import json
import re
import shlex
import shutil
from pathlib import Path

import pytest

from nestwright.cli import main

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "docs/guide/workshop.md"


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    """An empty workshop that one stands in."""
    assert run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "Europe/Lisbon")[0] == 0
    monkeypatch.chdir(tmp_path / "shop")
    return tmp_path / "shop"


def test_every_command_of_the_guide_works_in_its_order(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    n = 0
    for block in re.findall(r"```sh\n(.*?)```", GUIDE.read_text(), re.DOTALL):
        for line in block.splitlines():
            words = shlex.split(line)
            assert words[0] == "nestwright"
            code, out, err = run(capsys, *words[1:])
            assert code == 0, (line, err)
            assert out.strip(), line
            n += 1
            if words[1:3] == ["workshop", "new"]:
                monkeypatch.chdir(tmp_path / "my-workshop")
                for name in ("colonies", "habitats", "rooms"):
                    shutil.copytree(ROOT / "examples/workshop" / name, Path(name), dirs_exist_ok=True)
    assert n > 25
    assert (tmp_path / "my-workshop/restored-workshop/workshop.db").exists()
    assert (tmp_path / "my-workshop/again/workshop.db").exists()


def test_the_guide_names_every_word_for_a_garden_and_every_option_of_a_visit():
    from nestwright.workshop.visits import HEALTH

    text = GUIDE.read_text()
    for word, look in HEALTH.items():
        assert f"| `{word}` | {look} |" in text
    for option in main.load("visit").params:
        for flag in option.opts:
            assert not flag.startswith("--") or flag == "--json" or flag in text, flag


def test_new_show_history_undo(shop, capsys):
    assert run(capsys, "workshop", "show")[1].splitlines()[1] == "Empty."
    assert "Nothing was recorded" in run(capsys, "workshop", "history")[1]
    code, _, err = run(capsys, "workshop", "undo")
    assert (code, "nothing to take back" in err) == (2, True)
    add = ["colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01"]
    assert run(capsys, *add)[0] == 0
    assert run(capsys, "visit", "Fern", "--date", "2024-03-02")[0] == 0
    held = json.loads(run(capsys, "workshop", "show", "--json")[1])["rows"]
    assert (held["colony"], held["visit"]) == (1, 1)
    steps = json.loads(run(capsys, "workshop", "history", "--json")[1])["steps"]
    assert [s["act"] for s in steps] == ["visit of Fern on 2024-03-02", "colony Fern"]
    assert run(capsys, "workshop", "undo", 1)[0] == 2
    assert json.loads(run(capsys, "workshop", "undo", "--json")[1]) == {"step": 2, "act": "visit of Fern on 2024-03-02"}
    assert "Taken back: colony Fern (step 1)" in run(capsys, "workshop", "undo")[1]
    assert run(capsys, "workshop", "undo", 4)[0] == 0  # the taking back is taken back
    assert "Fern" in run(capsys, "colony", "list")[1]
    assert "redo: colony Fern" in run(capsys, "workshop", "history")[1]


def test_it_is_found_from_a_folder_below_and_told_when_there_is_none(shop, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(shop / "photos")
    assert run(capsys, "workshop", "show")[0] == 0
    monkeypatch.chdir(tmp_path)
    code, _, err = run(capsys, "workshop", "show")
    assert code == 2
    assert "there is no workshop here" in err
    assert "`nestwright workshop new .` makes one here; or --workshop FOLDER" in err
    (tmp_path / "my files" / "habitats").mkdir(parents=True)
    err = run(capsys, "workshop", "show", "--workshop", tmp_path / "my files")[2]
    assert f"`nestwright workshop new '{tmp_path}/my files'` makes one here, and the files that are here stay" in err
    assert run(capsys, "workshop", "show", "--workshop", shop)[0] == 0
    for gone in (tmp_path / "gone", "x" * 300):
        code, _, err = run(capsys, "workshop", "show", "--workshop", gone)
        assert (code, "--workshop: there is no such folder" in err) == (2, True)
    assert "already" in run(capsys, "workshop", "new", shop)[2]
    assert "did you mean 'Europe/Lisbon'" in run(capsys, "workshop", "new", tmp_path / "x", "--zone", "Europe/Lisbn")[2]


HOSTILE = [
    "a\x1b[2Jb",
    "x" * 10_000,
    "ab\u202ecd",
    "a\nb",
    "",
    "   ",
    "\udcff",
    "../../etc/passwd",
    "fern.toml",
    "\x00",
]
HARMLESS = ["'; DROP TABLE colony; --", 'say "hello"', "Ålesund 木", "100%", "{name}", "%s"]


@pytest.mark.parametrize("text", HOSTILE, ids=lambda t: ascii(t[:20]))
def test_hostile_names_are_refused_in_one_line(shop, capsys, text):
    adding = ["--species", "Acromyrmex echinatior", "--start", "2024-03-01"]
    for words in (
        ["colony", "add", text, *adding],
        ["build", "add", text, "--habitat", ROOT / "examples/workshop/habitats/single-pot.toml"],
        ["visit", text],
        ["colony", "show", text],
        ["colony", "bell", text, "--usable", "3 mL"],
        ["colony", "move", text, "B1"],
        ["colony", "end", text],
        ["colony", "parcel", text, "--in", "--sent", "2024-03-01"],
        ["build", "show", text],
        ["build", "measure", text, "lid", "3 mm"],
        ["build", "check", text, "lid"],
        ["colony", "add", "Fern", *adding, "--queen", text],
        ["colony", "add", "Fern", "--species", text],
        ["colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", text],
    ):
        if words[:2] == ["build", "add"] and text in ("../../etc/passwd", "fern.toml"):
            continue  # a serial is not taken for a file
        code, out, err = run(capsys, *words)
        assert code == 2, (words, out, err)
        assert len(err.splitlines()) == 1, err
        assert len(err) < 1200
        assert "Traceback" not in err
        assert all(c.isprintable() for c in err.strip())
    assert json.loads(run(capsys, "workshop", "show", "--json")[1])["rows"]["colony"] == 0


@pytest.mark.parametrize("text", ["a\x1b[2Jb", "ab\u202ecd", "\udcff", "x" * 10_000], ids=lambda t: ascii(t[:20]))
def test_hostile_texts_are_refused_wherever_one_is_told(shop, capsys, text):
    run(capsys, "colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01")
    run(capsys, "build", "add", "B1", "--habitat", ROOT / "examples/workshop/habitats/single-pot.toml")
    before = run(capsys, "workshop", "history", "--json")[1]
    for words in (
        ["visit", "Fern", "--note", text],
        ["visit", "Fern", "--leaves", f"3 g {text}"],
        ["visit", "Fern", "--event", f"garden lost {text}"],
        ["visit", "Fern", "--event", f"garden added 3 mL from {text}"],
        ["visit", "Fern", "--health", text],
        ["visit", "Fern", "--count", f"{text} 3"],
        ["colony", "bell", "Fern", "--usable", "3 mL", "--called", text],
        ["colony", "move", "Fern", "B1", "--note", text],
        ["colony", "end", "Fern", "--reason", text],
        ["colony", "parcel", "Fern", "--in", "--sent", "2024-03-01", "--state", text],
        ["colony", "parcel", "Fern", "--in", "--sent", "2024-03-01", "--carrier", text],
        ["colony", "add", "Moss", "--species", "Acromyrmex echinatior", "--origin", text],
        ["build", "measure", "B1", text, "3 mm"],
        ["build", "check", "B1", "lid", "--value", text],
        ["build", "add", "B2", "--habitat", ROOT / "examples/workshop/habitats/single-pot.toml", "--stands", text],
    ):
        code, out, err = run(capsys, *words)
        assert code == 2, (words[:4], out, err)
        assert len(err.splitlines()) == 1, err
        assert len(err) < 1200
    assert run(capsys, "workshop", "history", "--json")[1] == before


@pytest.mark.parametrize("name", HARMLESS)
def test_odd_names_that_can_be_seen_are_only_names(shop, capsys, name):
    assert run(capsys, "colony", "add", name, "--species", "Acromyrmex echinatior", "--start", "2024-03-01")[0] == 0
    assert run(capsys, "visit", name, "--date", "2024-03-02", "--note", name)[0] == 0
    code, out, _ = run(capsys, "colony", "show", name)
    assert code == 0
    assert out.startswith(f"{name}, Acromyrmex echinatior")
    assert [c["name"] for c in json.loads(run(capsys, "colony", "list", "--json")[1])["colonies"]] == [name]


def test_days_that_cannot_be(shop, capsys):
    run(capsys, "colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01")
    run(capsys, "build", "add", "B1", "--habitat", ROOT / "examples/workshop/habitats/single-pot.toml")
    for words in (
        ["visit", "Fern"],
        ["colony", "bell", "Fern", "--usable", "3 mL"],
        ["colony", "move", "Fern", "B1"],
        ["colony", "end", "Fern"],
    ):
        assert "still to come" in run(capsys, *words, "--date", "2199-01-01")[2]
        assert "a day as" in run(capsys, *words, "--date", "1 March")[2]
        early = run(capsys, *words, "--date", "2024-02-29")
        if words[:2] != ["colony", "bell"]:  # a bell that stood before the record began stands on its first day
            assert early[0] == 2
            assert "start" in early[2]
    assert "still to come" in run(capsys, "colony", "parcel", "Fern", "--in", "--arrived", "2199-01-01")[2]
    code, _, err = run(capsys, "colony", "parcel", "Fern", "--in", "--sent", "2024-03-02", "--arrived", "2024-03-01")
    assert (code, "before it was sent" in err) == (2, True)
