"""The garden's climate by day, from each file that may tell of it: means and depths by hand."""

import json
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from invented import proof, year

from nestwright.cli.output import as_json
from nestwright.cli.year_table import write_table
from nestwright.colony.model import Colony
from nestwright.errands.fitting import colony_and_climate
from nestwright.errands.garden_climate import garden_limits, read_garden_climate
from nestwright.errors import InputError

START = date(2031, 3, 1)
SPECIES = "Acromyrmex echinatior"
COLONY = Colony("Sill", SPECIES, START, 10)
# the card's limits for garden chambers: 20 to 27 degC, at least 90 % RH, at most 3 % CO2
WARM, COLD, DAMP, GAS = 27.0, 20.0, 0.9, 0.03


def logger(path, rows):
    """A logger's file: rows of (days after the start, degC, % RH)."""
    lines = [f"{datetime(2031, 3, 1) + timedelta(days=d):%Y-%m-%d %H:%M},{t},{h}" for d, t, h in rows]
    path.write_text("\n".join(["time,temperature (degC),humidity (%)", *lines]) + "\n")
    return path


def hours(first, last, temperature, humidity):
    return [(first + k / 24, temperature, humidity) for k in range(int((last - first) * 24))]


def test_the_limits_are_the_cards():
    limits = garden_limits(SPECIES)
    assert limits["temperature"] == pytest.approx((COLD + 273.15, WARM + 273.15))
    assert limits["relative_humidity"][0] == DAMP
    assert limits["co2"][1] == GAS


def test_a_logger_by_day(tmp_path):
    # day 2 half at 30 and half at 24 degC: 3 K too hot for half the day; day 3 at 18 degC and 80 % RH
    rows = hours(2, 2.5, 30, 95) + hours(2.5, 3, 24, 95) + hours(3, 4, 18, 80)
    made = read_garden_climate(logger(tmp_path / "a.csv", rows), COLONY, 20)
    day = made.record
    assert day.temperature.shape == (11,)
    assert day.temperature[2] == pytest.approx(27.0, abs=0.01)
    assert day.hot[2] == pytest.approx(1.5, abs=0.01)
    assert day.cold[2] == 0
    assert day.cold[3] == pytest.approx(2.0)
    assert day.dry[3] == pytest.approx(0.1)
    assert day.dry[2] == 0
    for quantity in ("temperature", "hot", "cold", "dry", "wet", "co2"):
        known = np.isfinite(getattr(day, quantity))
        assert known.tolist() == [i in (2, 3) for i in range(11)], "NaN on days without readings"
    assert made.ahead is None
    assert not made.proof
    assert "2 of 11 days" in made.source
    assert any("CO2" in note for note in made.notes)


def test_readings_stand_for_the_time_between_them(tmp_path):
    # every ten minutes at 30 degC for six hours, then hourly at 22 degC: by time 24, by count about 27
    rows = [(1 + k / 144, 30, 95) for k in range(36)] + hours(1.25, 2, 22, 95)
    made = read_garden_climate(logger(tmp_path / "a.csv", rows), COLONY, 20)
    assert made.record.temperature[1] == pytest.approx(24.0, abs=0.2)


def test_a_logger_that_goes_on_after_the_record_tells_of_the_days_to_come(tmp_path):
    rows = hours(0, 10, 22, 95) + hours(12, 13, 29, 95)
    made = read_garden_climate(logger(tmp_path / "a.csv", rows), COLONY, 5)
    # days 10 to 14, of which 12 was measured: the others as the last fourteen measured days
    mean = (10 * 22 + 29) / 11
    assert made.ahead.temperature == pytest.approx([mean, mean, 29, mean, mean])
    assert made.ahead.hot[2] == pytest.approx(2.0)


def test_a_logger_of_another_year_is_refused(tmp_path):
    with pytest.raises(InputError, match="no reading of the record's days"):
        read_garden_climate(logger(tmp_path / "a.csv", hours(400, 402, 22, 95)), COLONY, 20)


def proof_file(path, **changed):
    document = as_json(proof().to_dict())
    document["chambers"][0] |= changed
    path.write_text(json.dumps(document))
    return path


def test_a_proof_is_the_same_every_day(tmp_path):
    path = proof_file(tmp_path / "p.json", temperature_degC=29.0, relative_humidity_pct=85.0, co2_pct=4.0)
    made = read_garden_climate(path, COLONY, 20)
    assert made.proof
    assert len(made.record.temperature) == 11
    assert len(made.ahead.temperature) == 20
    for climate in (made.record, made.ahead):
        assert climate.temperature == pytest.approx(29.0)
        assert climate.hot == pytest.approx(2.0)
        assert climate.cold == pytest.approx(0.0)
        assert climate.dry == pytest.approx(0.05)
        assert climate.co2 == pytest.approx(0.01)
        assert climate.wet == pytest.approx(0.0)
    assert made.water.rate == pytest.approx(1.2345, rel=1e-4)
    assert made.water.refill == pytest.approx(12.34, rel=1e-4)


def test_drip_of_a_proof_wets(tmp_path):
    document = as_json(replace(proof(), drip_rate=2e-3 / 86400).to_dict())  # 2 g a day
    (tmp_path / "p.json").write_text(json.dumps(document))
    made = read_garden_climate(tmp_path / "p.json", COLONY, 3)
    assert made.ahead.wet == pytest.approx(2.0)


