"""The program as a process: quick help, one message for a mistake, exit codes."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from nestwright.cli import main

HABITATS = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"

HEAVY = ("numpy", "numba", "scipy", "pint", "pydantic", "altair", "polars", "vl_convert", "rich.console")


def run(*arguments, **options):
    return subprocess.run([sys.executable, "-m", "nestwright", *arguments], capture_output=True, text=True, **options)


def test_help_imports_nothing_heavy():
    program = (
        "import sys\nfrom nestwright.cli.main import run\n"
        "try: run(['--help'])\nexcept SystemExit: pass\n"
        f"print('LOADED', [m for m in {HEAVY!r} if m in sys.modules])"
    )
    text = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout
    assert "LOADED []" in text


def test_help_names_every_command():
    done = run("--help")
    assert done.returncode == 0
    for name in main.COMMANDS:
        assert f"\n  {name} " in done.stdout
    # That it stays under 0.4 s is measured in benchmarks/climate.py; that it loads nothing heavy is tested above.


@pytest.mark.parametrize("name", main.COMMANDS)
def test_every_command_has_help_and_json(name):
    command = main.load(name)
    assert command.help
    for one in getattr(command, "commands", {name: command}).values():
        assert one.help
        assert all(getattr(option, "help", None) for option in one.params), "an option without help"
        if name != "schema":
            assert "--json" in {flag for option in one.params for flag in option.opts}, one.name


def test_misspelt_command_names_the_nearest():
    done = run("climat")
    assert done.returncode == 2
    assert "did you mean 'climate'?" in done.stderr
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.parametrize("arguments", [["climate"], ["climate", "--rom", "x"], ["--nothing"], ["window", "a", "b"]])
def test_wrong_options_are_one_line(arguments):
    done = run(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert len(done.stderr.splitlines()) == 1
    assert "--help" in done.stderr


def test_an_option_of_one_value_given_twice_is_told(capsys):
    def said(*arguments):
        with pytest.raises(SystemExit) as left:
            main.run(list(arguments))
        return left.value.code, capsys.readouterr().err

    twice = "nestwright: --{}: is given more than once; allowed: once\n"
    assert said("climate", "x.toml", "--room", "a", "--json", "--room=b", "--json") == (2, twice.format("room"))
    assert said("colony", "end", "x", "--date", "2026-01-01", "--date", "2026-01-02") == (2, twice.format("date"))
    assert said("build", "check", "x", "y", "--passed", "--failed") == (2, twice.format("passed"))
    assert "once" not in said("size", "x.toml", "--free", "a=1..2", "--room", "a", "--room", "b")[1]


def test_unknown_fault_is_one_line_and_exit_1(monkeypatch, capsys):
    def broken(name):
        raise ZeroDivisionError("what went\nwrong")

    monkeypatch.setattr(main, "load", broken)
    with pytest.raises(SystemExit) as left:
        main.run(["check", "x"])
    assert left.value.code == 1
    said = capsys.readouterr().err
    assert "ZeroDivisionError: what went wrong" in said
    assert len(said.splitlines()) == 1
    monkeypatch.setenv(main.DEBUG, "1")
    with pytest.raises(ZeroDivisionError):
        main.run(["check", "x"])


def test_interrupt_says_so(monkeypatch, capsys):
    def stopped(name):
        raise KeyboardInterrupt

    monkeypatch.setattr(main, "load", stopped)
    with pytest.raises(SystemExit) as left:
        main.run(["check", "x"])
    assert left.value.code == 130
    assert "stopped; no file was left half-written" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["climate", "window", "section", "check"])
def test_a_missing_file_is_one_line_and_exit_2(command, tmp_path):
    room = ["--room", "21 degC, 45 %"] if command == "climate" else []
    done = run(command, str(tmp_path / "none.toml"), *room, cwd=tmp_path)
    assert done.returncode == 2, done.stderr
    assert "none.toml" in done.stderr
    assert len(done.stderr.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "arguments",
    [
        ["climate", "x.toml", "--room", "21 degC, 45 %", "--out", "run.csv"],
        ["climate", "x.toml", "--room", "21 degC, 45 %", "--year", "--out", "run.xlsx"],
        ["climate", "x.toml", "--room", "21 degC, 45 %", "--year", "--out", "none/run.csv"],
        ["climate", "x.toml", "--room", "21 degC, 45 %", "--picture", "p.bmp"],
        ["window", "x.toml", "--out", "w.pdf"],
    ],
)
def test_a_wrong_output_name_is_refused_before_any_work(arguments, tmp_path):
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert "allowed" in done.stderr or "no such folder" in done.stderr
    assert "x.toml" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_reader_that_has_enough_is_no_fault():
    process = subprocess.Popen([sys.executable, "-m", "nestwright", "species"], stdout=subprocess.PIPE)
    process.stdout.close()
    assert process.wait(60) == 0


def test_output_that_is_closed_or_knows_no_such_sign_is_no_fault_of_the_program():
    command = [sys.executable, "-m", "nestwright", "schema", "habitat"]
    closed = subprocess.run(f'"{sys.executable}" -m nestwright species >&-', shell=True, capture_output=True, text=True)
    assert (closed.returncode, closed.stderr) == (2, "nestwright: output: cannot be written; found it closed\n")
    plain = subprocess.run(command, env=os.environ | {"PYTHONIOENCODING": "ascii"}, capture_output=True, text=True)
    assert (plain.returncode, plain.stderr) == (0, "")
    assert "\\u00b0" in plain.stdout
    assert json.loads(plain.stdout)


def test_check_tells_what_its_ants_pass_and_what_does_not_fit(tmp_path, capsys):
    text = (HABITATS / "single-pot.toml").read_text()
    file = tmp_path / "pot.toml"
    file.write_text(text.replace('aperture = "', 'aperture = "1', 1))
    with pytest.raises(SystemExit) as left:
        main.run(["check", str(file)])
    assert left.value.code == 0
    said = capsys.readouterr().out
    assert "(warning)" in said
    assert "worker" in said
    file.write_text(re.sub(r'store = "[^"]*"', 'store = "200 mL"', file.read_text(), count=1))
    with pytest.raises(SystemExit) as left:
        main.run(["check", str(file)])
    assert left.value.code == 0
    said = capsys.readouterr().out
    assert "cannot be made as it stands" in said
    assert "worker" in said, "its ants get out all the same"
    line = re.search(r"pot\.toml:(\d+): [^\n]*cannot be made as it stands", said)[1]
    with pytest.raises(SystemExit):
        main.run(["climate", str(file), "--room", "21 degC, 45 %", "--json"])
    assert f"cannot be made as it stands (line {line} of its file)" in json.loads(capsys.readouterr().out)["notes"][-1]
