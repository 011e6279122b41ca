"""`nestwright readings`: imports shown, confirmed, refused; channels shown, placed, held against a band."""

import csv
import json
import os
import pty
import re
import select
import shutil
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from nestwright.cli.main import run
from nestwright.workshop.folder import create_workshop

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs/guide/readings.md"


def call(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        run([str(one) for one in arguments])
    return left.value.code, *capsys.readouterr()


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """You stand in a new workshop."""
    made = create_workshop(tmp_path / "shop", "Europe/Lisbon")
    made.engine.dispose()
    monkeypatch.chdir(made.folder)
    return made.folder


def log(path, n=400, head="Datum;Temperatur [°C];rel. Feuchte [%]", first=datetime(2026, 1, 10), step=10, bad=()):
    lines = [head]
    for k in range(n):
        at = first + timedelta(minutes=step * k)
        warm = "err7" if k in bad else f"{23.5 + (k % 7) / 10:.1f}".replace(".", ",")
        lines.append(_row(at, warm, k))
    path.write_text("\n".join(lines) + "\n")
    return path


def _row(at, warm, k):
    damp = f"{92 + (k % 50) / 10:.1f}".replace(".", ",")
    return f"{at:%d.%m.%Y %H:%M};{warm};{damp}"


@pytest.fixture
def filled(shop, capsys):
    """A workshop with the readings of one logger."""
    file = log(shop / "january.csv")
    code, _, err = call(["readings", "import", file, "--logger", "pot", "--zone", "Europe/Lisbon"], capsys)
    assert code == 0, err
    return shop


def test_what_was_recognised_is_shown_with_reasons(shop, capsys):
    file = log(shop / "a.csv")
    code, out, _ = call(["readings", "import", file, "--logger", "pot", "--dry"], capsys)
    assert code == 0
    for word in ("semicolon", "dmy", "decimal comma", "not known", "asked", "temperature", "degC", "23.5, 23.6, 23.7"):
        assert word in out
    assert "2026-01-10 00:00:00" in out
    code, out, _ = call(["readings", "list"], capsys)
    assert "No readings yet" in out


def test_a_zone_that_nobody_told_is_refused(shop, capsys):
    file = log(shop / "a.csv")
    for more in ([], ["--yes"]):
        code, _, err = call(["readings", "import", file, "--logger", "pot", *more], capsys)
        assert code == 2
        assert "--zone: must be told" in err
        assert "Europe/Lisbon" in err
    assert "No readings yet" in call(["readings", "list"], capsys)[1]


def test_everything_that_must_be_told_is_told_at_once(shop, capsys):
    file = shop / "a.csv"
    rows = "".join(f"03/02/2026 {k // 4:02d}:{k % 4 * 15:02d},{75 + k % 3},{k % 5}\n" for k in range(40))
    file.write_text("time,temperature °C,spin\n" + rows)
    code, _, err = call(["readings", "import", file, "--logger", "pot"], capsys)
    assert code == 2
    for option in ("--zone", "--order", "temperature=", "--leave-out spin"):
        assert option in err
    told = ["--zone", "UTC", "--order", "dmy", "--unit", "temperature=degF", "--leave-out", "spin"]
    code, _, err = call(["readings", "import", file, "--logger", "pot", *told, "--json"], capsys)
    assert code == 0, err
    listed = json.loads(call(["readings", "list", "--json"], capsys)[1])["channels"]
    assert [c["name"] for c in listed] == ["temperature"]
    shown = json.loads(call(["readings", "show", "pot", "--from", "2026-02-01", "--json"], capsys)[1])
    assert min(shown["mean"]) == pytest.approx((75 - 32) / 1.8, abs=1e-3)


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (["--zone", "Europe/Lisboa"], "--zone: no time zone of this name"),
        (["--order", "mdd"], "--order: is no order of a date"),
        (["--unit", "temperature"], "--unit: is no unit of a channel"),
        (["--unit", "temperature=ppm"], "--unit: is no unit of temperature"),
        (["--unit", "temprature=degC"], "did you mean 'temperature'"),
        (["--leave-out", "co2"], "--leave-out: the file has no such channel"),
        (["--map", "none.toml"], "none.toml"),
        (["--bad", "none/bad.csv"], "none/bad.csv"),
    ],
)
def test_an_answer_that_cannot_be_used(shop, capsys, more, says):
    file = log(shop / "a.csv")
    before = (shop / "workshop.db").read_bytes()
    code, _, err = call(["readings", "import", file, "--logger", "pot", *more], capsys)
    assert code == 2
    assert says in err
    assert (shop / "workshop.db").read_bytes() == before


