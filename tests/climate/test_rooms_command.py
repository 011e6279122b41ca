"""`nestwright room`: what it prints, what it writes, and what it says of wrong input."""

import json
import re
import sys
from pathlib import Path

import pytest

from nestwright.cli import main
from nestwright.climate.rooms import read_room

sys.path.insert(0, str(Path(__file__).parent))
from rooms_common import ROOMS

WEATHER = str(ROOMS / "weather/greensboro.csv.gz")


def called(capsys, *arguments):
    with pytest.raises(SystemExit) as left:
        main.run(["room", *arguments])
    shown = capsys.readouterr()
    return left.value.code, shown.out, shown.err


def test_a_weather_year_becomes_a_room(capsys, tmp_path):
    out = tmp_path / "year.csv"
    code, text, _ = called(capsys, WEATHER, "--set-point", "20 degC", "--class", "3", "--out", str(out))
    assert code == 0
    assert "set-point 20 °C" in text
    assert "ISO 13788 class 3" in text
    assert re.search(r"temperature, °C +20\.0 +20\.0", text)
    back = read_room(str(out))
    assert back.time[-1] == 8760 * 3600
    direct = read_room(WEATHER, set_point=293.15, humidity_class=3)
    assert abs(back.temperature - direct.temperature).max() < 0.0051
    assert list(tmp_path.iterdir()) == [out]


def test_json_tells_gaps_and_bad_rows(capsys):
    code, text, _ = called(capsys, str(ROOMS / "bench-logger.toml"), "--json")
    document = json.loads(text)
    assert code == 0
    assert document["gaps"] == 1
    assert any(note.startswith("line 113") for note in document["notes"])


def test_a_brackets_in_a_name_are_printed(capsys, tmp_path):
    path = tmp_path / "room.toml"
    path.write_text('kind = "fixed"\nname = "[red]A[/]"\ntemperature = "20 degC"\nrelative_humidity = "50 %"\n')
    assert "[red]A[/]" in called(capsys, str(path))[1]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["nothing"], "names no room"),
        ([WEATHER, "--set-point", "20"], "unit is missing"),
        ([WEATHER, "--set-point", "-45 degC"], "no set-point"),
        ([WEATHER, "--class", "9"], "no humidity class"),
        (["21 degC, 45 %", "--class", "2"], "weather year only"),
        ([WEATHER, "--out", "room.txt"], "written as CSV"),
        ([WEATHER, "--out", "none/room.csv"], "folder"),
        ([str(ROOMS)], "is a folder, not a file"),
    ],
)
def test_wrong_input(capsys, tmp_path, monkeypatch, arguments, says):
    monkeypatch.chdir(tmp_path)
    code, out, err = called(capsys, *arguments)
    assert (code, out) == (2, "")
    assert says in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


def test_a_stop_while_writing_leaves_the_old_file(capsys, tmp_path, monkeypatch):
    out = tmp_path / "room.csv"
    out.write_text("before")

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("os.replace", stop)
    code, _, err = called(capsys, "21 degC, 45 %", "--out", str(out))
    assert code == 130
    assert "half-written" in err
    assert out.read_text() == "before"
    assert list(tmp_path.iterdir()) == [out]
