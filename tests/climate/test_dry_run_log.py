"""Readings of a dry run: what is read, what is listed, what is refused."""

import numpy as np
import pytest

from nestwright.climate.dry_run_log import read_logs
from nestwright.errors import InputError

HEAD = "time,pot.temperature_degC,pot.humidity_pct,pot.co2_ppm\n"


def rows(n=12, start=0):
    return "".join(f"2025-03-01T{9 + k // 12:02d}:{k % 12 * 5:02d}:00,21.5,88.0,{450 + k}\n" for k in range(start, n))


def test_units_become_si(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("# a logger\n" + HEAD + rows())
    record = read_logs([path])
    assert record.channels[("pot", "temperature")][0] == pytest.approx(294.65)
    assert record.channels[("pot", "relative_humidity")][0] == pytest.approx(0.88)
    assert record.channels[("pot", "co2")][3] == pytest.approx(453e-6)
    assert (np.diff(record.time) == 300).all()


def test_two_loggers_on_one_clock(tmp_path):
    (tmp_path / "a.csv").write_text(HEAD + rows())
    (tmp_path / "b.csv").write_text(
        "time;pot/bell.temperature_degC\n" + "".join(f"01.03.2025 09:{k * 4 + 2:02d};22,{k}\n" for k in range(12))
    )
    record = read_logs([tmp_path / "a.csv", tmp_path / "b.csv"])
    bell = record.channels[("pot/bell", "temperature")]
    assert len(record.time) == len(bell)
    assert np.isfinite(bell).sum() == 12
    assert bell[np.isfinite(bell)][3] == pytest.approx(295.45)


def test_times_that_tell_their_offset_stand_on_the_clock_of_the_first(tmp_path):
    path = tmp_path / "a.csv"
    for count in (12, 90):  # a short column is read one by one, a long one at once
        text = rows(count).replace(":00,21", ":00+01:00,21").replace("T09:10:00+01", "T08:10:00+00")
        path.write_text(HEAD + text + "2025-03-02T09:00:00,21.5,88.0,450\n")
        record = read_logs([path])
        assert record.start.isoformat() == "2025-03-01T09:00:00"
        assert (np.diff(record.time) == 300).all()
        assert len(record.time) == count
        assert any("no date" in note for note in record.notes)


def test_bad_rows_are_listed_by_line_and_the_good_ones_kept(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text(HEAD + rows() + "soon,21,80,450\n2025-03-01T11:00:00,warm,80,-4\n")
    record = read_logs([path])
    assert len(record.time) == 13
    assert any(":14: no date" in n for n in record.notes)
    assert any(":15: pot.temperature_degC is no such reading: 'warm'" in n for n in record.notes)
    assert any("'-4'" in n for n in record.notes)
    assert np.isnan(record.channels[("pot", "temperature")][-1])


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("when,pot.co2_ppm\n1,2\n", "column of time"),
        ("time,pot.co2\n2025-03-01T09:00:00,450\n", "did you mean 'co2_ppm'"),
        ("time,temperature_degC\n2025-03-01T09:00:00,21\n", "named by its chamber"),
        ("time,pot.co2_ppm,pot.co2_ppm\n", "twice"),
        (HEAD + rows(5), "too few readings"),
        ("time\n" + "2025-03-01T09:00:00\n" * 12, "no column of readings"),
        ('time,pot.co2_ppm\n"2025\nx",4\n', "quoted cell"),
    ],
)
def test_what_is_refused_says_where(tmp_path, text, says):
    path = tmp_path / "a.csv"
    path.write_text(text)
    with pytest.raises(InputError) as caught:
        read_logs([path])
    assert says in str(caught.value)
    assert str(path) in str(caught.value)


def test_one_column_in_two_files_is_refused(tmp_path):
    for name in "ab":
        (tmp_path / f"{name}.csv").write_text(HEAD + rows())
    with pytest.raises(InputError, match="two files"):
        read_logs([tmp_path / "a.csv", tmp_path / "b.csv"])
