"""Bad rows, missing values, junk, and files that are none: listed or one clear error, never a crash."""

import gzip
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.sensing.loggers import fits, read_in_pieces, read_readings, recognise

PLAIN = "time,temperature °C,humidity %\n" + "".join(
    f"2026-03-01 {h:02d}:00,{20 + h / 4:.2f},{50 + h}.0\n" for h in range(12)
)
FOLDER = Path(__file__).parents[1] / "data" / "loggers"


def read(tmp_path, data, zone="UTC", name="log.csv"):
    path = tmp_path / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return read_readings(path, recognise(path, zone))


BAD = {
    "yesterday,20,50": ("", "no date and time: 'yesterday'"),
    ",20,50": ("", "no date and time"),
    "2026-02-31 10:00,20,50": ("", "no date and time: '2026-02-31 10:00'"),
    "2026-13-01 10:00,20,50": ("", "no date and time"),
    "2026-03-01 25:00,20,50": ("", "no date and time"),
    "0001-01-01 10:00,20,50": ("", "no date and time"),
    "2026-03-02 10:00,warm,50": ("temperature", "is no number"),
    "2026-03-02 10:00,2O.5,50": ("temperature", "is no number"),
    "2026-03-02 10:00,20.5.1,50": ("temperature", "is no number"),
    "2026-03-02 10:00,inf,50": ("temperature", "is no number"),
    "2026-03-02 10:00,1e999,50": ("temperature", "is no number"),
    "2026-03-02 10:00,-60.5,50": ("temperature", "cannot be"),
    "2026-03-02 10:00,20,105.5": ("humidity", "cannot be"),
    "2026-03-02 10:00,20,-1": ("humidity", "cannot be"),
    "2026-03-02 10:00,20\x00,50": ("", "binary junk"),
    "\x01\x02\x7f": ("", "binary junk"),
    "x" * 10_001: ("", "too long"),
    "end of data": ("", "no date and time"),
}


@pytest.mark.parametrize("row", BAD, ids=lambda r: r[:24].encode("unicode_escape").decode())
@pytest.mark.parametrize("place", [1, 6, 13])
def test_bad_rows_are_listed_and_the_others_kept(tmp_path, row, place):
    channel, reason = BAD[row]
    lines = PLAIN.splitlines()
    readings = read(tmp_path, "\n".join([*lines[:place], row, *lines[place:]]) + "\n")
    assert [(f.line, f.channel) for f in readings.faults] == [(place + 1, channel)]
    assert reason in readings.faults[0].reason
    assert readings.counts["faults"] == 1
    kept = {c.name: c.value for c in readings.channels}
    own = 12 + (channel not in ("", "temperature")), 12 + (channel not in ("", "humidity"))
    assert (len(kept["temperature"]), len(kept["humidity"])) == own
    assert kept["temperature"][:12].tolist() == [20 + h / 4 for h in range(12)]
    assert (readings.rows, readings.rows_kept) == (13, 12 + (channel != ""))


@pytest.mark.parametrize(
    "mark", ["", "--", "NaN", "err", "-999", "-999.0", "65535", "-127", "n/a", "Error", " ", "n/a ", "#N/A"]
)
def test_marks_of_a_missing_value_are_no_readings(tmp_path, mark):
    readings = read(tmp_path, PLAIN + f"2026-03-02 10:00,{mark},50\n")
    assert not readings.faults
    assert len(readings.channel("temperature").value) == 12
    assert len(readings.channel("humidity").value) == 13
    assert readings.counts["missing"] == (mark.strip() != "")


def test_what_is_plausible_stays(tmp_path):
    # -99.9 and 999 are marks only where they cannot be values
    text = "time,weight (g),light lx\n2026-03-01 10:00,999,65535\n2026-03-01 11:00,-99.9,0\n"
    readings = read(tmp_path, text)
    assert readings.channel("weight").value.tolist() == [999, -99.9]
    assert readings.channel("light").value.tolist() == [65535, 0]


def test_many_faults_are_counted_and_a_thousand_listed(tmp_path):
    readings = read(tmp_path, PLAIN + "x,1,2\n" * 3000 + "2026-03-03 10:00,y,z\n" * 10)
    assert readings.counts["faults"] == 3020
    assert len(readings.faults) == 1000
    assert readings.faults[-1].line == 13 + 1000


