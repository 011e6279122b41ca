"""Faulty weather files and the year that becomes of a good one; test_rooms_weather.py has the reading itself."""

from pathlib import Path

import numpy as np
import pytest

from nestwright.climate.indoor import Indoor, weather_room
from nestwright.climate.rooms import read_room
from nestwright.climate.weather import COMPACT, read_weather
from nestwright.errors import InputError
from nestwright.physics import air

ROOT = Path(__file__).parents[2]
ROOMS = ROOT / "examples/workshop/rooms"

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


def test_epw_without_dew_point_takes_the_humidity(tmp_path):
    ours = read_weather(written(tmp_path, epw(c7="99.9")))
    assert ours.vapour_pressure / air.saturation_pressure(ours.temperature) == pytest.approx(0.80)


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


def test_room_air_never_passes_the_cap_and_is_damper_with_the_class():
    path = str(ROOMS / "weather/greensboro.csv.gz")
    rooms = [read_room(path, humidity_class=n) for n in (1, 3, 5)]
    for room in rooms:
        assert (room.vapour_pressure / air.saturation_pressure(room.temperature)).max() <= 0.95 + 1e-9
    means = [r.vapour_pressure.mean() for r in rooms]
    assert means[0] < means[1] < means[2]
    outdoors = read_weather(path).vapour_pressure.mean()
    assert means[0] > outdoors