@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_a_run_that_reaches_into_the_record_lies_on_its_dates(tmp_path, suffix):
    run = replace(year(), start="2031-03-04T00:00:00")
    made = read_garden_climate(write_table(run, tmp_path / f"run{suffix}"), COLONY, 4)
    known = np.flatnonzero(np.isfinite(made.record.temperature))
    assert known.tolist() == [3, 4, 5]  # 49 hours: two days and an hour
    assert made.record.temperature[3] == pytest.approx(24.0, abs=2.0)
    # it ends before the days to come: they take it over and over
    assert np.isfinite(made.ahead.temperature).all()
    assert made.ahead.temperature[3] == made.ahead.temperature[0]


def test_a_year_lies_on_the_calendar_whatever_year_it_was(tmp_path):
    # each day's temperature is the number of the day: 1 March is day 59 of a year of 365
    day = np.arange(365 * 24) // 24
    lines = [f"{k},{20 + d / 100},95" for k, d in enumerate(day)]
    head = "hour,pot.temperature_degC,pot.relative_humidity_pct"
    times = [datetime(2026, 1, 1) + timedelta(hours=k) for k in range(len(day))]
    stamped = [f"{k},{t.isoformat()},{20 + d / 100},95" for k, (t, d) in enumerate(zip(times, day, strict=True))]
    path = tmp_path / "run.csv"
    path.write_text("\n".join([head.replace("hour,", "hour,time,"), *stamped]) + "\n")
    made = read_garden_climate(path, COLONY, 400)
    number = (made.record.temperature - 20) * 100
    # two leap days (2028) lie between 2026 and 2031: a year is laid on within a day or two
    assert number[0] == pytest.approx(59, abs=2)
    assert np.diff(number[:5]) == pytest.approx(1.0)
    assert made.ahead.temperature[365] == made.ahead.temperature[0]
    path.write_text("\n".join([head, *lines]) + "\n")
    undated = read_garden_climate(path, COLONY, 20)
    assert undated.record.temperature[0] == pytest.approx(20.0)
    assert any("no dates" in note for note in undated.notes)


def test_the_bells_air_is_the_gardens(tmp_path):
    head = "hour,room.temperature_degC,room.relative_humidity_pct,pot.temperature_degC,pot.relative_humidity_pct"
    head += ",pot/bell.temperature_degC,pot/bell.relative_humidity_pct,pot/bell.co2_pct"
    (tmp_path / "run.csv").write_text(f"{head}\n0,18,40,19,60,25,97,3.5\n1,18,40,19,60,25,97,3.5\n")
    made = read_garden_climate(tmp_path / "run.csv", COLONY, 2)
    assert made.record.temperature == pytest.approx(25.0)
    assert made.record.co2 == pytest.approx(0.005)


def test_several_chambers_without_a_bell_are_refused(tmp_path):
    head = "hour,a.temperature_degC,a.relative_humidity_pct,b.temperature_degC,b.relative_humidity_pct"
    (tmp_path / "run.csv").write_text(f"{head}\n0,18,40,19,60\n")
    with pytest.raises(InputError, match="which chamber is the garden's; found a, b"):
        read_garden_climate(tmp_path / "run.csv", COLONY, 2)


def test_a_folder_is_told_as_one(tmp_path):
    with pytest.raises(InputError, match="is a folder, not a file"):
        read_garden_climate(tmp_path, COLONY, 4)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.json", "{}"),
        ("a.json", "nonsense"),
        ("a.json", '{"chambers": [{"role": "dump"}]}'),
        ("a.json", '{"chambers": [{"role": "garden", "temperature_degC": "warm"}]}'),
        ("a.csv", "hour,pot\n1,2\n"),
        ("a.csv", "hour,pot.temperature_degC,pot.relative_humidity_pct\nx,y,z\n"),
        ("a.csv", "nothing\n"),
        ("a.parquet", "not a table"),
        ("a.toml", ""),
        ("a.csv", ""),
    ],
)
def test_files_that_are_no_climate_are_refused(tmp_path, name, content):
    (tmp_path / name).write_text(content)
    with pytest.raises(InputError) as refused:
        read_garden_climate(tmp_path / name, COLONY, 5)
    assert name in str(refused.value)


COLONY_FILE = """\
format = 1
name = "Sill"
species = "Acromyrmex echinatior"
start = 2031-03-01
end = 2031-03-11
{climate}
"""


def test_a_logger_goes_to_the_fit_and_a_proof_to_the_days_to_come(tmp_path):
    logger(tmp_path / "a.csv", hours(0, 10, 22, 95))
    (tmp_path / "sill.toml").write_text(COLONY_FILE.format(climate='climate = "a.csv"'))
    path = proof_file(tmp_path / "p.json", temperature_degC=29.0)
    colony, ahead, read = colony_and_climate(tmp_path / "sill.toml", path, 20)
    assert colony.climate.temperature[:10] == pytest.approx(22.0)
    assert ahead.temperature == pytest.approx(29.0)
    assert len(read) == 2


def test_a_proof_alone_is_the_climate_of_the_record_too(tmp_path):
    (tmp_path / "sill.toml").write_text(COLONY_FILE.format(climate=""))
    colony, ahead, _ = colony_and_climate(tmp_path / "sill.toml", proof_file(tmp_path / "p.json"), 20)
    assert colony.climate.temperature == pytest.approx(24.0)
    assert ahead.temperature == pytest.approx(24.0)


def test_no_climate_is_none(tmp_path):
    (tmp_path / "sill.toml").write_text(COLONY_FILE.format(climate=""))
    colony, ahead, read = colony_and_climate(tmp_path / "sill.toml", None, 20)
    assert colony.climate is None
    assert ahead is None
    assert read == ()
