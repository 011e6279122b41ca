"""The commands on the shipped examples, as a builder would call them."""

import importlib.util
import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import polars
import pytest

from nestwright.cli import demo, main
from nestwright.colony.fit import fit
from nestwright.colony.forecast import Scenario, forecast
from nestwright.errands.fitting import colony_and_climate

WORKSHOP = demo.example_workshop()
HABITATS = sorted((WORKSHOP / "habitats").glob("*.toml"))
COLONIES = sorted((WORKSHOP / "colonies").glob("*.toml"))
YEAR = WORKSHOP / demo.ROOM


def told(arguments, capsys):
    with pytest.raises(SystemExit) as left:
        main.run([str(one) for one in arguments])
    out, err = capsys.readouterr()
    assert left.value.code == 0, err
    return out


@pytest.mark.parametrize("habitat", HABITATS, ids=lambda p: p.stem)
def test_climate_in_a_fixed_room(habitat, capsys):
    result = json.loads(told(["climate", habitat, "--room", "21 degC, 45 %", "--json"], capsys))
    assert result["room"]["temperature_degC"] == pytest.approx(21)
    assert result["room"]["relative_humidity_pct"] == pytest.approx(45)
    assert result["limits"]
    assert max(result["balances"].values()) < 1e-6
    for chamber in result["chambers"]:
        assert 0 < chamber["relative_humidity_pct"] <= 100.5
        assert 15 < chamber["temperature_degC"] < 45
        assert 0 < chamber["o2_pct"] < 21
    text = told(["climate", habitat, "--room", "21 degC, 45 %"], capsys)
    assert ("Holds." in text) == result["holds"]
    for limit in result["limits"]:
        assert limit["name"] in text


def test_climate_over_the_year_writes_the_run(tmp_path, capsys):
    target = tmp_path / "run.parquet"
    arguments = ["climate", WORKSHOP / demo.HABITAT, "--room", YEAR, "--year", "--out", target, "--json"]
    result = json.loads(told(arguments, capsys))
    frame = polars.read_parquet(target)
    assert frame["hour"][-1] == pytest.approx(result["hours"])
    names = [chamber["name"] for chamber in result["chambers"]]
    for name in names:
        mean = next(c for c in result["chambers"] if c["name"] == name)["temperature_degC"]
        assert frame[f"{name}.temperature_degC"].mean() == pytest.approx(mean, abs=0.05)
    for limit in result["limits"]:
        assert 0 <= limit["hours_held_pct"] <= 100
        assert limit["held"] == (limit["hours_held_pct"] == 100)


def test_window_is_drawn_and_told(tmp_path, capsys):
    target = tmp_path / "w.svg"
    out = told(["window", WORKSHOP / demo.HABITAT, "--room", YEAR, "--points", "20", "--out", target, "--json"], capsys)
    result = json.loads(out)
    assert len(result["worst_scaled_margin"]) == len(result["room_temperatures_degC"]) == 20
    assert 0 <= result["room_hours_inside_pct"] <= 100
    assert target.read_text().lstrip().startswith("<svg")


def test_an_interrupted_run_writes_nothing(tmp_path):
    target = tmp_path / "run.csv"
    command = [sys.executable, "-m", "nestwright", "climate", WORKSHOP / demo.HABITAT]
    going = subprocess.Popen(
        [*command, "--room", YEAR, "--year", "--out", target], cwd=tmp_path, stderr=subprocess.PIPE, text=True
    )
    time.sleep(1.0)
    going.send_signal(signal.SIGINT)
    _, said = going.communicate(timeout=120)
    # A quick machine may have finished; then the whole file is there. Half of one never is.
    if going.returncode == 0:
        assert target.exists()
    else:
        assert going.returncode == 130, said
        assert "stopped; no file was left half-written" in said
        assert list(Path(tmp_path).iterdir()) == []


def forecast_of(path, days):
    """A quick fit and forecast of an example colony."""
    colony, ahead, _ = colony_and_climate(path, None, days)
    return colony, forecast(fit(colony, particles=300, moves=4), days, Scenario(climate=ahead))


@pytest.mark.parametrize("path", COLONIES, ids=lambda p: p.stem)
def test_a_colony_is_invented_read_and_forecast(path, capsys):
    assert path.read_text().startswith("# Invented")
    told(["check", path], capsys)
    colony, result = forecast_of(path, 30)
    garden = result.bands["garden"]
    assert np.isfinite([garden.low, garden.middle, garden.high]).all()
    assert (garden.low <= garden.middle).all()
    assert (garden.middle <= garden.high).all()
    last = [o.value for o in colony.observations if o.kind == "garden"][-1]
    assert garden.low[0] / 1.5 < last < 1.5 * garden.high[0], "today is not what was seen last"
    assert result.dates


@pytest.mark.parametrize("name", ["marigold", "thistle"])
def test_the_forecast_holds_what_really_followed(name, tmp_path, monkeypatch):
    """The colony lived on in the study that made its record; its file says nothing of that."""
    spec = importlib.util.spec_from_file_location("made", WORKSHOP.parents[1] / "studies/make_demo_colony.py")
    study = importlib.util.module_from_spec(spec)
    monkeypatch.setitem(sys.modules, "made", study)
    spec.loader.exec_module(study)
    monkeypatch.setattr(study, "FOLDER", tmp_path)
    life = getattr(study, name)()
    colony, result = forecast_of(tmp_path / f"{name}.toml", study.AFTER)
    for kind in ("garden", "workers"):
        band, true = result.bands[kind], life.path[kind][colony.days :]
        held = np.mean((band.low <= true) & (true <= band.high))
        # eight of ten in the long run; the days of one course hang together
        assert held > 0.5, kind