def test_repeated_headers_and_remarks_are_passed_over(tmp_path):
    lines = PLAIN.splitlines()
    readings = read(tmp_path, "\n".join([*lines[:5], "# battery changed", "", lines[0], *lines[5:]]) + "\n")
    assert not readings.faults
    assert readings.counts["ignored"] == 2
    assert readings.rows == 12


def test_quotes_that_are_never_closed_spoil_their_own_line_only(tmp_path):
    lines = PLAIN.splitlines()
    lines[4] = '"' + lines[4]
    lines[8] = lines[8].replace(",20", ',"20').replace(",22", ',"22')
    readings = read(tmp_path, "\n".join(lines) + "\n")
    assert readings.rows == 12
    assert len(readings.channel("temperature").value) + len({f.line for f in readings.faults}) == 12
    assert len(readings.channel("temperature").value) >= 10


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends(tmp_path, end):
    assert len(read(tmp_path, PLAIN.replace("\n", end)).channels[0].time) == 12


def test_last_line_cut_off(tmp_path):
    whole = read(tmp_path, PLAIN)
    assert not whole.faults
    for cut in range(1, 21):
        readings = read(tmp_path, PLAIN[:-cut])
        value = readings.channel("humidity").value
        # without its line end the last line still holds all; with anything less it is listed, not taken
        assert len(value) == (12 if cut == 1 else 11)
        assert [f.line for f in readings.faults] == ([] if cut == 1 else [13])


def test_packed_and_broken_off(tmp_path):
    data = gzip.compress((PLAIN + "".join(f"2026-04-01 10:{m:02d},21.{m},51\n" for m in range(60))).encode())
    assert len(read(tmp_path, data).channels[0].time) == 72
    broken = read(tmp_path, data[:-8] + b"??")  # without its sum at the end: what could be unpacked is there
    assert broken.rows_kept >= 60
    assert any("breaks off" in r for r in broken.remarks)


NONE = {
    "empty": b"",
    "blank": b" \r\n\n",
    "zeros": bytes(5000),
    "prose": b"The garden looks well today.\nIt grew.\n",
    "header only": PLAIN.split("\n")[0].encode(),
    "numbers only": b"1,2,3\n4,5,6\n",
    "clock only": b"time,temp\n10:00,20\n11:00,21\n",
    "spreadsheet": b"PK\x03\x04" + bytes(200),
    "picture": b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20,
    "one line": b"x" * 3_000_000,
}


@pytest.mark.parametrize("case", NONE)
def test_files_that_are_none(tmp_path, case):
    path = tmp_path / "none.csv"
    path.write_bytes(NONE[case])
    with pytest.raises(InputError) as caught:
        recognise(path)
    assert caught.value.file == str(path)
    mapping = recognise(FOLDER / "english-plain.csv")
    with pytest.raises(InputError):
        read_readings(path, mapping)


def test_nothing_usable_is_one_error_with_the_first_fault(tmp_path):
    good, path = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(PLAIN)
    path.write_text(PLAIN.replace("2026", "20x6"))
    with pytest.raises(InputError, match="first fault") as caught:
        read_readings(path, recognise(good, "UTC"))
    assert caught.value.line == 2


@pytest.mark.parametrize("path", ["nowhere.csv", ".", "a\0b"])
def test_paths_that_cannot_be_read(path):
    with pytest.raises(InputError):
        recognise(path)


