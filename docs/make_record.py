"""Write the tables of the record, from the program's own list of them, into docs/record.md: make_record.py"""

from pathlib import Path

from nestwright.workshop.table_words import SAYS
from nestwright.workshop.tables import metadata

PAGE = Path(__file__).with_name("record.md")
BEGIN, END = "<!-- tables: made by docs/make_record.py -->\n", "<!-- end of tables -->"


def tables() -> str:
    """The list of tables with their columns, in the order in which they build on each other."""
    lines = ["| table | a row is | columns |", "|---|---|---|"]
    for table in sorted(metadata.sorted_tables, key=lambda t: list(SAYS).index(t.name)):
        columns = ", ".join(f"`{column.name}`" for column in table.columns)
        lines.append(f"| `{table.name}` | {SAYS[table.name]} | {columns} |")
    return "\n".join(lines) + "\n"


def page(text: str) -> str:
    """The page with its list made anew."""
    before, _, rest = text.partition(BEGIN)
    return before + BEGIN + tables() + END + rest.partition(END)[2]


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text()))
