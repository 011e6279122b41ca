"""`nestwright backup`: out, verified, back."""

import json
import shutil

import pytest

from nestwright.cli import main


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    run(capsys, "workshop", "new", tmp_path / "shop", "--zone", "UTC")
    monkeypatch.chdir(tmp_path / "shop")
    run(capsys, "colony", "add", "Fern", "--species", "Acromyrmex echinatior", "--start", "2024-03-01")
    (tmp_path / "shop/rooms/attic.toml").write_text("x")
    return tmp_path / "shop"


def test_out_verified_and_back(shop, capsys, tmp_path):
    code, out, _ = run(capsys, "backup", tmp_path / "b.zip")
    assert code == 0
    assert "Written and verified" in out
    assert "2 files, 4 rows of the record" in out  # zone and form, the colony, its history
    assert run(capsys, "backup", tmp_path / "b.zip", "--verify")[1] == f"{tmp_path / 'b.zip'}: sound, 2 files\n"
    made = json.loads(run(capsys, "backup", tmp_path / "c.zip", "--json")[1])
    assert made["rows"]["colony"] == 1
    assert run(capsys, "backup", tmp_path / "b.zip", "--restore", tmp_path / "back")[0] == 0
    assert "Fern" in run(capsys, "colony", "list", "--workshop", tmp_path / "back")[1]
    assert (tmp_path / "back/rooms/attic.toml").read_text() == "x"
    assert run(capsys, "visit", "Fern", "--workshop", tmp_path / "back")[0] == 0  # and can be written to


def test_what_is_refused(shop, capsys, tmp_path):
    run(capsys, "backup", tmp_path / "b.zip")
    (tmp_path / "bad.zip").write_bytes((tmp_path / "b.zip").read_bytes()[:-200])
    for words, says in (
        (["backup", tmp_path / "b.tar"], "a backup is a .zip file"),
        (["backup", tmp_path / "none/b.zip"], "no such folder"),
        (["backup", tmp_path / "bad.zip", "--verify"], "damaged"),
        (["backup", tmp_path / "bad.zip", "--restore", tmp_path / "back"], "damaged"),
        (["backup", tmp_path / "gone.zip", "--verify"], "cannot be read"),
        (["backup", tmp_path / "b.zip", "--restore", shop], "not empty"),
        (["backup", tmp_path / "b.zip", "--workshop", tmp_path / "none"], "no such folder"),
    ):
        code, out, err = run(capsys, *words)
        assert (code, out) == (2, ""), words
        assert says in err
        assert len(err.splitlines()) == 1
    assert not (tmp_path / "back").exists()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["b.zip", "bad.zip", "shop"]


def test_a_damaged_workshop_keeps_its_last_good_backup(shop, capsys, tmp_path):
    run(capsys, "backup", tmp_path / "b.zip")
    good = (tmp_path / "b.zip").read_bytes()
    whole = (shop / "workshop.db").read_bytes()
    (shop / "workshop.db").write_bytes(whole[: len(whole) // 2])
    code, _, err = run(capsys, "backup", tmp_path / "b.zip")
    assert code == 2
    assert "there is a file already; allowed: another name, or --force" in err
    code, _, err = run(capsys, "backup", tmp_path / "b.zip", "--force")
    assert code == 2
    assert "is damaged" in err or "malformed" in err
    assert (tmp_path / "b.zip").read_bytes() == good
    shutil.rmtree(shop)
    assert run(capsys, "backup", tmp_path / "b.zip", "--restore", shop)[0] == 0