def test_progress_and_pieces(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(PLAIN)
    mapping, seen = recognise(path, "UTC"), []
    parts = list(read_in_pieces(path, mapping, lambda done, size: seen.append((done, size)), size=100))
    assert len(parts) > 3
    assert seen == sorted(seen)
    assert seen[-1] == (path.stat().st_size, path.stat().st_size)
    assert np.concatenate([p.line for p in parts]).tolist() == list(range(2, 14))
    assert all(np.shape(p.value) == (2, len(p.time)) for p in parts)


@settings(max_examples=150, deadline=None)
@given(st.integers(1, 400), st.sampled_from(["\n", "\r\n"]), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_pieces_of_any_size_give_the_same(tmp_path_factory, size, end, encoding):
    path = tmp_path_factory.getbasetemp() / "pieces.csv"
    path.write_bytes(PLAIN.replace("\n", end).encode(encoding))
    mapping = recognise(path, "UTC")
    parts = list(read_in_pieces(path, mapping, size=size))
    assert np.concatenate([p.line for p in parts]).tolist() == list(range(2, 14))
    assert np.concatenate([p.value[1] for p in parts]).tolist() == [50.0 + h for h in range(12)]


def attempt(form, path, zone):
    """Mapping of the file `form` and readings of `path` by it, or the InputError; any other error is a failure."""
    try:
        mapping = recognise(form, zone)
        return mapping, read_readings(path, mapping), None
    except InputError as error:
        return None, None, error


def usable_or_error(path, zone="Europe/Berlin"):
    mapping, readings, error = attempt(path, path, zone)
    if error is not None:
        assert error.file == str(path)
        return
    assert fits(mapping, path)
    assert readings.rows_kept <= readings.rows
    for channel in readings.channels:
        assert (np.diff(channel.time) > 0).all()
        assert np.isfinite(channel.value).all()


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes(tmp_path_factory, data):
    path = tmp_path_factory.getbasetemp() / "bytes.csv"
    path.write_bytes(data)
    usable_or_error(path)


NAMES = sorted(p.name for p in FOLDER.iterdir() if p.name != "truth.csv")


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(NAMES), st.integers(0, 2000), st.integers(0, 30), st.binary(max_size=20), st.booleans())
@example("english-plain.csv", 0, 0, b"\x1f", False)
def test_spoilt_files(tmp_path_factory, name, at, cut, put, own):
    path = tmp_path_factory.getbasetemp() / "spoilt.csv"
    data = (FOLDER / name).read_bytes()
    path.write_bytes(data[:at] + put + data[at + cut :])
    if not own:
        usable_or_error(path)
        return
    # by the mapping of the file as it was
    _, readings, error = attempt(FOLDER / name, path, "Europe/Berlin")
    assert error is None or error.file == str(path)
    assert readings is None or readings.rows_kept > 0


CELLS = st.sampled_from(
    [
        *("", "time", "temperature", "humidity", "20", "50,5", "nan", "inf", "1e308", "1e-320", "2026-03-01 10:00"),
        *("0001-01-01", "9999-12-31T23:59+00:00", "0001-01-01T00:00+23:00", "31.02.2026", "1/1/1 25:61", "10:00"),
        *('"', "#", "\0", "°F", "%", "-", "1700000000", "99999999999999999999", "1772359200000", "45000.5", "24:00"),
        *("1.013,25", "\u2212 5", "٣", "²", "1 000", "2026-03-01 10:00:00.123456789", "1.5.2026", "01-May-2026 10:00"),
    ]
) | st.text(max_size=10)


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.lists(CELLS, max_size=5), max_size=8), st.sampled_from([",", ";", "\t", "|", "  ", " "]), st.booleans()
)
def test_malformed_tables(tmp_path_factory, rows, mark, headed):
    text = (mark.join(["time", "temperature", "humidity"]) + "\n") * headed
    text += "\n".join(mark.join(row) for row in rows)
    path = tmp_path_factory.getbasetemp() / "malformed.csv"
    path.write_bytes(text.encode("utf-8", "surrogatepass"))
    usable_or_error(path)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-be"])
@pytest.mark.parametrize("mark", [",", ";"])
def test_junk_and_endless_lines_swallow_no_row(tmp_path, encoding, mark):
    """Binary, quotes that never close, lines of a megabyte, of any number of bytes: each spoils its own line only."""
    draw = np.random.default_rng(11)
    noise = [draw.integers(0, 256, n, dtype=np.uint8).tobytes().replace(b"\n", b"") for n in (1, 7, 4001, 40_000)]
    junk = [*noise, b'"' * 3, b'2026-03-01 00:00,"20.5', b'x"y,' * 9001, b"\0" * 301, b'"' + b"7" * 1_100_001]
    code = {"utf-16": "utf-16-le"}.get(encoding, encoding)
    end = "\n".encode(code)
    head, *rows = [line.replace(",", mark).encode(code) for line in PLAIN.splitlines()]
    lines, spoilt = [head], []
    for k, row in enumerate(rows):
        lines += [junk[k], row] if k < len(junk) else [row]
        spoilt += [len(lines) - 1] if k < len(junk) else []
    start = {"utf-16": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    path = tmp_path / "log.csv"
    path.write_bytes(start + end.join(lines) + end)
    for size in (1 << 24, 5000):
        parts = list(read_in_pieces(path, recognise(path, "UTC"), size=size))
        value = np.concatenate([part.value[0] for part in parts])
        assert value[~np.isnan(value)].tolist() == [20 + h / 4 for h in range(12)]
        assert {f.line for part in parts for f in part.faults} == set(spoilt)
