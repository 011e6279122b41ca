"""Sales by command: nothing is sold twice, a recall reaches who has one, an erased buyer is gone from every byte."""

import json

import pytest
from workshops import EXAMPLES

from nestwright.cli.main import run


@pytest.fixture
def said(shop, capsys):
    """Three builds of two revisions and a way to call the command: exit code, output, messages."""

    def call(*words):
        with pytest.raises(SystemExit) as stop:
            run([*map(str, words), "--workshop", str(shop.folder)])
        told = capsys.readouterr()
        return stop.value.code, told.out, told.err

    design = (EXAMPLES / "habitats/single-pot.toml").read_text()
    for serial, revision in (("S-1", "1"), ("S-2", "1"), ("S-3", "2")):
        text = design.replace('revision = "3"', f'revision = "{revision}"')
        assert f'revision = "{revision}"' in text
        (shop.folder / "habitats/single-pot.toml").write_text(text)
        assert call("build", "add", serial, "--habitat", "habitats/single-pot.toml", "--date", "2025-03-01")[0] == 0
    assert call("sales", "buyer", "Quentin Quill", "--contact", "quentin@example.org", "--date", "2025-04-01")[0] == 0
    return call


def sold(said, serial="S-1"):
    return said("sales", "sell", serial, "--to", "quentin quill", "--price", "89,50 eur", "--date", "2025-04-02")


def test_a_build_is_sold_once_until_it_comes_back(said):
    assert sold(said)[0] == 0
    code, _, err = sold(said)
    assert code == 2
    assert "was not returned" in err
    assert said("sales", "returned", "S-1", "--reason", "cracked", "--date", "2025-05-01")[0] == 0
    assert sold(said)[0] == 0
    revisions = json.loads(said("sales", "list", "--json")[1])["revisions"]
    assert [(r["revision"], r["sold"], r["returned"]) for r in revisions] == [("1", 2, 1), ("2", 0, 0)]


def test_a_recall_names_who_has_one_of_that_revision(said):
    sold(said)
    sold(said, "S-3")
    found = json.loads(said("sales", "recall", "single-pot", "--revision", "1", "--json")[1])["recall"]
    assert [(one["build"], one["contact"]) for one in found] == [("S-1", "quentin@example.org")]
    assert len(json.loads(said("sales", "recall", "single-pot", "--json")[1])["recall"]) == 2


def test_an_erased_buyer_is_in_no_byte_of_the_record(said, shop):
    sold(said)
    before = b"".join(file.read_bytes() for file in shop.folder.glob("workshop.db*"))
    assert b"Quentin Quill" in before, "else nothing below is looked at"
    assert said("sales", "erase", "Quentin Quill")[0] == 2
    assert said("sales", "erase", "Quentin Quill", "--sure")[0] == 0
    for file in shop.folder.glob("workshop.db*"):
        content = file.read_bytes().lower()
        assert b"quill" not in content, file
        assert b"quentin" not in content, file
    found = json.loads(said("sales", "list", "--json")[1])["sales"]
    assert [one["buyer"] for one in found] == ["erased 1"]
    code, out, _ = said("workshop", "undo")
    assert code == 0
    assert "erased" not in out


def test_all_that_is_kept_of_a_buyer(said):
    sold(said)
    said("sales", "feedback", "S-1", "stiff lid", "--kind", "fault", "--date", "2025-04-09")
    found = json.loads(said("sales", "about", "quentin QUILL", "--json")[1])
    assert found["contact"] == "quentin@example.org"
    assert [one["build"] for one in found["sales"]] == ["S-1"]
    assert found["feedback"] == [{"day": "2025-04-09", "kind": "fault", "words": "stiff lid"}]


def test_stock_of_builds_and_parts(said):
    sold(said)
    part = ["grid", "--habitat", "single-pot", "--revision", "2"]
    said("sales", "stock", *part, "--pieces", "4")
    said("sales", "stock", *part, "--pieces", "-1")
    found = json.loads(said("sales", "stock", "--json")[1])
    assert [one["serial"] for one in found["builds"]] == ["S-2", "S-3"]
    assert [one["pieces"] for one in found["parts"]] == [3]
    code, _, err = said("sales", "stock", *part, "--pieces", "-4")
    assert code == 2
    assert "up to 3" in err


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["sell", "S-9", "--to", "Quentin Quill"], "S-1"),
        (["sell", "S-1", "--to", "Quentin Quil"], "Quentin Quill"),
        (["sell", "S-1", "--to", "Quentin Quill", "--price", "cheap"], "ISO 4217"),
        (["sell", "S-1", "--to", "Quentin Quill", "--date", "2024-01-01"], "from 2025-03-01"),
        (["sell", "S-1", "--to", "Quentin Quill", "--parcel", "5"], "is no parcel of this workshop"),
        (["returned", "S-1"], "not with a buyer"),
        (["recall", "singlepot"], "single-pot"),
        (["recall", "single-pot", "--revision", "9"], "1, 2"),
        (["buyer", "QUENTIN QUILL"], "already"),
        (["stock", "grid"], "--pieces"),
        (["feedback", "S-1", " "], "empty"),
    ],
)
def test_faults_are_told_with_what_is_allowed(said, words, told):
    code, out, err = said("sales", *words)
    assert code == 2
    assert told in err
    assert not out
