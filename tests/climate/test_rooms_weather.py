"""Weather years: our reading of TMY3 and EPW files against pvlib's, the shipped years, and spoilt files."""

import gzip
import importlib.util
import math
import sys
from pathlib import Path

import numpy as np
import psychrolib
import pvlib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.climate.rooms import read_room
from nestwright.climate.weather import COMPACT, read_weather
from nestwright.errors import InputError

sys.path.insert(0, str(Path(__file__).parent))
from rooms_common import ROOMS, ROOT, check_contract, only_input_errors

psychrolib.SetUnitSystem(psychrolib.SI)
DATA = Path(pvlib.__file__).parent / "data"
YEARS = {"723170TYA.CSV": "greensboro.csv.gz", "703165TY.csv": "sand-point.csv.gz"}


def magnus(celsius):
    """Saturation pressure over water, Pa. WMO-No. 8, annex 4.B; -45 to 60 °C within 0.6 %."""
    return 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))


@pytest.fixture(scope="module", params=YEARS)
def both(request):
    frame, meta = pvlib.iotools.read_tmy3(DATA / request.param, map_variables=True)
    return request.param, frame, meta, read_weather(DATA / request.param)


def test_tmy3_as_pvlib_reads_it(both):
    _, frame, meta, ours = both
    assert len(ours.time) == len(frame) == 8760
    assert ours.temperature - 273.15 == pytest.approx(frame["temp_air"].to_numpy(), abs=1e-9)
    assert ours.pressure / 100 == pytest.approx(frame["pressure"].to_numpy(), abs=1e-9)
    assert ours.altitude == meta["altitude"]
    dew = np.minimum(frame["temp_dew"].to_numpy(), frame["temp_air"].to_numpy())
    assert ours.vapour_pressure == pytest.approx(magnus(dew), rel=0.006)
    for k in np.flatnonzero(dew > 0.1)[::50]:
        assert ours.vapour_pressure[k] == pytest.approx(psychrolib.GetSatVapPres(dew[k]), rel=1e-4)
    # Hours end at 1:00, 2:00 ...; pvlib says the same on its index, with each month's own year.
    index = frame.index
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    begun = np.concatenate([[0], np.cumsum(days)[:-1]])
    theirs = (begun[index.month - 1] + index.day - 1) * 24 + index.hour
    theirs = np.where(theirs == 0, 8760, theirs)  # the last hour is 0:00 of the next 1 January
    assert np.array_equal(ours.time / 3600, theirs)


def test_humidity_agrees_with_the_files_own_column(both):
    # The file has RH in whole per cents beside the dew point. Above 0 °C the two tell the same vapour, but for the
    # hours at which two months are joined; below, some years give a frost point, over which ours is up to 5 % too damp.
    _, frame, _, ours = both
    rh = 100 * ours.vapour_pressure / magnus(ours.temperature - 273.15)
    apart = np.abs(rh - frame["relative_humidity"].to_numpy())
    mild = frame["temp_dew"].to_numpy() >= 0
    assert np.quantile(apart[mild], 0.98) < 1.0
    assert np.median(apart[~mild]) < 4.5


def test_shipped_years_are_the_same_years(both):
    name, _, _, ours = both
    path = ROOMS / "weather" / YEARS[name]
    assert path.stat().st_size < 150_000
    shipped = read_weather(path)
    for key in ("time", "temperature", "vapour_pressure", "pressure"):
        assert np.array_equal(getattr(shipped, key), getattr(ours, key)), key
    assert shipped.altitude == ours.altitude
    assert "NREL TMY3" in shipped.source
    head = gzip.decompress(path.read_bytes()).decode().splitlines()[:6]
    assert any("pvlib" in line for line in head)
    assert any("public domain" in line for line in head)


