"""From a text to a room: pairs, room files of every kind, and what is said of a wrong one."""

import doctest
import re
import sys
from datetime import datetime
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.climate import humidity_class, rooms
from nestwright.climate.room_file import KEYS
from nestwright.climate.room_values import room_values
from nestwright.climate.rooms import read_room, room_summary
from nestwright.errors import InputError

sys.path.insert(0, str(Path(__file__).parent))
from rooms_common import ROOMS, ROOT, check_contract, only_input_errors

psychrolib.SetUnitSystem(psychrolib.SI)

PAIRS = [
    ("21 degC, 45 %", 21.0, 0.45),
    ("21 °C 45 %", 21.0, 0.45),
    ("21C,45%", 21.0, 0.45),
    ("70 degF, 45 %", 21.1111, 0.45),
    ("68 °F / 50 %RH", 20.0, 0.50),
    ("294.15 K, 45 %", 21.0, 0.45),
    ("-2.5 degC; 80.5 % RH", -2.5, 0.805),
]


@pytest.mark.parametrize(("spec", "celsius", "humidity"), PAIRS, ids=[p[0] for p in PAIRS])
def test_fixed_pairs(spec, celsius, humidity):
    room = read_room(spec)
    check_contract(room)
    assert room.fixed
    assert room.temperature[0] == pytest.approx(celsius + 273.15, abs=1e-3)
    if celsius > 0:
        # psychrolib: the same curve of ASHRAE Fundamentals, written by others.
        assert room.vapour_pressure[0] == pytest.approx(psychrolib.GetVapPresFromRelHum(celsius, humidity), rel=1e-4)
    assert room_summary(room)["relative_humidity_pct"]["median"] == pytest.approx(humidity * 100)


@pytest.mark.parametrize("altitude", [-100.0, 0.0, 500.0, 1600.0, 3000.0])
def test_pressure_at_altitude(altitude):
    # ISO 2533 standard atmosphere, as psychrolib has it.
    assert read_room("21 degC, 45 %", altitude).pressure == pytest.approx(
        psychrolib.GetStandardAtmPressure(altitude), rel=1e-5
    )


WRONG = {
    "": "names no room",
    "warm": "names no room",
    "21 degC": "tells a temperature without its humidity",
    "21 furlong, 45 %": "its temperature cannot be read; found '21 furlong'; .* as \"21 degC, 45 %\"",
    "21, 45": "its temperature cannot be read; found '21';",
    "45 %, 21 degC": "tells the humidity before .*; did you mean '21 degC, 45 %'",
    "21 degC, wet": "its humidity cannot be read; found 'wet'",
    "21 degC 45": "its humidity cannot be read; found '45'",
    "20,5 degC, 45 %": "a comma in a number, .* mean '20.5 degC, 45 %'",
    "-300 degC, 45 %": "is below absolute zero",
    ".": "is a folder",
    "120 degC, 45 %": "is too large",
    "80 degC, 45 %": "no room temperature",
    "21 degC, 140 %": "no humidity",
    "21 degC, 0 %": "no humidity",
    "rooms/none.toml": "no such room file",
    "x" * 5000: "names no room",
    "a\0b": "names no room",
}


@pytest.mark.parametrize(("spec", "says"), WRONG.items(), ids=[repr(k[:20]) for k in WRONG])
def test_wrong_texts(spec, says):
    with pytest.raises(InputError) as caught:
        read_room(spec)
    assert re.search(says, str(caught.value))
    assert caught.value.allowed


def test_a_misspelt_file_names_its_neighbour():
    with pytest.raises(InputError) as caught:
        read_room(str(ROOMS / "heatedroom.toml"))
    assert caught.value.nearest.endswith("heated-room.toml")


@given(st.text(max_size=60) | st.from_regex(r"-?\d{1,4}(\.\d)? ?(degC|C|F|K), ?\d{1,4} ?%", fullmatch=True))
def test_any_text_is_a_room_or_an_input_error(spec):
    with only_input_errors():
        check_contract(read_room(spec))


