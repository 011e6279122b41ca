"""Files of sixteen invented loggers, all with the same readings: recognised and read back equal.

truth.csv holds what they say. Local clocks are Berlin's (UTC+1 in these days) or New York's.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from nestwright.errors import FileError, InputError
from nestwright.sensing.loggers import confirm, fits, load_mapping, read_mapping, read_readings, recognise, to_toml

FOLDER = Path(__file__).parents[1] / "data" / "loggers"
TRUTH = pd.read_csv(FOLDER / "truth.csv")
COLUMNS = {
    "temperature": "temperature_degC",
    "humidity": "humidity_pct",
    "co2": "co2_ppm",
    "pressure": "pressure_hPa",
}
UNITS = {"temperature": "degC", "humidity": "%", "co2": "ppm", "pressure": "hPa", "dew_point": "degC", "light": "lx"}
BERLIN, NEW_YORK = "Europe/Berlin", "America/New_York"

# file: (zone given, separator, decimal, form, order, zone found, channels)
FILES = {
    "english-plain.csv": (None, "comma", ".", "date", "ymd", "told", "temperature humidity"),
    "german-semicolon.csv": (BERLIN, "semicolon", ",", "date", "dmy", BERLIN, "temperature humidity co2"),
    "french-tab.txt": (BERLIN, "tab", ",", "date", "dmy", BERLIN, "temperature humidity pressure"),
    "american-quoted.csv": (NEW_YORK, "comma", ".", "date", "mdy", NEW_YORK, "temperature humidity battery"),
    "spanish-pipe.csv": (BERLIN, "pipe", ",", "date", "dmy", BERLIN, "temperature humidity"),
    "italian-quoted-comma.csv": (BERLIN, "comma", ",", "date", "dmy", BERLIN, "temperature humidity dew_point"),
    "dutch-units-row.csv": (BERLIN, "semicolon", ",", "date", "dmy", BERLIN, "temperature humidity light"),
    "portuguese-epoch.csv": (None, "semicolon", ",", "epoch s", "", "UTC", "temperature humidity co2"),
    "polish-share.csv": (BERLIN, "comma", ".", "date", "ymd", "told", "temperature humidity"),
    "sheet-serial.csv": (BERLIN, "semicolon", ",", "serial", "", BERLIN, "temperature humidity co2"),
    "spaces.txt": ("UTC", "spaces", ".", "date", "ymd", "UTC", "temperature humidity"),
    "units-in-cells.csv": (None, "comma", ".", "date", "ymd", "told", "temperature humidity"),
    "milliseconds.csv": (None, "comma", ".", "epoch ms", "", "UTC", "temperature humidity pressure"),
    "months-named.csv": (BERLIN, "semicolon", ",", "date", "ymd", BERLIN, "temperature humidity pressure"),
    "newest-first.csv": (None, "comma", ".", "date", "ymd", "UTC+01:00", "temperature humidity"),
    "no-header.csv": ("UTC", "comma", ".", "date", "ymd", "UTC", "temperature humidity co2"),
}


def test_every_fixture_is_tested():
    assert {p.name for p in FOLDER.iterdir()} == {*FILES, "truth.csv"}


@pytest.mark.parametrize("name", FILES)
def test_recognised_and_read(name):
    zone, separator, decimal, form, order, found, channels = FILES[name]
    mapping = recognise(FOLDER / name, zone)
    assert (mapping.separator, mapping.decimal, mapping.form) == (separator, decimal, form)
    assert (mapping.order, mapping.zone) == (order, found)
    assert [c.channel for c in mapping.columns] == channels.split()
    assert bool(mapping.asked) == (name == "no-header.csv")
    assert all(d.reason for d in mapping.decisions)
    readings = read_readings(FOLDER / name, mapping)
    assert not readings.faults
    assert (readings.rows, readings.rows_kept) == (len(TRUTH), len(TRUTH))
    for channel in readings.channels:
        assert channel.time.tolist() == TRUTH.utc_ms.tolist()
        assert channel.unit == UNITS.get(channel.name, channel.unit)
        if channel.name in COLUMNS:
            # files are written with two decimals of degC or K, one of %, three of a share
            assert channel.value == pytest.approx(TRUTH[COLUMNS[channel.name]].to_numpy(), abs=6e-4)


@pytest.mark.parametrize("name", FILES)
def test_mappings_are_kept_as_toml(tmp_path, name):
    mapping = recognise(FOLDER / name, FILES[name][0])
    path = tmp_path / "mapping.toml"
    path.write_text(to_toml(mapping), encoding="utf-8")
    assert read_mapping(path) == mapping
    assert fits(mapping, FOLDER / name)
    others = [other for other in FILES if other not in (name, "no-header.csv")]
    if mapping.header_line:
        assert [other for other in others if fits(mapping, FOLDER / other)] == []


def test_a_mapping_finds_its_columns_anew(tmp_path):
    name = "german-semicolon.csv"
    mapping = recognise(FOLDER / name, BERLIN)
    lines = (FOLDER / name).read_text("cp1252").splitlines()
    shuffled = [";".join([c[4], c[0], c[1], c[3], c[2]]) for c in (line.split(";") for line in lines[3:])]
    path = tmp_path / "other.csv"
    path.write_text("\n".join(["Kammer 3", "neu", "noch eine Zeile", "", "", *shuffled]) + "\n", "cp1252")
    fit = fits(mapping, path)
    assert (fit.header_line, fit.time_at, fit.at) == (6, (1, 2), (4, 3, 0))
    a, b = read_readings(FOLDER / name, mapping), read_readings(path, mapping)
    for one, other in zip(a.channels, b.channels, strict=True):
        assert np.array_equal(one.time, other.time)
        assert np.array_equal(one.value, other.value)


def test_a_file_without_a_column_is_told(tmp_path):
    mapping = recognise(FOLDER / "german-semicolon.csv", BERLIN)
    path = tmp_path / "renamed.csv"
    text = (FOLDER / "german-semicolon.csv").read_text("cp1252").replace("CO2 [ppm]", "CO2 [ppmv]")
    path.write_text(text, "cp1252")
    assert fits(mapping, path).missing == ("CO2 [ppm]",)
    with pytest.raises(InputError) as caught:
        read_readings(path, mapping)
    assert caught.value.nearest == "CO2 [ppmv]"


def test_unknown_zone_is_asked_and_said():
    mapping = recognise(FOLDER / "german-semicolon.csv")
    assert [d.what for d in mapping.asked] == ["zone"]
    assert "not known" in read_readings(FOLDER / "german-semicolon.csv", mapping).remarks[0]
    answered = confirm(mapping, zone=BERLIN)
    assert not answered.asked
    assert read_readings(FOLDER / "german-semicolon.csv", answered).channels[0].time[0] == TRUTH.utc_ms[0]


def test_confirm():
    mapping = recognise(FOLDER / "english-plain.csv")
    changed = confirm(mapping, units={"temperature": "degF"}, leave_out=("humidity",), order="dmy")
    assert [(c.channel, c.unit) for c in changed.columns] == [("temperature", "degF")]
    readings = read_readings(FOLDER / "english-plain.csv", changed)
    assert readings.channel("temperature").value == pytest.approx((TRUTH.temperature_degC.to_numpy() - 32) / 1.8)
    for wrong in (
        {"zone": "Europe/Nowhere"},
        {"order": "myd"},
        {"units": {"temperature": "degX"}},
        {"units": {"temprature": "degC"}},
        {"leave_out": ("temperature", "humidity")},
    ):
        with pytest.raises(InputError):
            confirm(mapping, **wrong)


WRONG = {
    "format = 2": ("format = 1", "format"),
    'separator = "comma"': ('separator = "coma"', "separator"),
    'quantity = "humidity"': ('quantity = "humidty"', "quantity"),
    'unit = "%"': ('unit = "ppm"', "unit"),
    'zone = "told"': ('zone = "Mars/Olympus"', "zone"),
    'order = "ymd"': ('order = "dym"', "order"),
    "at = [0]": ("at = [0, 1, 2, 3]", "at"),
    "header_line = 1": ("header_line = -1", "header_line"),
    "at = 2": ('at = "2"', "at"),
    'confidence = "sure"': ('confidence = "certain"', "confidence"),
    'decimal = "."': ("decimal = 5", "decimal"),
    'form = "date"': ('fom = "date"', "fom"),
}


@pytest.mark.parametrize("right", WRONG)
def test_faults_of_a_mapping_file_have_their_line(right):
    wrong, field = WRONG[right]
    text = to_toml(recognise(FOLDER / "english-plain.csv"))
    if right == "format = 2":
        right, wrong = "format = 1", "format = 2"
    assert right in text
    line = text[: text.index(right)].count("\n") + 1
    with pytest.raises(InputError) as caught:
        load_mapping(text.replace(right, wrong, 1), "m.toml")
    errors = caught.value.errors if isinstance(caught.value, FileError) else (caught.value,)
    assert (line, field) in [(e.line, e.field) for e in errors]
    assert all(e.file == "m.toml" for e in errors)


@pytest.mark.parametrize(
    "text", ["", "format = 1", "x", "time = 3\ncolumn = 4\nheader = 5", "column = [1]\ntime = {at = [[]]}"]
)
def test_what_is_no_mapping(text):
    with pytest.raises(InputError):
        load_mapping(text)


def read(tmp_path, text, zone="UTC", encoding="utf-8", **answers):
    path = tmp_path / "log.csv"
    path.write_bytes(text.encode(encoding))
    mapping = recognise(path, zone)
    return mapping, read_readings(path, confirm(mapping, **answers) if answers else mapping)


def test_order_by_the_whole_file(tmp_path):
    # 5000 rows of 1 to 12 February, written either way; only the last one tells the order.
    times = pd.date_range("2026-02-01", periods=5000, freq="3min")
    rows = "".join(f"{t:%d/%m/%Y %H:%M},20.5\n" for t in times)
    mapping, readings = read(tmp_path, f"time,temperature\n{rows}13/02/2026 00:00,20.5\n")
    assert mapping.order == "dmy"
    assert [d.confidence for d in mapping.decisions if d.what == "order"] == ["sure"]
    assert len(readings.channels[0].time) == 5001
    rows = "".join(f"{t:%m/%d/%Y %H:%M},20.5\n" for t in times)
    mapping, readings = read(tmp_path, f"time,temperature\n{rows}")
    # no date beyond the 12th, but the days follow each other only one way
    assert mapping.order == "mdy"
    assert [d.confidence for d in mapping.decisions if d.what == "order"] == ["likely"]
    assert readings.channels[0].time[-1] == times[-1].value // 10**6


def test_ambiguous_order_is_asked(tmp_path):
    mapping, readings = read(tmp_path, "time,temperature\n03/04/2026 10:00,20.5\n03/04/2026 11:00,20.5\n")
    assert [d.what for d in mapping.asked] == ["order"]
    assert readings.start.month == 4
    _, readings = read(tmp_path, "time,temperature\n03/04/2026 10:00,20.5\n03/04/2026 11:00,20.5\n", order="mdy")
    assert readings.start.month == 3
    mapping, _ = read(tmp_path, "time,temperature\n03/04/2026 10:00 AM,20.5\n03/04/2026 11:00 AM,20.5\n")
    assert (mapping.order, [d.what for d in mapping.asked]) == ("mdy", ["order"])


def test_units_by_values(tmp_path):
    body = "2026-03-01 10:00,{},{},{},{}\n2026-03-01 11:00,{},{},{},{}\n2026-03-01 12:00,{},{},{},{}\n"
    text = "time,temp,rh,co2,pressure\n" + body.format(68, 0.5, 0.06, 101.3, 77, 0.6, 0.08, 101.4, 86, 0.7, 0.1, 100.9)
    mapping, readings = read(tmp_path, text)
    assert [c.unit for c in mapping.columns] == ["degF", "fraction", "vol%", "kPa"]
    assert [c.value.tolist() for c in readings.channels] == [
        pytest.approx(x) for x in ([20, 25, 30], [50, 60, 70], [600, 800, 1000], [1013, 1014, 1009])
    ]


def test_header_unit_that_values_deny_is_asked(tmp_path):
    mapping, _ = read(tmp_path, "time,Temp (°C)\n2026-03-01 10:00,75.2\n2026-03-01 11:00,77\n2026-03-01 12:00,79\n")
    assert [d.what for d in mapping.asked] == ["temperature"]


def test_zone_in_the_header_or_above(tmp_path):
    body = "2026-03-01 10:00,20\n2026-03-01 11:00,21\n"
    assert read(tmp_path, f"time (UTC-05:00),temp\n{body}", None)[0].zone == "UTC-05:00"
    assert read(tmp_path, f"Time zone: Europe/Vienna\ntime,temp\n{body}", None)[0].zone == "Europe/Vienna"
    assert read(tmp_path, f"Time zone: Europe/Vienna\ntime,temp\n{body}", "UTC")[0].zone == "UTC"


def test_thousands(tmp_path):
    text = "Zeit;Druck [Pa];Temperatur\n01.03.2026 10:00;101.325,00;1,5\n13.03.2026 11:00;99.000,50;2,5\n"
    mapping, readings = read(tmp_path, text)
    assert (mapping.decimal, mapping.thousands) == (",", ".")
    assert readings.channel("pressure").value == pytest.approx([1013.25, 990.005])


@pytest.mark.parametrize("zone", ["Europe/Nowhere", "\0", "UTC+25:00", "../x"])
def test_unknown_zones(zone):
    with pytest.raises(InputError):
        recognise(FOLDER / "english-plain.csv", zone)


def test_mapping_of_another_encoding_is_overruled_by_a_mark():
    mapping = replace(recognise(FOLDER / "french-tab.txt", BERLIN), encoding="cp1252")
    assert len(read_readings(FOLDER / "french-tab.txt", mapping).channels[0].time) == len(TRUTH)


def test_am_and_pm_in_a_column_of_their_own(tmp_path):
    rows = "03/14/2026 11:30:00 AM 20.5 50\n03/14/2026 12:30:00 PM 21.0 51\n03/14/2026 01:30:00 PM 21.5 52\n"
    mapping, readings = read(tmp_path, "Date Time Half Temp RH\n" + rows)
    assert mapping.time_at == (0, 1, 2)
    assert np.diff(readings.channels[0].time).tolist() == [3600_000] * 2
    assert [c.name for c in readings.channels] == ["temperature", "humidity"]
    assert load_mapping(to_toml(mapping)) == mapping


def test_two_sensors_of_one_name_stay_two(tmp_path):
    text = "time,Temp °C,Temp °C\n2026-03-01 10:00,20,30\n2026-03-01 11:00,21,31\n"
    mapping, readings = read(tmp_path, text)
    assert [(c.name, c.value[0]) for c in readings.channels] == [("temperature", 20), ("temperature_2", 30)]
    path = tmp_path / "moved.csv"
    path.write_text("no," + text.replace("\n2", "\n1,2"), "utf-8")
    assert [c.value[0] for c in read_readings(path, mapping).channels] == [20, 30]


def test_decimal_commas_between_commas_are_refused(tmp_path):
    with pytest.raises(InputError, match="decimal comma"):
        read(tmp_path, "time,temperature,humidity\n2026-03-01 10:00,20,5,50,1\n2026-03-01 11:00,21,5,51,2\n")


def test_rows_with_an_empty_cell_more_than_the_header(tmp_path):
    _, readings = read(tmp_path, "time;temperature;humidity\n2026-03-01 10:00;20,5;50;\n2026-03-01 11:00;21,5;51;\n")
    assert [c.value.tolist() for c in readings.channels] == [[20.5, 21.5], [50, 51]]


def test_row_names_without_a_header_do_not_shift_the_columns(tmp_path):
    # a header that is one cell short cannot be laid over the columns: it is asked, not guessed
    text = "time,temperature\n1,2026-03-01 10:00,20.5\n2,2026-03-01 11:00,21.5\n3,2026-03-01 12:00,22.5\n"
    mapping, readings = read(tmp_path, text)
    assert "header" in [d.what for d in mapping.asked]
    assert readings.channel("temperature").value.tolist() == [20.5, 21.5, 22.5]


def test_several_sensors_in_one_column_are_asked(tmp_path):
    rows = [f"2026-03-01 {h:02d}:00,{s},{t}" for h in range(10) for s, t in (("garden", 24.5), ("dump", 21.5))]
    mapping, readings = read(tmp_path, "\n".join(["time,sensor,temperature °C", *rows]) + "\n")
    assert [d.what for d in mapping.asked] == ["instants"]
    assert readings.counts["conflicts"] == 10


FORMS = ["%Y%m%dT%H%M%SZ", "%Y%m%d%H%M%S", "%d.%m.%Y, %H:%M:%S", "%d.%m.%Y %H.%M", "%d %b %Y %H:%M", "%d/%m/%y %Hh%M",
         "%b %d, %Y %I:%M:%S %p", "%Y-%m-%d %H:%M:%S.%f", "%Y-%m-%dT%H:%M:%S,%f", "%d-%m-%Y %H:%M:%S +0000",
         "%Y/%m/%d-%H:%M:%S", "%y-%m-%d %H:%M", "%d.%m.%y %H:%M"]  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_forms_of_times(tmp_path, form):
    # enough rows for the whole-column way and, behind, one of another form for the one-by-one way
    times = pd.date_range("2026-04-20 09:30", periods=200, freq="7h15min")
    rows = [f"{t.strftime(form)};{k % 30},5" for k, t in enumerate(times)]
    _, readings = read(tmp_path, "\n".join(["Zeit;Temperatur °C", *rows]) + "\n")
    assert readings.channels[0].time.tolist() == [t.value // 10**6 for t in times]
