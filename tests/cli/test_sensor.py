"""`nestwright sensor`: calibrated over salts by the command, refused while not at rest, due days."""

import json
import re
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from nestwright.cli.main import run
from nestwright.sensing import salts
from nestwright.workshop.folder import create_workshop

PAGE = Path(__file__).parents[2] / "docs/guide/sensors.md"
SALTS = ("NaCl", "MgCl2", "K2SO4")
POINTS = [f"{salt} 2026-03-0{k + 1} 18:00 to 2026-03-0{k + 2} 09:00" for k, salt in enumerate(SALTS)]
GAIN, OFFSET = 0.96, 2.5
"""What the invented sensor does, % RH."""


def call(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        run([str(one) for one in arguments])
    return left.value.code, *capsys.readouterr()


def told(arguments, capsys):
    code, out, err = call([*arguments, "--json"], capsys)
    assert code == 0, err
    return json.loads(out)


@pytest.fixture
def shop(tmp_path, monkeypatch, capsys):
    """You stand in a workshop with three evenings over salts, and two days of use."""
    made = create_workshop(tmp_path / "shop", "Europe/Lisbon")
    made.engine.dispose()
    monkeypatch.chdir(made.folder)
    rng = np.random.default_rng(8)
    lines = ["time,temperature °C,humidity %,light lx"]
    for k, salt in enumerate(SALTS):
        true = 100 * float(salts.relative_humidity(salt, 295.15))
        for n in range(15 * 30):
            at = datetime(2026, 3, 1 + k, 18) + timedelta(minutes=2 * n)
            damp = true + (50 - true) * np.exp(-n / 30 / 0.6)
            read = GAIN * damp + OFFSET + rng.normal(0, 0.03)
            lines.append(f"{at:%Y-%m-%d %H:%M:%S},{22 + rng.normal(0, 0.01):.2f},{read:.2f},{n % 9}")
    for n in range(288):
        at = datetime(2026, 3, 6) + timedelta(minutes=10 * n)
        lines.append(f"{at:%Y-%m-%d %H:%M:%S},24.00,{GAIN * 95 + OFFSET:.2f},5")
    Path("pot.csv").write_text("\n".join(lines) + "\n")
    code, _, err = call(["readings", "import", "pot.csv", "--logger", "pot", "--zone", "Europe/Lisbon"], capsys)
    assert code == 0, err
    return made.folder


def points(*texts):
    return [word for text in texts for word in ("--point", text)]


def test_a_calibration_takes_the_planted_error_off(shop, capsys):
    code, out, err = call(["sensor", "calibrate", "pot.humidity", *points(*POINTS)], capsys)
    assert code == 0, err
    assert "at rest for" in out
    assert "Stored; readings stay raw" in out
    assert "poisonous" in out
    for salt in SALTS:
        assert re.search(rf"^{salt} +22.0", out, re.M)
    span = ["--from", "2026-03-06", "--to", "2026-03-07"]
    shown = told(["readings", "show", "pot.humidity", *span], capsys)
    assert np.mean(shown["mean"]) == pytest.approx(95, abs=0.4)
    assert all(abs(v - 95) < 2 * e for v, e in zip(shown["mean"], shown["error"], strict=True))
    raw = told(["readings", "show", "pot.humidity", *span, "--raw"], capsys)
    assert np.mean(raw["mean"]) == pytest.approx(GAIN * 95 + OFFSET, abs=0.01)


def test_what_is_not_at_rest_is_refused_with_how_long_more(shop, capsys):
    early = "NaCl 2026-03-01 18:00 to 20:00"
    code, out, err = call(["sensor", "calibrate", "pot.humidity", *points(early, POINTS[1])], capsys)
    assert (code, out) == (2, "")
    assert re.search(r"not at rest.*found 'NaCl 2026-03-01 18:00 to 20:00'.*up to \d+ h more", err)
    assert told(["sensor", "show", "pot.humidity"], capsys)["calibrations"] == 0
    code, out, _ = call(["sensor", "calibrate", "pot.humidity", *points(early, POINTS[1]), "--dry"], capsys)
    assert code == 0
    assert "Needed: a later end" in out
    assert "an offset only" in out
    assert "Nothing was stored." in out
    assert told(["sensor", "show", "pot.humidity"], capsys)["calibrations"] == 0


def test_the_same_hours_twice_are_refused_until_taken_back(shop, capsys):
    assert call(["sensor", "calibrate", "pot.humidity", *points(*POINTS)], capsys)[0] == 0
    code, _, err = call(["sensor", "calibrate", "pot.humidity", *points(POINTS[0])], capsys)
    assert code == 2
    assert "in a calibration already" in err
    assert call(["workshop", "undo"], capsys)[0] == 0
    assert call(["sensor", "calibrate", "pot.humidity", *points(POINTS[0])], capsys)[0] == 0


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["pot.humidity", "--point", "NaCk 2026-03-01 18:00 to 19:00"], "did you mean 'NaCl'"),
        (["pot.humidity", "--point", "NaCl on Monday"], "--point: cannot be read"),
        (["pot.humidity", "--point", "NaCk 2026-03-01 19:00 to 18:00"], "no fixed point is known for this salt"),
        (["pot.humidity", "--point", "NaCl 2026-03-01 19:00 to 18:00"], "ends before it begins"),
        (["pot.humidity", "--point", "NaCl 2026-03-01 18:00 to 18:10"], "allowed: more readings: a longer time"),
        (["pot.humidity", "--point", "NaCl 2027-03-01 18:00 to 19:00"], "the channel has no readings then"),
        (["pot.humidity", *points(POINTS[0], POINTS[0])], "two points at one time"),
        (["pot.humidity", *points(POINTS[0]), "--temperature", "warm"], "--temperature: is neither"),
        (["pot.humidity", *points(POINTS[0]), "--temperature", "pot.light"], "--temperature: is no temperature"),
        (["pot.humidity", *points(POINTS[0]), "--temperature", "60 degC"], "does not reach this temperature"),
        (["pot.light", "--point", POINTS[0]], "is not calibrated here"),
        (["pot.temperature", "--point", POINTS[0]], "is no reference of temperature"),
        (["pot.humidty", "--point", POINTS[0]], "did you mean 'pot.humidity'"),
    ],
)
def test_a_calibration_that_cannot_be(shop, capsys, arguments, says):
    code, out, err = call(["sensor", "calibrate", *arguments], capsys)
    assert (code, out) == (2, "")
    assert says in err