def test_a_zone_that_the_file_tells_is_not_told_otherwise(shop, capsys):
    file = log(shop / "a.csv", head="Datum (UTC+01:00);Temperatur [°C];rel. Feuchte [%]")
    code, _, err = call(["readings", "import", file, "--logger", "pot", "--zone", "Asia/Tokyo"], capsys)
    assert code == 2
    assert "--zone: the header says so" in err
    assert call(["readings", "import", file, "--logger", "pot"], capsys)[0] == 0
    listed = json.loads(call(["readings", "list", "--json"], capsys)[1])["channels"]
    assert listed[0]["first"] == "2026-01-09 23:00"


def test_seconds_since_1970_need_no_zone(shop, capsys):
    file = shop / "a.csv"
    file.write_text("timestamp,temperature °C\n" + "".join(f"{1767225600 + 60 * k},24.{k % 10}\n" for k in range(60)))
    assert call(["readings", "import", file, "--logger", "pot", "--zone", "Asia/Tokyo"], capsys)[0] == 0
    listed = json.loads(call(["readings", "list", "--json"], capsys)[1])["channels"]
    assert listed[0]["first"] == "2026-01-01 00:00"


def test_the_next_file_is_read_as_the_last(filled, capsys):
    file = log(filled / "february.csv", 100, first=datetime(2026, 2, 1))
    code, out, err = call(["readings", "import", file, "--logger", "pot"], capsys)
    assert code == 0, err
    assert "read as the earlier files of this logger" in out
    assert re.search(r"temperature +100 +0 +0", out)
    code, text, _ = call(["readings", "mapping", "pot"], capsys)
    assert code == 0
    mapping = filled / "mapping.toml"
    mapping.write_text(text.replace('zone = "Europe/Lisbon"', 'zone = "UTC+01:00"'))
    code, out, err = call(["readings", "import", file, "--logger", "other", "--map", mapping, "--json"], capsys)
    assert code == 0, err
    listed = json.loads(call(["readings", "list", "--json"], capsys)[1])["channels"]
    assert next(c["first"] for c in listed if c["logger"] == "other") == "2026-01-31 23:00"


def test_bad_rows_are_shown_counted_and_written(shop, capsys):
    file = log(shop / "a.csv", bad=range(100, 130))
    more = ["--zone", "UTC", "--bad", shop / "bad.csv"]
    code, out, _ = call(["readings", "import", file, "--logger", "pot", *more], capsys)
    assert code == 0
    assert "30 bad rows or cells were left out; the first 20:" in out
    assert "line 102 (temperature): is no number: err7" in out
    assert "line 122" not in out
    with (shop / "bad.csv").open() as text:
        rows = list(csv.DictReader(text))
    assert [int(r["line"]) for r in rows] == list(range(102, 132))
    assert {r["text"] for r in rows} == {"err7"}


def test_junk_is_one_message(shop, capsys):
    file = shop / "junk.csv"
    file.write_bytes(bytes(range(256)) * 40)
    for more in ([], ["--json"]):
        code, out, err = call(["readings", "import", file, "--logger", "pot", "--zone", "UTC", *more], capsys)
        assert code == 2
        assert [one["severity"] for one in json.loads(out)["files"][0]["findings"]] == ["error"] if more else out == ""
        assert len(err.splitlines()) == 1
        assert err.isprintable() or err.rstrip("\n").isprintable()


def test_json_of_an_import(shop, capsys):
    file = log(shop / "a.csv", 50, bad=[3])
    code, out, _ = call(["readings", "import", file, "--logger", "pot", "--zone", "UTC", "--json"], capsys)
    assert code == 0
    told = json.loads(out)
    assert (told["rows"], told["rows_kept"], told["bad"]) == (50, 50, 1)
    assert told["channels"]["temperature"] == {"new": 49, "there_already": 0, "differing": 0}
    assert told["bad_listed"] == [{"line": 5, "channel": "temperature", "reason": "is no number"}]
    for key in told:
        assert f"`{key}`" in PAGE.read_text()


def test_somebody_is_asked_on_a_terminal(shop):
    file = log(shop / "a.csv", 60)
    master, slave = pty.openpty()
    command = [sys.executable, "-m", "nestwright", "readings", "import", str(file), "--logger", "pot"]
    one = subprocess.Popen(
        command, stdin=slave, stdout=slave, stderr=slave, env=os.environ | {"TERM": "dumb", "COLUMNS": "100"}
    )
    os.close(slave)
    seen, told = "", 0
    answers = iter((("]: ", "Atlantis\n"), ("]: ", "\n"), ("Y/n", "y\n")))
    mark, answer = next(answers)
    while True:
        ready, _, _ = select.select([master], [], [], 60)
        assert ready, seen
        try:
            piece = os.read(master, 4096).decode()
        except OSError:
            break
        if not piece:
            break
        seen += piece
        if mark in seen[told:]:
            told = len(seen)
            os.write(master, answer.encode())
            mark, answer = next(answers, ("\0", ""))
    os.close(master)
    assert one.wait() == 0, seen
    assert "no time zone of this name" in seen
    assert "[Europe/Lisbon]" in seen
    assert "60 rows" in seen.replace("\r", "")


