"""`nestwright check` and `nestwright schema` take colony files too."""

import json
from datetime import date
from pathlib import Path

import pytest

from nestwright.cli import main

GOOD = """\
format = 1
name = "Sill"
species = "Acromyrmex echinatior"
start = 2025-01-01
[[visit]]
date = 2025-01-09
garden = "40 mL"
"""


def run(capsys, *words):
    with pytest.raises(SystemExit) as end:
        main.run([str(w) for w in words])
    out, err = capsys.readouterr()
    return end.value.code, out, err


def test_a_colony_file_is_checked(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD)
    assert run(capsys, "check", path)[:2] == (0, f"{path}: in order\n")
    path.write_text(GOOD.replace("echinatior", "echinatiar"))
    code, _, err = run(capsys, "check", path)
    assert code == 2
    assert "did you mean 'Acromyrmex echinatior'" in err
    path.write_text(GOOD.replace("40 mL", "40 ml/d").replace("name =", "nam ="))
    code, _, err = run(capsys, "check", path)
    assert code == 2
    assert f"{path}:7" in err
    code, out, _ = run(capsys, "check", path, "--json")
    assert code == 2
    assert {f["line"] for f in json.loads(out)["files"][0]["findings"]} >= {2, 7}


def test_contradictions_are_told_and_are_no_fault(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD + '[[visit]]\ndate = 2025-01-09\ngarden = "140 mL"\n')
    code, out, _ = run(capsys, "check", path)
    assert code == 0
    assert "2025-01-09" in out
    assert "(warning)" in out


def test_what_cannot_have_been_is_a_remark(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD + '[[event]]\ndate = 2025-01-20\nwhat = "garden taken"\namount = "2 L"\n')
    code, out, _ = run(capsys, "check", path)
    assert code == 0
    assert "2025-01-20, line 10: 2000 mL of garden taken, the last measure was about 40 mL (warning)" in out


NEITHER = {
    "empty": ("", "is empty"),
    "comment": ("# nothing yet\n", "is empty"),
    "heads of both": ('format = 1\nname = "Sill"\nspecies = "Acromyrmex echinatior"\n', "is neither"),
    "other": ("[tool]\nx = 1\n", "is neither a habitat file nor a colony file; found tool"),
}


@pytest.mark.parametrize(("text", "piece"), NEITHER.values(), ids=NEITHER)
def test_a_file_of_neither_kind_is_told_how_each_begins(tmp_path, capsys, text, piece):
    path = tmp_path / "what.toml"
    path.write_text(text)
    code, _, err = run(capsys, "check", path)
    assert code == 2
    (line,) = err.splitlines()
    assert piece in line
    assert "a habitat file has format = 1, name, species and [[chamber]]" in line
    assert "a colony file format = 1, name, species and start = 2025-11-03" in line


@pytest.mark.parametrize(
    ("key", "piece"),
    [("strat = 2025-01-01", "did you mean 'start'"), ("[[chambr]]", "did you mean 'chamber'")],
)
def test_a_file_whose_own_key_is_misspelt_is_known(tmp_path, capsys, key, piece):
    path = tmp_path / "what.toml"
    path.write_text(f'format = 1\nname = "Sill"\nspecies = "Acromyrmex echinatior"\n{key}\n')
    code, _, err = run(capsys, "check", path)
    assert code == 2
    assert piece in err


def test_nothing_of_a_file_steers_the_screen(tmp_path, capsys):
    path = tmp_path / "sill\x1b.toml"
    path.write_text('"\\u001b[31m\\u202e" = 1\n' + GOOD.replace("Sill", "S\\u0007ill"))
    code, out, err = run(capsys, "check", path)
    assert code == 2
    assert "found U+0007 as character 2" in err
    assert all(c.isprintable() or c == "\n" for c in out + err)