@pytest.mark.parametrize("path", sorted(ROOMS.glob("*.toml")), ids=lambda p: p.name)
def test_example_rooms(path):
    room = read_room(str(path))
    check_contract(room)
    summary = room_summary(room)
    assert room.name != path.stem
    assert 10 <= summary["temperature_degC"]["lowest"] <= summary["temperature_degC"]["highest"] <= 35
    assert 5 <= summary["relative_humidity_pct"]["lowest"] <= summary["relative_humidity_pct"]["highest"] <= 95.01
    assert read_room(str(path), 1500.0).pressure == pytest.approx(psychrolib.GetStandardAtmPressure(1500.0), rel=1e-5)


def test_the_examples_are_of_every_kind():
    kinds = {re.search(r'^kind = "(\w+)"', p.read_text(), re.MULTILINE)[1] for p in ROOMS.glob("*.toml")}
    assert kinds == set(KEYS)


def write(tmp_path, text):
    path = tmp_path / "room.toml"
    path.write_text(text)
    return str(path)


SWING = """
kind = "swing"
mean = "20 degC"
day_swing = "2 K"
warmest_hour = "15:00"
season_swing = "5 K"
warmest_day = "07-20"
"""


def test_swing_is_warmest_when_it_says(tmp_path):
    room = read_room(write(tmp_path, SWING + 'relative_humidity = "50 %"\n'))
    check_contract(room)
    t = room.temperature - 273.15
    hottest = int(t.argmax())
    when = datetime.fromisoformat(room.start).timetuple().tm_yday + hottest // 24
    assert hottest % 24 == 15
    assert when == 201  # 20 July of a year without leap day
    assert t.max() == pytest.approx(27, abs=0.01)
    assert t.min() == pytest.approx(13, abs=0.01)
    assert t[:-1].mean() == pytest.approx(20, abs=1e-9)
    assert np.ptp(t[:24]) == pytest.approx(4, abs=0.1)
    assert room.time[-1] == 365 * 86400
    assert t[0] == pytest.approx(t[-1])


def test_swing_with_a_vapour_pressure(tmp_path):
    room = read_room(write(tmp_path, SWING + 'vapour_pressure = "13 hPa"\n'))
    top = 0.95 * np.array([psychrolib.GetSatVapPres(t) for t in room.temperature - 273.15])
    assert room.vapour_pressure == pytest.approx(np.minimum(1300.0, top), rel=1e-4)
    assert room.vapour_pressure.max() == 1300.0


BASE = 'kind = "fixed"\ntemperature = "20 degC"\nrelative_humidity = "50 %"\n'
FAULTS = [
    ('name = "Cellar"\n', "is missing", "kind", 0),
    ("kind = 3", "is a text", "kind", 1),
    ('kind = "swings"', "no such kind", "kind", 1),
    (BASE + "temprature = 3", "has no such key", "temprature", 4),
    (BASE.replace('"20 degC"', "20"), "a text with its unit", "temperature", 2),
    (BASE.replace("20 degC", "20 mm"), "wrong unit", "temperature", 2),
    (BASE.replace("20 degC", "90 degC"), "no temperature of a room", "temperature", 2),
    (BASE.replace("50 %", "150 %"), "is too large", "relative_humidity", 3),
    (BASE.replace("50 %", "0 %"), "no humidity", "humidity", 3),
    (BASE + 'vapour_pressure = "9 hPa"', "one of", "vapour_pressure", 4),
    (BASE.replace("relative_humidity", "#"), "one of", "relative_humidity", 0),
    (BASE + 'co2 = "30 %"', "no air of a room", "co2", 4),
    (BASE + 'altitude = "30000 m"', "is too large", "altitude", 4),
    (BASE + "format = 2", "format 1", "format", 4),
    (BASE + "format = ", "is not TOML", "", 4),
    (SWING + 'vapour_pressure = "wet"', "no vapour pressure", "vapour_pressure", 8),
    (SWING + 'relative_humidity = "50 %"\n'.replace("50", "101"), "is too large", "relative_humidity", 8),
    (SWING.replace("15:00", "25:00"), "no time of the day", "warmest_hour", 5),
    (SWING.replace("07-20", "02-30") + 'relative_humidity = "50 %"', "no day of the year", "warmest_day", 8),
    (SWING.replace("5 K", "48 K") + 'relative_humidity = "50 %"', "no room temperature", "temperature", 3),
    ('kind = "logger"\nfile = "none.csv"', "no such file", "file", 2),
    ('kind = "weather"\nfile = "none.epw"', "no such file", "file", 2),
    ('kind = "weather"\nfile = "none.epw"\nhumidity_class = 6', "no humidity class", "humidity_class", 3),
    ('kind = "weather"\nfile = "none.epw"\nhumidity_class = true', "no humidity class", "humidity_class", 3),
    ('kind = "weather"\nfile = "none.epw"\nwithin_class = "top"', "no such place", "within_class", 3),
    ('kind = "weather"\nfile = "none.epw"\nnight = ["22:00"]', "two times", "night", 3),
    ('kind = "weather"\nfile = "x.epw"\ncooling_limit = "19 degC"', "not above", "cooling_limit", 3),
    ('kind = "logger"\nfile = "none.csv"\nday_first = "yes"', "true or false", "day_first", 3),
    ('kind = "logger"\nfile = "none.csv"\n[columns]\ntemp = "T"', "no such column", "columns", 3),
]  # fmt: skip


