"""docs/record.md names every table of the record with every column."""

import importlib.util
from pathlib import Path

from nestwright.workshop.table_words import SAYS
from nestwright.workshop.tables import metadata

ROOT = Path(__file__).parents[2]


def test_the_page_is_up_to_date():
    spec = importlib.util.spec_from_file_location("make_record", ROOT / "docs/make_record.py")
    maker = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(maker)
    text = (ROOT / "docs/record.md").read_text()
    assert text == maker.page(text), "run `python docs/make_record.py`"


def test_every_table_is_told_in_one_line():
    assert set(SAYS) == set(metadata.tables)
    text = (ROOT / "docs/record.md").read_text()
    for table in metadata.sorted_tables:
        row = next(line for line in text.splitlines() if line.startswith(f"| `{table.name}` |"))
        assert SAYS[table.name] in row
        for column in table.columns:
            assert f"`{column.name}`" in row
