"""The table of visits tells the same as the colony file, and its faults have their line."""

from pathlib import Path

import pytest
from colony_files import colony, fault, tells, written

from nestwright.colony.file import read_colony
from nestwright.colony.model import Colony

NAMED = 'visits = "visits.csv"\n'
TABLE = """\
date,garden_mL,workers,seen,not_seen,leaves_g,plant,leaves_taken_g,waste_g,note,event,amount
2025-11-10,32,about 80,eggs;larvae,pupae,3,bramble,,1.2,"a note, with a comma",,
2025-11-12,,50 to 80,,,,,2,,,garden lost,30 %
2025-11-13,,,,,,,,,,workers added,25
"""
SAME = """\
[[visit]]
date = 2025-11-10
garden = "32 mL"
workers = "about 80"
seen = ["eggs", "larvae"]
not_seen = ["pupae"]
leaves = "3 g"
plant = "bramble"
waste = "1.2 g"
note = "a note, with a comma"
[[visit]]
date = 2025-11-12
workers = "50 to 80"
leaves_taken = "2 g"
[[event]]
date = 2025-11-12
what = "garden lost"
amount = "30 %"
[[event]]
date = 2025-11-13
what = "workers added"
amount = 25
"""


def read(folder: Path, table: str | bytes) -> Colony:
    return read_colony(written(folder, NAMED, table=table))


def told(colony: Colony) -> tuple[object, ...]:
    """Everything but lines."""
    seen = [(o.day, o.kind, o.value, o.error, o.since, o.how) for o in colony.observations]
    done = [(e.day, e.kind, e.value, e.plant) for e in colony.events]
    return seen, done, colony.days, colony.notes


def test_table_and_file_tell_the_same(tmp_path: Path) -> None:
    assert told(read(tmp_path, TABLE)) == told(colony(SAME))


def test_semicolons_decimal_commas_byte_order_mark_and_other_line_ends(tmp_path: Path) -> None:
    table = "\ufeffdate;garden_mL;seen\r\n2025-11-10;32,5;eggs larvae\r\n\r\n2025-11-11;40;;;\r\n"
    found = read(tmp_path, table)
    assert [(o.kind, o.value, o.line) for o in found.observations] == [
        ("garden", pytest.approx(32.5), 2),
        ("eggs", 1.0, 2),
        ("larvae", 1.0, 2),
        ("garden", pytest.approx(40.0), 4),
    ]


@pytest.mark.parametrize("mark", [";", "\t"])
def test_the_header_says_what_parts_the_cells(tmp_path: Path, mark: str) -> None:
    table = TABLE.replace('"a note, with a comma"', "a note").replace("eggs;larvae", "eggs larvae").replace(",", mark)
    found = read(tmp_path, table.replace("32", "32,5"))
    assert [o.value for o in found.observations if o.kind == "garden"] == [pytest.approx(32.5)]
    same = SAME.replace("32 mL", "32.5 mL").replace("a note, with a comma", "a note")
    assert told(found) == told(colony(same))


def test_the_text_of_the_table_may_stand_in_the_file(tmp_path: Path) -> None:
    inside = f'visits = """\n{TABLE}"""'
    assert told(colony(inside)) == told(read(tmp_path, TABLE))
    path = written(tmp_path, inside.replace("about 80", "abot 80"))
    error = fault(path)
    assert error.line == 7
    assert "abot 80" in path.read_text().splitlines()[error.line - 1]


def test_lines_count_through_cells_with_line_breaks(tmp_path: Path) -> None:
    found = read(tmp_path, 'date,workers,note\n2025-11-10,5,"two\nlines"\n2025-11-11,6,\n')
    assert [o.line for o in found.observations] == [2, 4]


def test_visits_of_both_places_are_joined(tmp_path: Path) -> None:
    inside = NAMED + "[[visit]]\ndate = 2025-11-08\nworkers = 4\n"
    path = written(tmp_path, inside, table="date,workers\n2025-11-10,5\n")
    assert [o.value for o in read_colony(path).observations] == [4.0, 5.0]


WRONG = [
    ("\ufeff", 1, "", "is empty"),
    ("\n\n", 1, "", "is empty"),
    ("garden_mL\n3\n", 1, "", "the column 'date' is missing"),
    ("date,gardenml\n", 1, "gardenml", "did you mean 'garden_mL'"),
    ("date|workers\n", 1, "date|workers", "unknown column"),
    ("workers\n", 1, "", "the column 'date' is missing; allowed: columns parted by commas, semicolons or tabs"),
    ("date,\u001bworkers\n", 1, "", "found U+001B as character 1"),
    ("date,leaves_g,plant\n2025-11-10,3,ro\u202ese\n", 2, "plant", "found U+202E (right-to-left override)"),
    ("date,note\n2025-11-10,a\u0007\n", 2, "note", "found U+0007 as character 2"),
    ("date,date\n", 1, "date", "the column stands twice"),
    ("date,workers\n2025-11-10,5\n2025-11-11,-5\n", 3, "workers", "is negative"),
    ("date,workers\n10.11.2025,5\n", 2, "date", "is not a day"),
    ("date,workers\n,5\n", 2, "date", "is not a day"),
    ("date,workers\n2025-11-10,5,7\n", 2, "", "the row has 3 cells, the header 2"),
    ("date,garden_mL\n2025-11-10,30 mL\n", 2, "garden_mL", "a number alone, in mL"),
    ("date,garden_mL\n2025-11-10,nan\n", 2, "garden_mL", "is not a number"),
    ("date,garden_mL\n2025-11-10,-4\n", 2, "garden_mL", "is negative"),
    ("date,garden_mL\n2025-11-10,1e3\n", 2, "garden_mL", "is not a number"),
    ("date,leaves_g,leaves_cm2\n2025-11-10,3,4\n", 2, "leaves_cm2", "the same is told in 'leaves_g'"),
    ("date,seen\n2025-11-10,egs\n", 2, "seen", "did you mean 'eggs'"),
    ("date,event\n2025-11-10,queen lots\n", 2, "event", "did you mean 'queen lost'"),
    ("date,event\n2025-11-10,garden added\n", 2, "event", "needs an amount"),
    ("date,event,amount\n2025-11-10,garden added,some\n", 2, "amount", "cannot be read as an amount"),
    ("date,amount\n2025-11-10,30 %\n", 2, "amount", "an amount without an event"),
    ("date,plant\n2025-11-10,rose\n", 2, "plant", "a plant without leaves"),
    ("date,fill_pct\n2025-11-10,50\n", 2, "fill_pct", "needs the bell or chamber"),
    ("date,workers\n2025-11-01,5\n", 2, "date", "before the start"),
    ('date,note\n2025-11-10,"a"b\n', 2, "", "is not a CSV table"),
    (b"date,note\n2025-11-10,\xff\n", 2, "", "not text in UTF-8"),
]


@pytest.mark.parametrize(("table", "line", "field", "piece"), WRONG, ids=[w[3] + str(i) for i, w in enumerate(WRONG)])
def test_each_fault_is_told_with_its_line(
    tmp_path: Path, table: str | bytes, line: int, field: str, piece: str
) -> None:
    error = fault(written(tmp_path, NAMED, table=table))
    tells(error, tmp_path / "visits.csv", line, field, piece)


def test_a_table_that_is_no_file_is_told_where_it_is_named(tmp_path: Path) -> None:
    (tmp_path / "visits.csv").mkdir()
    path = written(tmp_path, NAMED)
    tells(fault(path), path, 5, "visits", "cannot be read")
