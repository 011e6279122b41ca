"""`nestwright cost` and `nestwright batch` on an invented habitat of hand-made parts."""

import importlib.util
import json
import re
import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from nestwright.cli import main, making
from nestwright.habitat.file import read_habitat
from nestwright.parts.layouts import Product

SPEC = importlib.util.spec_from_file_location("made", Path(__file__).with_name("made.py"))
made = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(made)
PLUG = '\n[[bought]]\nname = "silicone plug 12 mm"\nprice = 0.45\n'


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """A workshop's folder with the example's habitats and lists; every habitat is made of the hand-made parts."""
    folder = tmp_path / "shop"
    for name in ("habitats", "parts"):
        shutil.copytree(made.ROOT / "examples/workshop" / name, folder / name)
    prices = folder / "parts/prices.toml"
    prices.write_text(prices.read_text() + PLUG)

    def product_of(path):
        habitat = read_habitat(path)
        assembly = replace(made.assembly(), habitat=habitat.name, revision=habitat.revision)
        return habitat, Product(assembly, made.measured(), str(path))

    monkeypatch.setattr(making, "product_of", product_of)
    monkeypatch.chdir(folder)
    return folder


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as caught:
        main.run([str(one) for one in arguments])
    said = capsys.readouterr()
    return caught.value.code, said.out, said.err


def keys(document, path=""):
    for key, value in document.items():
        yield path + key
        inner = value[0] if isinstance(value, list) and value and isinstance(value[0], dict) else value
        if isinstance(inner, dict):
            yield from keys(inner, f"{path}{key}.")


def documented(heading):
    text = (made.ROOT / "docs/guide/json.md").read_text().split(f"\n## `{heading}`\n")[1].split("\n## ")[0]
    return {re.findall(r"`([^`]+)`", line)[0] for line in text.splitlines() if line.startswith("| `")}


def test_cost_in_words_and_as_json(shop, capsys):
    code, out, _ = run(capsys, "cost", "habitats/three-pot.toml", "--batch", "10,1")
    assert code == 0
    assert "at least" not in out
    assert "Invented prices: no supplier asks them." in out
    code, out, _ = run(capsys, "cost", "habitats/three-pot.toml", "--json")
    found = json.loads(out)
    assert set(keys(found)) == documented("nestwright cost") - {f"missing.{k}" for k in ("what", "unit", "nearest")}
    assert [one["count"] for one in found["batches"]] == [1, 10, 50, 200]
    for one in found["batches"]:
        sale = {k: Decimal(v) for k, v in one["price"].items()}
        assert sale["price"] - sale["tax"] - sale["fees"] - sale["cost"] == sale["margin"]


def test_a_missing_price_is_no_price(shop, capsys):
    prices = shop / "parts/prices.toml"
    prices.write_text(prices.read_text().replace(PLUG, ""))
    code, out, _ = run(capsys, "cost", "habitats/three-pot.toml")
    assert code == 0
    assert re.search(r"10 +at least +\d+ +open +open +open", out)
    assert "silicone plug 12 mm" in out
    code, out, _ = run(capsys, "cost", "habitats/three-pot.toml", "--json")
    found = json.loads(out)
    assert set(keys(found)) | {f"batches.price.{k}" for k in ("price", "net", "tax", "fees", "cost", "margin")} == (
        documented("nestwright cost")
    )
    assert found["batches"][0]["price"] is None


def test_without_lists_nothing_is_invented(shop, capsys):
    shutil.rmtree(shop / "parts")
    code, _, err = run(capsys, "cost", "habitats/three-pot.toml")
    assert code == 2
    assert "the program has no prices of its own" in err
    code, _, err = run(capsys, "batch", "habitats/three-pot.toml", "--count", "3", "--prices", made.PRICES)
    assert code == 2
    assert "no list of machines" in err
    code, _, err = run(capsys, "cost", "habitats/three-pot.toml", "--batch", "1,x")
    assert code == 2
    assert "found 'x'; allowed: whole numbers" in err
    code, _, err = run(capsys, "cost", "habitats/three-pot.toml", "--prices", "habitats")
    assert (code, "--prices: is a folder, not a file" in err) == (2, True)


def test_an_older_list_of_rules_is_not_left_aside_in_silence(shop, capsys):
    told = ("batch", "habitats/single-pot.toml", "--count", "1", "--json")
    assert "processes.toml" not in run(capsys, *told)[2]
    (shop / "parts/processes.toml").write_text("[printed]\n")
    code, out, err = run(capsys, *told)
    assert code == 0
    assert json.loads(out)["count"] == 1
    assert err.count("processes.toml: is not read any more") == 1