@pytest.mark.parametrize(("text", "says", "field", "line"), FAULTS, ids=[f"{f[2]}: {f[1]}" for f in FAULTS])
def test_faults_of_room_files_have_their_place(tmp_path, text, says, field, line):
    path = write(tmp_path, text)
    with pytest.raises(InputError, match=says) as caught:
        read_room(path)
    assert (caught.value.file, caught.value.field, caught.value.line) == (path, field, line)


def test_a_room_file_that_is_no_text_is_said_so(tmp_path):
    path = tmp_path / "room.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="is not text in UTF-8"):
        read_room(str(path))


@given(st.binary(max_size=200))
def test_any_bytes_in_a_room_file_are_a_room_or_an_input_error(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "any.toml"
    path.write_bytes(data)
    with pytest.raises(InputError):
        read_room(str(path))


VALUES = st.text(max_size=12) | st.integers() | st.floats() | st.booleans() | st.just("20 degC") | st.just("50 %")


@given(st.sampled_from(sorted(KEYS)), st.dictionaries(st.sampled_from(sorted({*sum(KEYS.values(), ())})), VALUES))
def test_any_values_in_a_room_file_are_a_room_or_an_input_error(tmp_path_factory, kind, values):
    def shown(value):
        if isinstance(value, str):
            return '"' + re.sub(r'[\x00-\x1f\x7f"\\\ud800-\udfff]', "_", value) + '"'
        return str(value).lower()

    path = tmp_path_factory.getbasetemp() / "keys.toml"
    text = "\n".join(f"{key} = {shown(value)}" for key, value in {**values, "kind": kind}.items())
    path.write_text(text, "utf-8")
    with only_input_errors(path):
        check_contract(read_room(str(path)))


def test_every_key_and_value_is_documented():
    guide = (ROOT / "docs/guide/room.md").read_text()
    assert not [key for keys in KEYS.values() for key in keys if f"`{key}`" not in guide]
    told = (ROOT / "docs/how-it-computes/room.md").read_text()
    assert not [name for name in room_values() if f"`{name}`" not in told]


@pytest.mark.parametrize("module", [humidity_class, rooms], ids=lambda m: m.__name__)
def test_examples_in_docstrings_run(module):
    done = doctest.testmod(module)
    assert done.attempted
    assert not done.failed


def test_every_value_has_source_and_mark():
    for name, value in room_values().items():
        assert value.low <= value.value <= value.high, name
        assert value.source, name
        assert value.mark in {"published", "secondary", "derived", "judgement"}, name
