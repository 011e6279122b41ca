"""`nestwright climate SERIAL`: what the dry run found goes into the build's proof."""

import json
import re
import shutil
from pathlib import Path

import pytest

from nestwright.cli.main import run

EXAMPLES = Path(__file__).parents[2] / "examples/workshop"
PAGE = (Path(__file__).parents[2] / "docs/guide/json.md").read_text()
ROOM = ("--room", "21 degC, 45 %")


def called(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        run([str(one) for one in arguments])
    return left.value.code, *capsys.readouterr()


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A workshop with a build that was dry run, one that was not, and one that stands in a room of the workshop."""
    made = tmp_path_factory.mktemp("built") / "bench"
    logs = []
    for whole in sorted((EXAMPLES / "dry-runs").glob("single-pot-*.csv")):  # half a day of it tells the leak, sooner
        logs.append(made.parent / whole.name)
        logs[-1].write_text("".join(whole.read_text().splitlines(keepends=True)[:147]))
    calls = [["workshop", "new", made, "--zone", "UTC"]]
    shutil.copytree(EXAMPLES / "habitats", made / "habitats")
    shutil.copytree(EXAMPLES / "rooms", made / "rooms")
    build = ["build", "add"]
    for serial, more in (("A-1", []), ("A-2", []), ("A-3", ["--stands", "rooms/steady-cellar.toml"])):
        calls.append([*build, serial, "--habitat", "habitats/single-pot.toml", *more, "--workshop", made])
    calls.append(["dryrun", "A-1", *logs, "--workshop", made])
    for arguments in calls:
        with pytest.raises(SystemExit) as left:
            run([str(one) for one in arguments])
        assert left.value.code == 0, arguments
    return made


def test_the_leak_of_the_dry_run_is_in_the_proof(capsys, folder):
    code, out, err = called(capsys, "climate", "A-1", *ROOM, "--workshop", folder, "--json")
    assert code == 0, err
    proof = json.loads(out)
    plain = json.loads(called(capsys, "climate", folder / "habitats/single-pot.toml", *ROOM, "--json")[1])
    assert {k: proof[k] for k in plain} == plain, "the design's own proof stays as it is"
    dry = proof["dry_run"]
    assert (proof["build"], dry["date"], dry["sure"]) == ("A-1", "2025-03-01", True)
    margins = {one["name"]: one for one in dry["limits"]}
    assert set(margins) == {one["name"] for one in plain["limits"]}
    co2 = margins["pot/bell: CO2"]
    # 7.5 mm2 were planted in the sump: more air, so more margin of CO2 than designed, surely
    assert co2["margin_designed"] < co2["margin_low"] <= co2["margin_fitted"] <= co2["margin_high"]
    assert 0 <= dry["holds_chance"] <= min(one["held_chance"] for one in dry["limits"])
    told = set(
        re.findall(r"^\| `([^`]+)`", PAGE.split("\n## `nestwright climate SERIAL`\n")[1].split("\n## ")[0], re.M)
    )
    assert told == {k for k in proof if k not in plain} | {f"dry_run.{k}" for k in dry} | {
        f"dry_run.limits.{k}" for k in dry["limits"][0]
    }
    words = called(capsys, "climate", "A-1", *ROOM, "--workshop", folder)[1]
    assert words.splitlines()[2] == "Build A-1: dry run of 2025-03-01, sump to the room leaks."
    assert "As designed: Holds." in words
    assert "As built: surely holds every limit, by the build's own factors alone." in words
    assert "margin as built" in words


def test_a_build_without_a_dry_run_is_proved_on_paper_only(capsys, folder):
    code, out, _ = called(capsys, "climate", "A-2", *ROOM, "--workshop", folder)
    assert code == 0
    assert "on paper only" in out
    assert "as built" not in out


def test_a_build_that_stands_in_a_room_is_proved_there(capsys, folder):
    code, out, err = called(capsys, "climate", "A-3", "--workshop", folder, "--json")
    assert code == 0, err
    assert json.loads(out)["dry_run"] is None
    code, _, err = called(capsys, "climate", "A-2", "--workshop", folder)
    assert code == 2
    assert err.startswith("nestwright: --room: is missing")


def test_a_dry_run_of_another_revision_or_a_damaged_one_is_not_used(capsys, folder, tmp_path):
    made = tmp_path / "bench"
    shutil.copytree(folder, made)
    file = made / "habitats/single-pot.toml"
    file.write_text(file.read_text().replace('revision = "3"', 'revision = "4"'))
    code, out, err = called(capsys, "climate", "A-1", *ROOM, "--workshop", made)
    assert code == 0, err
    assert "Not used, see the note below. It was made to revision 3; this proof is of revision 4." in " ".join(
        out.split()
    )
    assert "it was of revision 3" in out
    assert "margin as built" not in out
    # changed without a new revision: its parts tell
    file.write_text(file.read_text().replace('revision = "4"', 'revision = "3"').replace('"crown"', '"ring"'))
    code, out, err = called(capsys, "climate", "A-1", *ROOM, "--workshop", made)
    assert code == 0, err
    assert "other parts than the dry run, at the same revision (crown gone; ring new)" in " ".join(out.split())
    assert "Not used, see the note below." in out
    assert "margin as built" not in out
    assert "As built" not in out
    kept = next((made / "papers").glob("dry-run-*.json"))
    document = json.loads(kept.read_text())
    for damaged in ("{", json.dumps(document | {"builds": {"parts": ["a"], "factors": [[1, 2]]}}), "[]"):
        kept.write_text(damaged)
        code, out, err = called(capsys, "climate", "A-1", *ROOM, "--workshop", made)
        assert (code, out) == (2, "")
        assert kept.name in err
        assert "nestwright dryrun A-1" in err