def test_both_schemas(capsys):
    titles = [json.loads(run(capsys, "schema", *word)[1])["title"] for word in ((), ("habitat",), ("colony",))]
    assert titles == ["Nestwright habitat file", "Nestwright habitat file", "Nestwright colony file"]
    code, _, err = run(capsys, "schema", "colny")
    assert code == 2
    assert "did you mean 'colony'" in err


def test_a_climate_file_that_is_missing_or_none_is_a_fault(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD.replace("[[visit]]", 'climate = "air.csv"\n[[visit]]'))
    code, out, err = run(capsys, "check", path)
    assert (code, out) == (2, "")
    assert err == f"{path}:5: climate: there is no such climate file; found 'air.csv'\n"
    for text in ("hello world, nothing\n", "", "\0\1\2"):
        (tmp_path / "air.csv").write_text(text)
        code, out, err = run(capsys, "check", path)
        assert (code, out) == (2, "")
        assert err.startswith(f"{path}:5: climate: the climate file cannot be used: ")
        assert err.count("\n") == 1
    rows = "".join(f"2025-01-0{d} 12:00,24.0,97\n" for d in range(1, 9))
    (tmp_path / "air.csv").write_text("time,temperature_degC,relative_humidity_pct\n" + rows)
    assert run(capsys, "check", path)[:2] == (0, f"{path}: in order\n")


def test_all_that_is_missing_is_told_at_once(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    named = 'climate = "air.csv"\nvisits = "seen.csv"\nend = 2025-01-05\nnam = 1\n[[visit]]'
    path.write_text(GOOD.replace("[[visit]]", named))
    code, _, err = run(capsys, "check", path)
    assert code == 2
    pieces = ((5, "no such climate"), (6, "table of visits"), (8, "unknown key"), (10, "after the end of the record"))
    for (line, piece), told in zip(pieces, err.splitlines(), strict=True):
        assert told.startswith(f"{path}:{line}: ")
        assert piece in told


def test_a_start_after_today_is_a_remark(tmp_path, capsys):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD)
    from nestwright.cli.check import check_file

    (found,) = check_file(path, date(2024, 12, 31))
    assert found.severity == "warning"
    assert "the record begins after today, 2024-12-31" in found.message
    assert check_file(path, date(2025, 1, 1)) == ()


@pytest.mark.parametrize("command", ["forecast", "plan", "rescue", "diagnose"])
def test_a_colony_command_says_what_file_it_was_given(tmp_path, capsys, command):
    path = tmp_path / "what.toml"
    path.write_text("# nothing\n")
    code, _, err = run(capsys, command, path)
    assert code == 2
    assert f"{path}: is empty; allowed: a colony file has" in err
    assert err.count("\n") == 1
    habitat = Path(__file__).parents[2] / "examples/workshop/habitats/single-pot.toml"
    code, _, err = run(capsys, command, habitat)
    assert code == 2
    assert "this is a habitat file, not a colony file" in err
    assert err.count("\n") == 1


@pytest.mark.parametrize(("name", "piece"), [("n" * 300, "is too long: 300 characters"), ("", "is too short: 0")])
def test_a_name_is_too_long_or_too_short(tmp_path, capsys, name, piece):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD.replace("Sill", name))
    code, _, err = run(capsys, "check", path)
    assert code == 2
    assert piece in err
    assert "too short or too long" not in err


@pytest.mark.parametrize(
    ("what", "piece"),
    [
        ("garden moulded", "did you mean 'garden lost'?"),
        ("fungus rotten", "did you mean 'garden lost'?"),
        ("died", "does not say who died: 'workers lost' or 'queen lost'"),
        ("queen died", "did you mean 'queen lost'?"),
    ],
)
def test_what_befell_in_other_words(tmp_path, capsys, what, piece):
    path = tmp_path / "sill.toml"
    path.write_text(GOOD + f'[[event]]\ndate = 2025-01-20\nwhat = "{what}"\n')
    code, _, err = run(capsys, "check", path)
    assert code == 2
    assert piece in err