def test_a_temperature_told_by_hand_serves(shop, capsys):
    own = told(["sensor", "calibrate", "pot.humidity", *points(POINTS[0]), "--dry"], capsys)
    by_hand = told(
        ["sensor", "calibrate", "pot.humidity", *points(POINTS[0]), "--dry", "--temperature", "22 degC"], capsys
    )
    references = [one["calibration"]["points"][0]["reference"] for one in (own, by_hand)]
    assert references[0] == pytest.approx(references[1], abs=1e-4)
    assert not own["stored"]


def test_list_show_and_want(shop, capsys):
    code, out, _ = call(["sensor", "list"], capsys)
    assert code == 0
    assert "pot.light" not in out
    assert len(re.findall(r"^pot\.\w+ +never", out, re.M)) == 2
    call(["sensor", "calibrate", "pot.humidity", *points(*POINTS), "--note", "evenings in March"], capsys)
    code, out, _ = call(["sensor", "want", "pot.humidity", "2 %"], capsys)
    assert "a standard uncertainty of 2 % is enough" in out
    states = {s["channel"]["name"]: s for s in told(["sensor", "list"], capsys)["sensors"]}
    mine = states["humidity"]
    assert mine["level"] == pytest.approx(GAIN * 95 + OFFSET, abs=0.01)
    assert mine["correction"] == pytest.approx(95 - (GAIN * 95 + OFFSET), abs=0.5)
    assert mine["last_calibration"] == "2026-03-04"
    assert mine["due"] > "2026-03-04"
    assert states["temperature"]["due"] is None
    code, out, _ = call(["sensor", "show", "pot.humidity"], capsys)
    assert "evenings in March" in out
    assert "2 % RH wanted, due on" in out
    call(["sensor", "want", "pot.humidity", "none"], capsys)
    assert told(["sensor", "show", "pot.humidity"], capsys)["wanted_error"] is None


def test_json_keys_are_documented(shop, capsys):
    page = PAGE.read_text()
    made = told(["sensor", "calibrate", "pot.humidity", *points(*POINTS)], capsys)
    state = told(["sensor", "show", "pot.humidity"], capsys)
    listed = told(["sensor", "list"], capsys)
    for one in (made, made["calibration"], made["points"][0], state, listed):
        for key in one:
            assert f"`{key}`" in page, key


@pytest.mark.parametrize(
    ("channel", "text", "says"),
    [
        ("pot.humidity", "2 K", "cannot be the uncertainty of a humidity; found '2 K'; allowed: above 0 to 100 %"),
        ("pot.humidity", "0 %", "found '0 %'"),
        ("pot.humidity", "2", "the unit is missing"),
        ("pot.temperature", "2 %", "cannot be the uncertainty of a temperature; found '2 %'; allowed: above 0 to 50 K"),
    ],
)
def test_an_uncertainty_of_another_quantity_is_refused_in_its_own_words(shop, capsys, channel, text, says):
    code, out, err = call(["sensor", "want", channel, text], capsys)
    assert (code, out) == (2, "")
    assert says in err
