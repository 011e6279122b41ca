"""Bring the catalogues of refusals up to date (`python docs/make_fault_words.py`).

What the layers below the page say of input that cannot be used is written there in English, and they know of no page.
Their texts are read out of their source (`fault_texts.py`); the names of fields out of the templates.
"""

from __future__ import annotations

import re
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po
from fault_texts import texts
from make_words import TEMPLATES, brought_up, told

from nestwright.files import write_whole
from nestwright.web.refused import CATALOGUE, FIELD
from nestwright.web.words import FOLDER, languages
from nestwright.workshop.tables import RECORD

_FIELD = re.compile(r"""(?:parts\.(?:field|place)\(|(?<= )name=["'])["']?([a-z_]+)["']""")
OTHERS = frozenset({"step", "fill", "eggs", "larvae", "pupae", "leaves", "waste"})
"""A step of the history, and the fields of a visit whose names a loop of its template makes."""


def fields() -> tuple[str, ...]:
    """The names of the fields of every form, of the tables whose row a fault names, and `OTHERS`."""
    found = {name for file in sorted(TEMPLATES.glob("*.html")) for name in _FIELD.findall(file.read_text("utf-8"))}
    return tuple(sorted(found - {"viewport", "description"} | OTHERS | {table.name for table in RECORD}))


def marked() -> Catalog:
    """Every text of a refusal, and the name of every field."""
    found = Catalog()
    for text in texts():
        found.add(text)
    for name in fields():
        found.add(name, context=FIELD)
    for message in found:
        message.flags.discard("python-format")
        message.flags.discard("python-brace-format")
    return found


def main() -> None:
    """Write the catalogue of each language."""
    made = marked()
    for language in languages()[1:]:
        file = FOLDER / language / CATALOGUE
        text = brought_up(file.read_bytes(), language, made).decode()
        write_whole(file, text.replace("# The page in", "# Refusals in").replace("make_words", "make_fault_words"))
        left = sum(not told(one) for one in read_po(file.open("rb")) if one.id)
        print(f"wrote {file.relative_to(Path(__file__).parents[1])}: {len(made)} texts, {left} without a translation")


if __name__ == "__main__":
    main()
