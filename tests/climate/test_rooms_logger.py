"""Logger files: the spellings of many makers, units, times, gaps, bad rows, and files that are none."""

import gzip
import sys
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.climate.logger import Columns, gaps, logger_room, read_logger
from nestwright.climate.rooms import read_room, room_summary, write_room
from nestwright.errors import InputError

sys.path.insert(0, str(Path(__file__).parent))
from rooms_common import ROOMS, check_contract, only_input_errors

psychrolib.SetUnitSystem(psychrolib.SI)
PLAIN = "time,temperature,humidity\n2026-03-01 10:00,20.0,50\n2026-03-01 11:00,21.0,52\n2026-03-01 12:00,22.0,54\n"


def file(tmp_path, text, name="log.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
    return path


FORMS = {
    "plain": PLAIN,
    "T and Z": PLAIN.replace("-01 1", "-01T1").replace(":00,", ":00Z,"),
    "offset": PLAIN.replace(":00,", ":00+01:00,"),
    "seconds": PLAIN.replace(":00,", ":00:00,"),
    "slashes": PLAIN.replace("2026-03-01", "2026/03/01"),
    "day first": PLAIN.replace("2026-03-01", "01.03.2026"),
    "day first, short year": PLAIN.replace("2026-03-01", "1/3/26"),
    "month first": PLAIN.replace("2026-03-01", "03/14/2026"),
    "am and pm": PLAIN.replace("12:00", "12:00 PM").replace("10:00", "10:00 AM").replace("11:00", "11:00 AM"),
    "semicolon, decimal comma": PLAIN.replace(",", ";").replace(".0;", ",0;"),
    "quoted decimal comma": PLAIN.replace("20.0", '"20,0"').replace("21.0", '"21,0"'),
    "tab": PLAIN.replace(",", "\t"),
    "fahrenheit": PLAIN.replace("temperature", "Temperature (°F)").replace("20.0", "68.0").replace("21.0", "69.8")
    .replace("22.0", "71.6"),
    "fahrenheit, short": PLAIN.replace("temperature", "temp_F").replace("20.0", "68.0").replace("21.0", "69.8")
    .replace("22.0", "71.6"),
    "unit in the cell": PLAIN.replace("20.0", "68.0 °F").replace("21.0", "21.0 °C").replace("22.0", "71.6 °F")
    .replace("50\n", "50 %\n"),
    "capitals": PLAIN.replace("time,temperature,humidity", "Date Time,Temp (degC),RH (%)"),
    "other words": PLAIN.replace("time,temperature,humidity", "Timestamp,T_degC,Relative Humidity"),
    "german": PLAIN.replace("time,temperature,humidity", "Zeitstempel,Temperatur °C,rel. Luftfeuchte %"),
    "more columns": PLAIN.replace("time,temperature,humidity", "no,time,dew point,temperature,CO2 ppm,humidity,battery")
    .replace("2026", "1,2026").replace(":00,", ":00,9.3,").replace(".0,5", ".0,600,5").replace("50\n", "50,88\n"),
    "lines above": "Logger 12\nexported by hand\n\n" + PLAIN,
    "comments": "# name = Shelf\n" + PLAIN,
    "share": PLAIN.replace(",5", ",0.5").replace("0.5\n", "0.50\n").replace("0.50\n", "0.50\n"),
    "unsorted": PLAIN.split("\n")[0] + "\n" + "\n".join(PLAIN.split("\n")[3:0:-1]),
    "blank lines": PLAIN.replace("\n", "\n\n"),
    "windows": PLAIN.replace("\n", "\r\n"),
}  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
def test_forms(tmp_path, form):
    reading = read_logger(file(tmp_path, FORMS[form]))
    assert not reading.bad
    assert reading.time.tolist() == [0, 3600, 7200]
    assert reading.temperature - 273.15 == pytest.approx([20, 21, 22])
    assert reading.relative_humidity == pytest.approx([0.50, 0.52, 0.54])
    assert reading.start == datetime(2026, 3, 14 if form == "month first" else 1, 10)


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(tmp_path, encoding):
    text = PLAIN.replace("temperature", "Temperature (°F)")
    assert read_logger(file(tmp_path, text.replace("20.0", "68.0"), encoding=encoding)).temperature[0] == pytest.approx(
        293.15
    )


def test_date_and_time_in_two_columns(tmp_path):
    text = PLAIN.replace("time,", "Date,Time,").replace("-01 ", "-01,")
    assert read_logger(file(tmp_path, text)).start == datetime(2026, 3, 1, 10)


def test_packed(tmp_path):
    assert len(read_logger(file(tmp_path, gzip.compress(PLAIN.encode()), "log.csv.gz")).time) == 3


def test_room_of_a_logger(tmp_path):
    room = read_room(str(file(tmp_path, "# name = Shelf\n" + PLAIN)))
    check_contract(room)
    assert room.name == "Shelf"
    assert room.start == "2026-03-01T10:00:00"
    expected = [psychrolib.GetVapPresFromRelHum(t, h) for t, h in ((20, 0.50), (21, 0.52), (22, 0.54))]
    assert room.vapour_pressure == pytest.approx(expected, rel=1e-4)


def test_bad_rows_are_listed_with_line_and_reason(tmp_path):
    rows = ["yesterday,20,50", "2026-03-01 13:00,warm,50", "2026-03-01 14:00,20,", "2026-03-01 15:00,200,50"]
    rows += ["2026-03-01 16:00,20,180", "2026-03-01 17:00", "2026-13-01 17:00,20,50", "2026-03-01 18:00,nan,50"]
    path = file(tmp_path, PLAIN + "\n".join(rows))
    reading = read_logger(path)
    assert len(reading.time) == 3
    assert [b.line for b in reading.bad] == list(range(5, 13))
    says = ["no date", "temperature is no number", "no humidity", "temperature cannot be", "humidity cannot be"]
    says += ["no temperature", "no date", "no temperature"]
    for bad, text in zip(reading.bad, says, strict=True):
        assert text in bad.reason
    room = logger_room(path, reading)
    assert "8 rows not read" in room.source
    assert room.notes[0] == "line 5: no date and time: 'yesterday'"


def test_many_bad_rows_are_counted_not_all_listed(tmp_path):
    path = file(tmp_path, PLAIN + "x,1,2\n" * 500)
    room = logger_room(path, read_logger(path))
    assert len(room.notes) < 30
    assert room.notes[-1] == "and 480 more rows that were not read"


def test_wet_sensors_and_duplicates(tmp_path):
    path = file(tmp_path, PLAIN + "2026-03-01 12:00,24,56\n2026-03-01 13:00,22,103\n")
    reading = read_logger(path)
    assert reading.merged == 1
    assert reading.temperature[2] == pytest.approx(296.15)
    assert reading.relative_humidity.tolist() == pytest.approx([0.50, 0.52, 0.55, 1.0])


def test_gaps(tmp_path):
    hours = [0, 1, 2, 4.9, 5.9, 6.9, 12.9, 13.9, 20, 21]
    assert gaps(np.array(hours) * 3600) == (2, pytest.approx(6 + 6.1))
    # A logger that writes every six hours has no gaps, and two readings have none either.
    assert gaps(np.arange(10) * 21600.0) == (0, 0)
    assert gaps(np.array([0.0, 86400.0])) == (0, 0)
    text = "time,temperature,humidity\n" + "".join(
        f"2026-03-{1 + int(h // 24):02d} {int(h % 24):02d}:{round(h % 1 * 60):02d},20,50\n" for h in hours
    )
    room = read_room(str(file(tmp_path, text)))
    assert "2 gaps over 3 h, 12.1 h in all" in room.source
    summary = room_summary(room)
    assert (summary["gaps"], round(summary["gap_hours"], 1)) == (2, 12.1)


NONE = {
    "empty": ("", "empty"),
    "blank": (" \n \n", "empty"),
    "no header": ("1,2,3\n4,5,6\n", "no line looks like a reading"),
    "no humidity": ("time,temperature\n2026-03-01,20\n", "no column of humidity"),
    "header only": (PLAIN.split("\n")[0], "no line looks like a reading"),
    "readings without a header": (PLAIN.split("\n", 1)[1], "no column of temperature"),
    "one row": ("\n".join(PLAIN.split("\n")[:2]), "too few readings"),
    "same instant": ("\n".join([*PLAIN.split("\n")[:2], PLAIN.split("\n")[1]]), "too few readings"),
    "all bad": (PLAIN.replace("2026", "now"), "no line looks like a reading"),
    "all too hot for a room": (
        PLAIN.replace(",2", ",9").replace("ture", "ture_degC"),
        "3 rows; first fault: line 2, temperature out of range",
    ),
}


@pytest.mark.parametrize("case", NONE)
def test_files_that_are_none(tmp_path, case):
    text, says = NONE[case]
    path = file(tmp_path, text)
    with pytest.raises(InputError, match=says) as caught:
        read_room(str(path))
    assert caught.value.file == str(path)


def test_columns_by_name(tmp_path):
    text = PLAIN.replace("time,temperature,humidity", "when,inside,wetness")
    path = file(tmp_path, text)
    reading = read_logger(path, Columns(temperature="inside", humidity="wetness"))
    assert reading.temperature[0] == pytest.approx(293.15)
    in_f = read_logger(path, Columns(temperature="inside", humidity="wetness", temperature_unit="degF"))
    assert in_f.temperature[0] == pytest.approx((20 - 32) / 1.8 + 273.15)
    share = file(tmp_path, text.replace(",5", ",0.5"), "share.csv")
    assert read_logger(share, Columns(temperature="inside", humidity="wetness")).relative_humidity[0] == 0.5
    with pytest.raises(InputError) as caught:
        read_logger(path, Columns(temperature="insid", humidity="wetness"))
    assert caught.value.nearest == "inside"
    twice = text.replace("when,", "noted,when,").replace("2026", "2020-01-01 00:00,2026")
    reading = read_logger(file(tmp_path, twice, "twice.csv"), Columns("when", "inside", "wetness"))
    assert (reading.start, reading.time[-1]) == (datetime(2026, 3, 1, 10), 7200)


def test_what_is_not_told_is_said(tmp_path):
    path = file(tmp_path, PLAIN.replace("2026-03-01", "04/03/2026"))
    assert read_logger(path).start == datetime(2026, 3, 4, 10)
    assert "either way" in read_logger(path).remarks[0]
    warm = read_logger(file(tmp_path, PLAIN.replace(",2", ",7"), "warm.csv"))
    assert warm.temperature[0] == pytest.approx((70 - 32) / 1.8 + 273.15)
    assert warm.remarks[0].startswith("temperature taken as degF"), "a unit that is not told is said"
    assert read_logger(path, day_first=False).start == datetime(2026, 4, 3, 10)


# Central European rules: 2025-03-30 2:00 becomes 3:00, 2025-10-26 3:00 becomes 2:00 (directive 2000/84/EC).
def read_times(tmp_path, texts, zone=""):
    rows = "".join(f"{text},20,50\n" for text in texts)
    return read_logger(file(tmp_path, "time,temperature,humidity\n" + rows), zone=zone)


def test_summer_time_is_taken_out(tmp_path):
    spring = read_times(tmp_path, ["2025-03-30 01:30", "2025-03-30 03:30", "2025-03-30 04:30"], "Europe/Vienna")
    assert (spring.time / 3600).tolist() == [0, 1, 2]
    autumn = ["01:30", "02:00", "02:30", "02:00", "02:30", "03:00"]
    reading = read_times(tmp_path, [f"2025-10-26 {t}" for t in autumn], "Europe/Vienna")
    assert (reading.time / 3600).tolist() == [0, 0.5, 1, 1.5, 2, 2.5]
    # winter time stays as it is, summer time is an hour less
    for day, hour in (("2025-01-05", 12), ("2025-07-05", 11)):
        reading = read_times(tmp_path, [f"{day} 12:00", f"{day} 13:00"], "Europe/Vienna")
        assert reading.start == datetime.fromisoformat(day) + timedelta(hours=hour)


def test_offsets_are_kept_apart_from_the_clock(tmp_path):
    rows = ["2025-10-26T02:30+02:00", "2025-10-26T02:30+01:00"] + [f"2025-10-26T{h:02d}:30+01:00" for h in range(4, 20)]
    reading = read_times(tmp_path, [*rows, "2025-10-26 23:00"])
    assert reading.start == datetime(2025, 10, 26, 2, 30), "the clock of the first row"
    assert (reading.time[:3] / 3600).tolist() == [0, 1, 3]
    assert [(b.line, "offset" in b.reason) for b in reading.bad] == [(len(rows) + 2, True)]
    # the zone of the room file is the clock that is wanted
    assert read_times(tmp_path, rows, "Europe/Vienna").start == datetime(2025, 10, 26, 1, 30)


@pytest.mark.parametrize("name", ["Europe/Nowhere", "../../etc", "\0", "Europe"])
def test_unknown_zones(tmp_path, name):
    with pytest.raises(InputError, match="time zone"):
        read_logger(file(tmp_path, PLAIN), zone=name)


@pytest.mark.parametrize("path", sorted(ROOMS.glob("*.toml")), ids=lambda p: p.name)
def test_a_written_room_reads_back(tmp_path, path):
    room = read_room(str(path))
    out = tmp_path / "room.csv"
    write_room(room, out)
    back = read_room(str(out))
    assert back.name == room.name
    assert back.source == room.source
    assert np.array_equal(back.time, room.time)
    assert np.abs(back.temperature - room.temperature).max() <= 0.00501
    saturation = np.array([psychrolib.GetSatVapPres(t) for t in room.temperature - 273.15])
    # Half a unit of the last digit of the humidity, and of the temperature (about 6.5 % a kelvin).
    assert (np.abs(back.vapour_pressure - room.vapour_pressure) <= saturation * (0.5001e-4 + 0.005 * 0.07)).all()
    assert back.pressure == pytest.approx(room.pressure, abs=0.051)
    assert back.co2 == pytest.approx(room.co2, abs=1e-7)
    assert back.fixed == room.fixed
    write_room(back, tmp_path / "again.csv")
    assert (tmp_path / "again.csv").read_text() == out.read_text()


CELLS = st.sampled_from(
    ["", "time", "temperature", "humidity", "20", "50,5", "nan", "inf", "1e308", "2026-03-01 10:00", "0001-01-01",
     "9999-12-31T23:59+00:00", "0001-01-01T00:00+23:00", "31.02.2026", '"', "#", "\0", "°F", "%", "-", "1/1/1 25:61"]
) | st.text(max_size=10)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.lists(st.lists(CELLS, max_size=5), max_size=8), st.sampled_from([",", ";", "\t"]), st.booleans())
def test_malformed_tables_are_a_room_or_an_input_error(tmp_path_factory, rows, mark, headed):
    text = (mark.join(["time", "temperature", "humidity"]) + "\n") * headed
    text += "\n".join(mark.join(row) for row in rows)
    path = tmp_path_factory.getbasetemp() / "malformed.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    with only_input_errors(path):
        check_contract(read_room(str(path)))


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_an_input_error(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(data)
    with pytest.raises(InputError):
        read_room(str(path))


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(PLAIN)), st.integers(0, 20), st.binary(max_size=10), st.sampled_from(["", "Europe/Vienna"]))
def test_spoilt_files_are_a_room_or_an_input_error(tmp_path_factory, at, cut, put, zone):
    path = tmp_path_factory.getbasetemp() / "spoilt.csv"
    data = PLAIN.encode()
    path.write_bytes(data[:at] + put + data[at + cut :])
    with only_input_errors(path):
        check_contract(logger_room(path, read_logger(path, zone=zone)))