def test_batch_is_written_whole(shop, capsys):
    told = ("batch", "habitats/three-pot.toml", "habitats/single-pot.toml", "--count", "2", "--out", "made", "--json")
    code, out, _ = run(capsys, *told)
    assert code == 0
    found = json.loads(out)
    assert set(keys(found)) == documented("nestwright batch")
    assert {k: v for k, v in found.items() if k != "recorded"} == json.loads((shop / "made/plan.json").read_text())
    assert len(list((shop / "made/quality").iterdir())) == 4
    code, _, err = run(capsys, *told)
    assert code == 2
    assert "is not empty" in err
    code, _, err = run(capsys, "batch", "habitats/three-pot.toml", "habitats/three-pot.toml", "--count", "2")
    assert code == 2
    assert "two files are of one habitat" in err


def test_an_interrupt_leaves_neither_files_nor_builds(shop, capsys, monkeypatch):
    import nestwright.parts.batch_files as files

    def stop(*_):
        raise KeyboardInterrupt

    assert run(capsys, "workshop", "new", ".", "--zone", "UTC")[0] == 0
    before = sorted(p for p in shop.rglob("*") if p.name != "workshop.db-shm")
    monkeypatch.setattr(files, "quality_pdf", stop)
    code, out, err = run(capsys, "batch", "habitats/three-pot.toml", "--count", "2", "--out", "made", "--record")
    assert (code, out) == (130, "")
    assert "stopped" in err
    left = sorted(p for p in shop.rglob("*") if not p.name.startswith("workshop.db-"))
    assert left == [p for p in before if not p.name.startswith("workshop.db-")]
    assert json.loads(run(capsys, "build", "list", "--json")[1])["builds"] == []


def test_recorded_builds_have_their_checks_to_do_and_can_be_taken_back(shop, capsys):
    assert run(capsys, "workshop", "new", ".", "--zone", "UTC")[0] == 0
    run(capsys, "build", "add", "P-07", "--habitat", "habitats/three-pot.toml")
    code, out, _ = run(capsys, "batch", "habitats/three-pot.toml", "--count", "3")
    assert code == 0
    assert "serials P-08 to P-10, proposed, not recorded" in out
    code, out, _ = run(capsys, "batch", "habitats/three-pot.toml", "--count", "3", "--record")
    assert "recorded" in out
    builds = json.loads(run(capsys, "build", "list", "--json")[1])["builds"]
    assert [one["serial"] for one in builds] == ["P-07", "P-08", "P-09", "P-10"]
    new = builds[1]
    assert (new["habitat"], new["revision"], new["made"]) == ("habitats/three-pot.toml", "2", None)
    assert len(new["quality"]) > 5
    assert all(one["passed"] is None for one in new["quality"])
    # what is looked at is no longer to do; a later look at the same point counts
    point, left = new["quality"][0]["what"], len(new["quality"])
    for outcome, state in (("--failed", "1 failed"), ("--passed", f"{left - 1} to do")):
        assert run(capsys, "build", "check", "P-08", point, outcome)[0] == 0
        assert state in next(line for line in run(capsys, "build", "list")[1].splitlines() if line.startswith("P-08"))
    assert run(capsys, "build", "show", "P-08")[1].count("still to do") == left - 1
    assert [run(capsys, "workshop", "undo")[0] for _ in range(2)] == [0, 0]
    steps = json.loads(run(capsys, "workshop", "history", "--json")[1])["steps"]
    assert "batch of 3: Three pots in a row" in [one["act"] for one in steps]
    assert run(capsys, "workshop", "undo")[0] == 0
    builds = json.loads(run(capsys, "build", "list", "--json")[1])["builds"]
    assert [one["serial"] for one in builds] == ["P-07"]


@pytest.mark.parametrize("name", ["single-pot", "three-pot", "glass-case", "heated-bench"])
def test_every_example_can_be_costed_and_planned(name, capsys):
    file = made.ROOT / f"examples/workshop/habitats/{name}.toml"
    code, out, _ = run(capsys, "cost", file, "--json")
    assert code == 0
    costs = json.loads(out)
    assert costs["missing"] == []  # the example's invented list has all that its habitats need
    units = [Decimal(one["unit_cost"]) for one in costs["batches"]]
    assert units == sorted(units, reverse=True)
    code, out, _ = run(capsys, "batch", file, "--count", "3", "--json")
    assert code == 0
    plan = json.loads(out)
    assert plan["money_complete"]
    assert plan["days_at_least"] <= plan["days"]
    names = [one["name"] for one in plan["layouts"]]
    assert len(set(names)) == len(names)
    bought = [one["what"] for one in plan["purchases"]]
    assert len(set(bought)) == len(bought)
    assert not any("mesh" in piece["part"] for one in plan["layouts"] if one["thickness_mm"] for piece in one["pieces"])
    assert {job["job"] for job in plan["jobs"]} >= {f"000{n}: putting together" for n in (1, 2, 3)}
