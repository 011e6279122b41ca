"""Lines into cells: the quick way for many lines gives what the csv module gives for each."""

import csv
import io

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from nestwright.sensing.loggers.table import SEPARATORS, cells_of, table_of

CELL = st.text(alphabet='ab12.,;|" é', max_size=5)


def as_table(lines, separator, width):
    frame = table_of("".join(line + "\n" for line in lines).encode(), separator, width)
    return [["" if c is None else c.strip() for c in row] for row in frame.iter_rows()]


@settings(max_examples=300, deadline=None)
@given(
    st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=6),
    st.sampled_from(["comma", "semicolon", "tab", "pipe"]),
    st.sampled_from([csv.QUOTE_ALL, csv.QUOTE_MINIMAL, csv.QUOTE_NONNUMERIC]),
)
@example([["", "1,5", ""], ["", "", ""]], "comma", csv.QUOTE_ALL)
def test_what_csv_writes_comes_back(rows, separator, quoting):
    # doubled quote marks inside a cell are no part of a reading
    rows = [[cell.replace('"', "'") for cell in row] for row in rows]
    lines = []
    for row in rows:
        out = io.StringIO()
        csv.writer(out, delimiter=SEPARATORS[separator], quoting=quoting, lineterminator="").writerow(row)
        lines.append(out.getvalue())
    expected = [[cell.strip() for cell in row] for row in rows]
    assert as_table(lines, separator, 3) == expected
    assert [cells_of(line, separator) for line in lines] == expected


@pytest.mark.parametrize("separator", ["space", "spaces"])
def test_runs_of_blanks(separator):
    lines = ["  a   b  c ", "", "\ta  b\t c", "   ", "a     b  c      "]
    expected = [["a", "b", "c"], [""] * 3, ["a", "b", "c"], [""] * 3, ["a", "b", "c"]]
    if separator == "spaces":
        lines[2] = "a  b\t\tc"
    assert as_table(lines, separator, 3) == expected


def test_lines_keep_their_place():
    lines = ["", "", "1,2", '"3","4"', "", "5", "6,7,8,9", "", ""]
    assert as_table(lines, "comma", 2) == [
        ["", ""], ["", ""], ["1", "2"], ["3", "4"], ["", ""], ["5", ""], ["6", "7"], ["", ""], ["", ""],
    ]  # fmt: skip