def test_show_by_day_by_reading_and_as_files(filled, capsys):
    code, out, _ = call(["readings", "show", "pot.humidity", "--from", "2026-01-11", "--to", "2026-01-12"], capsys)
    assert code == 0
    assert re.search(r"2026-01-11 +144 +24 +92 +94 +97", out)
    assert "Never calibrated" in out
    files = [filled / name for name in ("p.svg", "t.csv")]
    span = ["--from", "2026-01-11 08:00", "--to", "2026-01-11 10:00"]
    code, out, err = call(["readings", "show", "humidity", *span, "--picture", files[0], "--csv", files[1]], capsys)
    assert code == 0, err
    assert len(re.findall(r"^2026-01-11 \d\d:\d0 ", out, re.M)) == 12
    assert files[0].read_text().startswith("<svg")
    lines = files[1].read_text().splitlines()
    assert lines[1] == "time,value,standard_uncertainty"
    assert lines[2].startswith("2026-01-11T08:00:00+00:00,")
    assert len(lines) == 14


def test_show_as_json_has_the_documented_keys(filled, capsys):
    code, out, _ = call(["readings", "show", "pot.temperature", "--by", "hour", "--to", "2026-01-20", "--json"], capsys)
    assert code == 0
    told = json.loads(out)
    assert told["by"] == "hour"
    assert len(told["time"]) == len(told["mean"]) == len(told["error"])
    assert told["gaps"][0][1] == "2026-01-21T00:00:00+00:00"
    for key in told:
        assert f"`{key}`" in PAGE.read_text()


def test_a_span_that_ends_before_it_begins(filled, capsys):
    code, _, err = call(["readings", "show", "pot.humidity", "--from", "2026-01-12", "--to", "2026-01-11"], capsys)
    assert code == 2
    assert "--to: ends before it begins" in err
    code, _, err = call(["readings", "show", "pot.humidty"], capsys)
    assert code == 2
    assert "did you mean 'pot.humidity'" in err
    code, _, err = call(["readings", "show", "pot"], capsys)
    assert code == 2
    assert "could be several channels" in err


def test_readings_of_a_wrong_clock_are_removed(filled, capsys):
    span = ["readings", "remove", "pot", "--from", "2026-01-10", "--to", "2026-01-11"]
    code, _, err = call(span, capsys)
    assert code == 2
    assert "found 576 from" in err
    code, out, _ = call([*span, "--yes"], capsys)
    assert (code, out) == (0, "576 readings of pot from 2026-01-10 00:00 to 2026-01-12 00:00 are gone\n")
    listed = json.loads(call(["readings", "list", "--json"], capsys)[1])["channels"]
    assert {(c["readings"], c["first"]) for c in listed} == {(400 - 288, "2026-01-12 00:00")}


def test_a_logger_is_placed(filled, capsys):
    shutil.copy(ROOT / "examples/workshop/habitats/single-pot.toml", "habitats")
    assert call(["build", "add", "N1", "--habitat", "habitats/single-pot.toml"], capsys)[0] == 0
    code, out, err = call(
        ["readings", "place", "pot", "--build", "N1", "--chamber", "pot", "--from", "2026-01-10"], capsys
    )
    assert code == 0, err
    assert "pot stands at N1 pot from 2026-01-10 00:00" in out
    code, _, err = call(["readings", "place", "pot", "--build", "N1", "--chamber", "pto"], capsys)
    assert code == 2
    assert "did you mean 'pot'" in err
    for more in ([], ["--build", "N1", "--colony", "X"]):
        code, _, err = call(["readings", "place", "pot", "--chamber", "pot", *more], capsys)
        assert code == 2
        assert "allowed: one of the two" in err
    assert "N1 pot" in call(["readings", "list"], capsys)[1]
    assert call(["workshop", "undo"], capsys)[0] == 0
    assert "N1 pot" not in call(["readings", "list"], capsys)[1]


