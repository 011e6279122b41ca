"""The trial out of a workshop's record, by command: growth, losses, what was left, and faults."""

import json

import pytest
from workshops import EXAMPLES

from nestwright.cli.main import run

DESIGN = "habitats/single-pot.toml"


def said(capsys, *arguments):
    with pytest.raises(SystemExit) as stop:
        run([str(a) for a in arguments])
    told = capsys.readouterr()
    return stop.value.code, told.out, told.err


@pytest.fixture
def trial(shop, capsys):
    """Two builds of revision 1 and one of revision 2, four colonies: two grow, one was sold, one died."""
    design = (EXAMPLES / DESIGN).read_text()
    here = ["--workshop", shop.folder]
    shop.folder.joinpath("habitats").mkdir(exist_ok=True)
    file = shop.folder / DESIGN
    lines = [line for line in design.splitlines() if not line.startswith("revision")]
    at = next(k for k, line in enumerate(lines) if line.startswith("name"))
    for serial, revision in (("T-1", "1"), ("T-2", "1"), ("T-3", "2")):
        file.write_text("\n".join([*lines[: at + 1], f'revision = "{revision}"', *lines[at + 1 :]]))
        code, _, err = said(
            capsys, "build", "add", serial, "--habitat", DESIGN, "--date", f"2025-0{serial[-1]}-01", *here
        )
        assert code == 0, err
    for name, serial in (("Alder", "T-1"), ("Birch", "T-2"), ("Cedar", "T-3")):
        start = ["--start", "2025-04-01", "--species", "Acromyrmex octospinosus", "--garden", "10 mL"]
        assert said(capsys, "colony", "add", name, *start, *here)[0] == 0
        assert said(capsys, "colony", "move", name, serial, "--date", "2025-04-01", *here)[0] == 0
        for day, volume in (("2025-04-20", 16), ("2025-05-10", 26)):
            garden = volume * (2 if name == "Cedar" else 1)
            assert said(capsys, "visit", name, "--garden", f"{garden} mL", "--date", day, *here)[0] == 0
    assert said(capsys, "colony", "end", "Alder", "--reason", "died, mould", "--date", "2025-06-01", *here)[0] == 0
    assert said(capsys, "colony", "end", "Birch", "--reason", "sold", "--date", "2025-06-01", *here)[0] == 0
    return here


def test_trial_by_revision(trial, capsys):
    code, out, err = said(capsys, "trial", DESIGN, "--json", *trial)
    assert code == 0, err
    found = json.loads(out)
    one, two = found["revisions"]
    assert [one["revision"], two["revision"]] == ["1", "2"]
    assert one["builds"] == 2
    by_name = {c["colony"]: c for c in one["colonies"]}
    assert by_name["Alder"]["lost"]
    assert not by_name["Birch"]["lost"]
    assert "sold" in by_name["Birch"]["remark"]
    assert by_name["Alder"]["growth"]["per_day"] == pytest.approx(0.0245, abs=0.003)
    assert two["colonies"][0]["growth"]["per_day"] > by_name["Alder"]["growth"]["per_day"]
    assert found["compared"][0]["growth"]["says"] == "cannot be told"


def test_garden_given_to_another_is_no_look_at_the_giver(trial, capsys):
    add = ["colony", "add", "Dogwood", "--species", "Acromyrmex octospinosus", "--start", "2025-06-20"]
    assert said(capsys, *add, "--workers", "about 30", *trial)[0] == 0
    gift = ["visit", "Dogwood", "--event", "garden added 2 mL from Cedar", "--date", "2025-07-20"]
    code, _, err = said(capsys, *gift, *trial)
    assert code == 0, err
    found = json.loads(said(capsys, "trial", DESIGN, "--json", *trial)[1])
    (cedar,) = found["revisions"][1]["colonies"]
    assert cedar["until"] == "2025-05-10"


def test_trial_told_and_drawn(trial, capsys, tmp_path):
    code, out, err = said(capsys, "trial", "single-pot", "--out", tmp_path / "t.svg", *trial)
    assert code == 0, err
    assert "cannot be told" in out
    assert "Alder" in out
    assert (tmp_path / "t.svg").read_text().startswith("<svg")


def test_unknown_design_names_the_nearest(trial, capsys):
    code, _, err = said(capsys, "trial", "single-pott", *trial)
    assert code == 2
    assert "single-pot" in err
