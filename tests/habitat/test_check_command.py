"""`nestwright check` and `nestwright schema` as a user meets them."""

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from nestwright.cli.check import check
from nestwright.cli.schema import schema
from nestwright.habitat.schema import schema_text

FOLDER = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"
GOOD = FOLDER / "single-pot.toml"


@pytest.fixture
def app() -> typer.Typer:
    made = typer.Typer()
    made.command("check")(check)
    made.command("schema")(schema)
    return made


@pytest.fixture
def bad(tmp_path: Path) -> Path:
    path = tmp_path / "bad.toml"
    path.write_text(GOOD.read_text().replace('height = "70 mm"', 'height = "70 kg"').replace("lag =", "lga ="))
    return path


def test_good_files_are_in_order_and_cautions_are_shown(app: typer.Typer) -> None:
    result = CliRunner().invoke(app, ["check", *map(str, sorted(FOLDER.glob("*.toml")))])
    assert result.exit_code == 0
    assert result.stdout.count("in order") == len(list(FOLDER.glob("*.toml")))
    assert "extra-low voltage" in result.stdout


def test_every_fault_of_every_file_is_a_line_on_stderr_and_the_code_is_2(app: typer.Typer, bad: Path) -> None:
    result = CliRunner().invoke(app, ["check", str(bad), str(GOOD), str(bad.parent / "none.toml")])
    assert result.exit_code == 2
    lines = result.stderr.splitlines()
    assert len(lines) == 3
    number = 1 + bad.read_text().splitlines().index('height = "70 kg"')
    assert lines[0].startswith(f"{bad}:{number}: chamber.pot.height: ")
    assert "did you mean 'lag'?" in lines[1]
    assert "none.toml: cannot be read" in lines[2]
    assert result.stdout == f"{GOOD}: in order\n"


def test_as_json(app: typer.Typer, bad: Path) -> None:
    result = CliRunner().invoke(app, ["check", "--json", str(bad), str(GOOD)])
    assert result.exit_code == 2
    report = json.loads(result.stdout)
    assert report["ok"] is False
    assert [f["ok"] for f in report["files"]] == [False, True]
    first = report["files"][0]["findings"][0]
    assert set(first) == {"severity", "message", "file", "line", "field", "found", "allowed", "nearest"}
    assert first["severity"] == "error"


def test_schema_prints_the_schema(app: typer.Typer) -> None:
    result = CliRunner().invoke(app, ["schema"])
    assert result.exit_code == 0
    assert result.stdout == schema_text()
