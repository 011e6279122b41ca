"""`nestwright check` and `nestwright schema` take colony files too."""

import json

import pytest

from nestwright.cli import main

GOOD = """\
format = 1
name = "Sill"
species = "Acromyrmex echinatior"
start = 2031-01-01
[[visit]]
date = 2031-01-09
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
    path.write_text(GOOD + '[[visit]]\ndate = 2031-01-09\ngarden = "140 mL"\n')
    code, out, _ = run(capsys, "check", path)
    assert code == 0
    assert "2031-01-09" in out
    assert "(warning)" in out


def test_both_schemas(capsys):
    titles = [json.loads(run(capsys, "schema", *word)[1])["title"] for word in ((), ("habitat",), ("colony",))]
    assert titles == ["Nestwright habitat file", "Nestwright habitat file", "Nestwright colony file"]
    code, _, err = run(capsys, "schema", "colny")
    assert code == 2
    assert "did you mean 'colony'" in err
