"""Weather files against pvlib's readers of them, and the moisture classes against ISO 13788."""

import gzip
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.humidity_class import moisture_excess
from nestwright.climate.indoor import Indoor, indoor_temperature, running_mean, weather_room
from nestwright.climate.rooms import read_room
from nestwright.climate.weather import COMPACT, read_weather
from nestwright.errors import InputError
from nestwright.physics import air

pvlib = pytest.importorskip("pvlib")

DATA = Path(pvlib.__file__).parent / "data"
ROOT = Path(__file__).parents[2]
ROOMS = ROOT / "examples/workshop/rooms"
YEARS = {"723170TYA.CSV": "greensboro.csv.gz", "703165TY.csv": "sand-point.csv.gz"}

EPW_HEAD = """LOCATION,Invented Bay,-,XXX,made up,999999,50.0,10.0,1.0,210.0
DESIGN CONDITIONS,0
TYPICAL/EXTREME PERIODS,0
GROUND TEMPERATURES,0
HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0
COMMENTS 1,invented
COMMENTS 2,
DATA PERIODS,1,1,Data,Sunday,1/1,12/31
"""


def epw(hours=48, **cells):
    """An EPW text of the first `hours` of a year; `cells` gives whole columns by number, as "c6"."""
    rows = []
    for k in range(hours):
        t = 5 + 4 * np.sin(k / 4)
        row = ["1999", "1", str(1 + k // 24), str(1 + k % 24), "60", "?9", f"{t:.1f}", f"{t - 3:.1f}", "80", "98800"]
        row += ["0"] * 25
        for name, value in cells.items():
            row[int(name[1:])] = value(k) if callable(value) else value
        rows.append(",".join(row))
    return EPW_HEAD + "\n".join(rows) + "\n"


def written(folder, text, name="here.epw"):
    (folder / name).write_text(text)
    return folder / name


@pytest.mark.parametrize("name", YEARS)
def test_tmy3_is_read_as_pvlib_reads_it(name):
    ours = read_weather(DATA / name)
    theirs, meta = pvlib.iotools.read_tmy3(DATA / name, map_variables=True, coerce_year=2001)
    assert len(ours.time) == len(theirs) == 8760
    assert ours.temperature - 273.15 == pytest.approx(theirs["temp_air"].to_numpy(), abs=1e-9)
    assert ours.pressure == pytest.approx(theirs["pressure"].to_numpy() * 100, abs=1e-6)
    dew = np.minimum(theirs["temp_dew"], theirs["temp_air"]).to_numpy() + 273.15
    assert ours.vapour_pressure == pytest.approx(air.saturation_pressure(dew), rel=1e-9)
    assert ours.altitude == meta["altitude"]
    # pvlib gives the last hour, 24:00 of 31 December, to the start of the same year.
    hours = (theirs.index.day_of_year - 1) * 24 + theirs.index.hour
    assert (ours.time[:-1] / 3600 == hours.to_numpy()[:-1]).all()
    assert ours.time[-1] == 8760 * 3600


@pytest.mark.parametrize("name", YEARS)
def test_dew_point_and_humidity_of_the_station_tell_the_same_vapour(name):
    # Sand Point's dew points are mostly whole degrees: half a kelvin is about 3 % RH, so single hours differ by
    # that, their mean by no more than a third of it.
    ours = read_weather(DATA / name)
    theirs, _ = pvlib.iotools.read_tmy3(DATA / name, map_variables=True)
    humidity = ours.vapour_pressure / air.saturation_pressure(ours.temperature) * 100
    off = humidity - theirs["relative_humidity"].to_numpy()
    assert np.abs(off).mean() < 1.5
    assert abs(off.mean()) < 1.0


@pytest.mark.parametrize(("full", "small"), YEARS.items())
def test_small_copy_equals_the_full_file(full, small):
    a, b = read_weather(DATA / full), read_weather(ROOMS / "weather" / small)
    for key in ("time", "temperature", "vapour_pressure", "pressure"):
        assert getattr(b, key) == pytest.approx(getattr(a, key), rel=1e-12), key
    assert (ROOMS / "weather" / small).stat().st_size < 200_000
    head = gzip.decompress((ROOMS / "weather" / small).read_bytes()).decode().splitlines()[:5]
    assert "NREL TMY3" in "".join(head)
    assert "public domain" in "".join(head)


def test_the_study_makes_the_small_copies_again(tmp_path):
    script = (ROOT / "studies/make_demo_weather.py").read_text()
    (tmp_path / "studies").mkdir()
    (tmp_path / "studies/make.py").write_text(script)
    (tmp_path / "examples/workshop/rooms").mkdir(parents=True)
    subprocess.run([sys.executable, tmp_path / "studies/make.py"], check=True, capture_output=True)
    for small in YEARS.values():
        made = gzip.decompress((tmp_path / "examples/workshop/rooms/weather" / small).read_bytes())
        assert made == gzip.decompress((ROOMS / "weather" / small).read_bytes())


def test_epw_is_read_as_pvlib_reads_it(tmp_path):
    path = written(tmp_path, epw())
    ours = read_weather(path)
    theirs, meta = pvlib.iotools.read_epw(path)
    assert ours.temperature - 273.15 == pytest.approx(theirs["temp_air"].to_numpy())
    assert ours.pressure == pytest.approx(theirs["atmospheric_pressure"].to_numpy())
    assert ours.vapour_pressure == pytest.approx(air.saturation_pressure(theirs["temp_dew"].to_numpy() + 273.15))
    assert ours.altitude == meta["altitude"]
    # pvlib labels the hour by its start, we by its end, as the file does.
    assert (ours.time / 3600 == theirs.index.hour + (theirs.index.day_of_year - 1) * 24 + 1).all()


def test_epw_without_dew_point_takes_the_humidity(tmp_path):
    ours = read_weather(written(tmp_path, epw(c7="99.9")))
    assert ours.vapour_pressure / air.saturation_pressure(ours.temperature) == pytest.approx(0.80)


def test_epw_hours_without_values_are_left_out_and_told(tmp_path):
    ours = read_weather(written(tmp_path, epw(c6=lambda k: "99.9" if 10 <= k < 16 else "5.0", c7="2.0")))
    assert len(ours.time) == 42
    assert "6 rows without values" in ours.source
    assert "longest gap 7 h" in ours.source


def test_epw_without_pressure_takes_that_of_its_altitude(tmp_path):
    # ICAO standard atmosphere at 210 m: 988.3 hPa (value from memory).
    ours = read_weather(written(tmp_path, epw(c9="999999")))
    assert ours.mean_pressure == pytest.approx(98830, rel=5e-4)


@pytest.mark.parametrize(
    ("cells", "field"),
    [
        ({"c6": "warm"}, "dry bulb"),
        ({"c6": "77"}, "temperature"),
        ({"c7": "-88"}, "dew point"),
        ({"c9": "98"}, "pressure"),
        ({"c1": "13"}, "month"),
        ({"c3": "25"}, "hour"),
        ({"c3": "4"}, "time"),
    ],
)
def test_a_fault_in_epw_is_told_with_line_and_field(tmp_path, cells, field):
    with pytest.raises(InputError) as told:
        read_weather(written(tmp_path, epw(**cells)))
    assert told.value.field == field
    assert told.value.line == (10 if field == "time" else 9)
    assert told.value.file.endswith("here.epw")


def test_compact_form_tells_a_missing_column(tmp_path):
    text = ",".join(COMPACT).replace("outdoor_dew_point_degC", "dew") + "\n1,1,1,5,2,1000\n"
    with pytest.raises(InputError, match="outdoor_dew_point_degC"):
        read_weather(written(tmp_path, text, "w.csv"))


@pytest.mark.parametrize("cut", [0, 10, 100, 2000, 20000])
def test_a_packed_file_that_is_cut_off_is_an_input_error(tmp_path, cut):
    (tmp_path / "w.csv.gz").write_bytes((ROOMS / "weather/greensboro.csv.gz").read_bytes()[:cut])
    with pytest.raises(InputError):
        read_weather(tmp_path / "w.csv.gz")


@pytest.mark.parametrize(
    ("number", "upper"),
    # ISO 13788:2012, annex A: upper limits in cold weather, Pa (values from memory); class 5 is judgement.
    [(1, 270), (2, 540), (3, 810), (4, 1080), (5, 1360)],
)
def test_moisture_classes_of_iso_13788(number, upper):
    outdoors = np.array([-15.0, 0.0, 5.0, 10.0, 20.0, 30.0]) + 273.15
    expected = np.array([1, 1, 0.75, 0.5, 0, 0]) * upper
    assert moisture_excess(outdoors, number) == pytest.approx(expected, abs=1e-9)
    assert moisture_excess(outdoors, number, 0.0)[0] == pytest.approx({1: 0, 2: 270, 3: 540, 4: 810, 5: 1080}[number])


@pytest.mark.parametrize("number", [0, 6, True, 2.5, "2"])
def test_other_classes_are_refused(number):
    with pytest.raises(InputError, match="1, 2, 3, 4 or 5"):
        moisture_excess(280.0, number)


def test_running_mean_of_a_step_is_the_exponential():
    # Closed form: 1 - exp(-t/tau).
    time = np.arange(0, 400, 1.0) * 3600
    step = np.where(time > 100 * 3600, 1.0, 0.0)
    made = running_mean(time, step, 48 * 3600, cyclic=False)
    # The step is a ramp over one hour: half an hour late.
    assert made[300] == pytest.approx(1 - np.exp(-199.5 / 48), abs=2e-5)
    assert made[100] == 0


def test_heating_holds_the_set_point_and_summer_rises_above_it():
    weather = read_weather(ROOMS / "weather/greensboro.csv.gz")
    room = weather_room(weather, Indoor(293.15, 2))
    assert room.temperature.min() == pytest.approx(293.15)
    assert room.time[0] == 0
    assert len(room.time) == 8761
    assert (np.diff(room.time) == 3600).all()
    january, july = room.time < 31 * 86400, (room.time > 181 * 86400) & (room.time < 212 * 86400)
    assert room.temperature[january].mean() == pytest.approx(293.15, abs=0.3)
    outdoors = np.interp(room.time, weather.time, weather.temperature)
    assert room.temperature[july].mean() == pytest.approx(outdoors[july].mean() + 2.0, abs=0.3)


def test_night_set_back_lowers_the_nights_only():
    time = np.arange(0, 10 * 24 + 1) * 3600.0
    kept = Indoor(294.15, 2, set_back=2.0, night=(22.0, 6.0))
    made = indoor_temperature(time, np.full(len(time), 263.15), kept)[48:]
    hour = time[48:] / 3600 % 24
    assert made[hour == 18] == pytest.approx(294.15)
    assert made[hour == 5].max() < 293.2
    assert made.min() >= 292.15 - 1e-9


def test_cooling_limit_is_kept():
    weather = read_weather(ROOMS / "weather/greensboro.csv.gz")
    room = weather_room(weather, Indoor(293.15, 2, cooling_limit=299.15))
    assert room.temperature.max() == pytest.approx(299.15)


def test_room_air_never_passes_the_cap_and_is_damper_with_the_class():
    path = str(ROOMS / "weather/greensboro.csv.gz")
    rooms = [read_room(path, humidity_class=n) for n in (1, 3, 5)]
    for room in rooms:
        assert (room.vapour_pressure / air.saturation_pressure(room.temperature)).max() <= 0.95 + 1e-9
    means = [r.vapour_pressure.mean() for r in rooms]
    assert means[0] < means[1] < means[2]
    outdoors = read_weather(path).vapour_pressure.mean()
    assert means[0] > outdoors