def test_the_study_makes_the_shipped_years(both):
    spec = importlib.util.spec_from_file_location("make_demo_weather", ROOT / "studies/make_demo_weather.py")
    study = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(study)
    made = study.compact(DATA / both[0])
    assert gzip.decompress((ROOMS / "weather" / YEARS[both[0]]).read_bytes()).decode() == made


def write_epw(path, frame, meta, year=2001):
    """A valid EPW file from TMY3 data: header of eight lines, 35 fields a row, unused ones marked missing."""
    place = ["LOCATION", meta["Name"], meta["State"], "USA", "TMY3", str(meta["USAF"])]
    place += [str(meta[k]) for k in ("latitude", "longitude", "TZ")] + [f"{meta['altitude']:.1f}"]
    lines = [
        ",".join(str(cell).strip('"') for cell in place),
        "DESIGN CONDITIONS,0",
        "TYPICAL/EXTREME PERIODS,0",
        "GROUND TEMPERATURES,0",
        "HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0",
        "COMMENTS 1,made for a test",
        "COMMENTS 2",
        "DATA PERIODS,1,1,Data,Sunday, 1/ 1,12/31",
    ]
    columns = ("temp_air", "temp_dew", "relative_humidity", "pressure")
    days = np.repeat([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31], 1)
    dates = [(m + 1, d + 1) for m, length in enumerate(days) for d in range(length)]
    for k, values in enumerate(frame[list(columns)].to_numpy()):
        (month, day), hour = dates[k // 24], k % 24 + 1
        t, dew, rh, p = values
        state = [f"{t:.1f}", f"{dew:.1f}", f"{rh:.0f}", f"{p * 100:.0f}"]
        lines.append(",".join([str(year), str(month), str(day), str(hour), "60", "?9", *state, *["0"] * 25]))
    path.write_text("\r\n".join(lines) + "\r\n", newline="")


def test_epw_as_pvlib_reads_it(both, tmp_path):
    _, frame, meta, tmy = both
    path = tmp_path / "station.epw"
    write_epw(path, frame, meta)
    theirs, place = pvlib.iotools.read_epw(path)
    ours = read_weather(path)
    assert len(ours.time) == len(theirs) == 8760
    assert ours.temperature - 273.15 == pytest.approx(theirs["temp_air"].to_numpy(), abs=1e-9)
    assert ours.pressure == pytest.approx(theirs["atmospheric_pressure"].to_numpy(), abs=1e-6)
    dew = np.minimum(theirs["temp_dew"], theirs["temp_air"]).to_numpy()
    assert ours.vapour_pressure == pytest.approx(magnus(dew), rel=0.006)
    assert ours.altitude == place["altitude"]
    # Both forms say the same of the same year.
    assert np.array_equal(ours.time, tmy.time)
    assert ours.vapour_pressure == pytest.approx(tmy.vapour_pressure)
    room = read_room(str(path))
    check_contract(room)
    assert room.pressure == pytest.approx(frame["pressure"].mean() * 100)


def test_epw_hours_end_at_the_hour_whether_the_minute_is_60_or_0(both, tmp_path):
    # Both occur in files that are given away: the hour alone counts, as in pvlib's reader.
    _, frame, meta, _ = both
    path = tmp_path / "minutes.epw"
    write_epw(path, frame[:48], meta)
    sixty = read_weather(path).time
    path.write_text(path.read_text().replace(",60,?9", ",0,?9"))
    assert np.array_equal(read_weather(path).time, sixty)
    assert sixty.tolist() == [3600.0 * k for k in range(1, 49)]


def test_missing_values_of_epw_are_left_out(both, tmp_path):
    _, frame, meta, _ = both
    path = tmp_path / "holes.epw"
    write_epw(path, frame[:48], meta)
    lines = path.read_text().split("\n")
    for k, (old, new) in {10: (6, "99.9"), 11: (7, "99.9"), 12: (9, "999999")}.items():
        cells = lines[k].split(",")
        cells[old] = new
        lines[k] = ",".join(cells)
    path.write_text("\n".join(lines))
    made = read_weather(path)
    # Without dry bulb the row is gone; without dew point the humidity serves; a missing pressure is no harm.
    assert len(made.time) == 47
    assert "1 rows without values" in made.source
    row = lines[11].split(",")
    assert made.vapour_pressure[2] == pytest.approx(float(row[8]) / 100 * magnus(float(row[6])), rel=0.006)
    assert math.isnan(made.pressure[3])
    assert made.mean_pressure == pytest.approx(np.nanmean(made.pressure))


COMPACT_TEXT = f"# station: Nowhere\n# altitude_m: 300\n{','.join(COMPACT)}\n1,1,1,5.0,2.0,\n1,1,2,6.0,2.0,\n"


def test_without_pressure_the_altitude_counts(tmp_path):
    path = tmp_path / "w.csv"
    path.write_text(COMPACT_TEXT)
    # ISO 2533 at 300 m: 97773 Pa.
    assert read_weather(path).mean_pressure == pytest.approx(97773, abs=5)


def spoilt(old, new, count=1):
    return COMPACT_TEXT.replace(old, new, count)


FAULTS = [
    (spoilt("5.0", "warm"), 4, "no number"),
    (spoilt("5.0", "95"), 4, "outdoor air"),
    (spoilt("1,1,2,", "1,1,1,"), 5, "not later"),
    (spoilt("1,1,1,", "13,1,1,"), 4, "whole number"),
    (spoilt("1,1,1,", "2,30,1,"), 4, "whole number"),
    (spoilt("1,1,1,", "1,1,25,"), 4, "whole number"),
    (spoilt("5.0,2.0,", "5.0"), 4, "too few fields"),
    (spoilt("2.0,\n", "2.0,5\n"), 4, "air pressure"),
    (spoilt("outdoor_pressure_hPa", "outdoor_pressure"), 3, "column is missing"),
    (spoilt("300", "30000"), 1, "no altitude"),
    (spoilt("1,1,2,6.0,2.0,\n", ""), 0, "too few readings"),
]


@pytest.mark.parametrize(("text", "line", "says"), FAULTS, ids=[f[2] + str(k) for k, f in enumerate(FAULTS)])
def test_faults_have_their_line(tmp_path, text, line, says):
    path = tmp_path / "w.csv"
    path.write_text(text)
    with pytest.raises(InputError, match=says) as caught:
        read_weather(path)
    assert (caught.value.file, caught.value.line) == (str(path), line)


def test_other_files_are_no_weather(tmp_path):
    path = tmp_path / "w.txt"
    path.write_text("some words\n")
    with pytest.raises(InputError, match="no weather file"):
        read_weather(path)
    with pytest.raises(InputError, match="cannot be read"):
        read_weather(tmp_path / "none.epw")
    path.write_bytes(gzip.compress(COMPACT_TEXT.encode())[:-9])
    with pytest.raises(InputError, match="cannot be read"):
        read_weather(path)


HEADS = {name: "\n".join((DATA / name).read_text().splitlines()[:6]) for name in YEARS} | {
    "compact": COMPACT_TEXT,
    "epw": "LOCATION,a,b,c,d,1,1,1,1,10\n" + "x\n" * 7 + "2001,1,1,1,60,?,5,2,80,99000\n2001,1,1,2,60,?,5,2,80,99000\n",
}


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(HEADS)), st.integers(0, 1500), st.integers(0, 30), st.binary(max_size=8))
def test_spoilt_weather_is_a_record_or_an_input_error(tmp_path_factory, form, at, cut, put):
    data = HEADS[form].encode()
    at = min(at, len(data))
    path = tmp_path_factory.getbasetemp() / "spoilt-weather"
    path.write_bytes(data[:at] + put + data[at + cut :])
    with only_input_errors(path):
        made = read_weather(path)
        assert (np.diff(made.time) > 0).all()
        assert np.isfinite([*made.temperature, *made.vapour_pressure, made.mean_pressure]).all()