def test_time_in_a_band(filled, capsys):
    span = ["--from", "2026-01-10", "--to", "2026-01-13"]
    code, out, _ = call(
        ["readings", "band", "pot.temperature", "--low", "23.55 degC", "--high", "75.1 degF", *span], capsys
    )
    assert code == 0
    for word in ("inside", "above", "below", "not known", "8 in 10", "What is not known counts as neither", "K h"):
        assert word in out
    code, out, _ = call(["readings", "band", "pot.humidity", "--low", "93 %", *span, "--json"], capsys)
    told = json.loads(out)
    assert told["hours"] == pytest.approx(96)
    # 400 readings ten minutes apart
    assert told["known"] == pytest.approx(399 / 6, rel=1e-5)
    assert told["inside"] + told["below"] == pytest.approx(told["known"], rel=1e-4)
    assert told["wet_hours"] == 0
    assert told["episodes"][0]["start"].startswith("2026-01-1")
    for key in told:
        assert f"`{key}`" in PAGE.read_text()


def test_the_band_of_a_card(filled, capsys):
    code, out, _ = call(["readings", "band", "pot.humidity", "--species", "Acromyrmex echinatior"], capsys)
    assert code == 0
    assert "at least 90 %" in out
    assert "10.1007/PL00001728" in out
    assert "judgement" in out


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ([], "--low: a band needs a limit"),
        (["--low", "20"], "--low: the unit is missing"),
        (["--low", "25 degC", "--high", "20 degC"], "--high: is below --low"),
        (["--low", "25 degC", "--species", "Atta sexdens"], "--species: gives the limits itself"),
        (["--species", "Atta sexdans"], "did you mean"),
        (["--species", "Acromyrmex echinatior", "--role", "gardn"], "--role: the card has no such role"),
        (["--low", "20 degC", "--bridge", "2 cats"], "--bridge: wrong unit"),
        (["--low", "20 degC", "--bridge", "0 h"], "--bridge: must be"),
        (["--low", "20 degC", "--from", "soon"], "--from: is no day or moment"),
    ],
)
def test_a_band_that_cannot_be_told(filled, capsys, more, says):
    code, _, err = call(["readings", "band", "pot.temperature", *more], capsys)
    assert code == 2
    assert says in err


def test_the_record_gives_the_climate_that_the_logger_file_gives(tmp_path, monkeypatch, capsys):
    """The same readings by two ways: out of the file beside a colony, and out of the record."""
    import numpy as np

    from nestwright.errands.fitting import read_colony_or_record
    from nestwright.errands.garden_climate import KEYS, read_garden_climate

    made = create_workshop(tmp_path / "shop", "UTC")
    monkeypatch.chdir(made.folder)
    colonies = ROOT / "examples/workshop/colonies"
    assert call(["colony", "add", "--file", colonies / "marigold.toml"], capsys)[0] == 0
    file = colonies / "marigold-logger.csv"
    colony, none = read_colony_or_record(Path("Marigold"), 30)
    assert none == []
    code, _, err = call(["readings", "import", file, "--logger", "pot", "--zone", "UTC"], capsys)
    assert code == 0, err
    place = ["readings", "place", "pot", "--colony", "Marigold", "--chamber", "pot", "--from", "2025-11-01"]
    assert call(place, capsys)[0] == 0
    _, (found,) = read_colony_or_record(Path("Marigold"), 30)
    theirs = read_garden_climate(file, colony, 30)
    assert (found.ahead is None) == (theirs.ahead is None)
    for key in KEYS:
        assert np.allclose(getattr(found.record, key), getattr(theirs.record, key), atol=1e-9, equal_nan=True), key
    assert "loggers pot" in found.source or "logger pot" in found.source
    assert any("never calibrated" in n for n in found.notes)
    assert any("CO2 not measured" in n for n in found.notes)


def test_a_row_of_the_future_is_a_bad_row_and_another_zone_is_refused(shop, capsys):
    """Regressions: a clock in 2056 hid the real week; a second zone laid one reading on two moments."""
    file = shop / "ahead.csv"
    file.write_text("time,temperature_degC\n2025-01-01 00:00,20\n2025-01-01 01:00,21\n2056-01-01 02:00,22\n")
    code, out, _ = call(["readings", "import", file, "--logger", "pot", "--zone", "UTC", "--json", "--yes"], capsys)
    assert code == 0
    told = json.loads(out)
    assert told["channels"]["temperature"]["new"] == 2
    assert told["bad_listed"] == [{"line": 4, "channel": "", "reason": "lies in the future"}]
    code, _, err = call(["readings", "import", file, "--logger", "pot", "--zone", "Europe/Berlin", "--yes"], capsys)
    assert code == 2
    assert (
        "--zone: is another zone than that of this logger's earlier files; found 'Europe/Berlin'; allowed: UTC" in err
    )
    code, _, err = call(["workshop", "undo"], capsys)
    assert code == 2
    assert "readings cannot be taken back; allowed: `nestwright readings remove`" in err
