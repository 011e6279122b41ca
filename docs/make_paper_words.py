"""Bring the catalogues of the papers' texts up to date (`python docs/make_paper_words.py`)."""

import tomllib
from importlib import resources
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract
from babel.messages.pofile import read_po
from make_words import brought_up, told

from nestwright.files import write_whole
from nestwright.papers.names import catalogued
from nestwright.papers.words import FOLDER, languages

KEYWORDS = {"_": None, "N_": None}


def marked() -> Catalog:
    """Every text that a module of the papers marks, names from other tables, and the cautions of making."""
    found = Catalog()
    for file in sorted(FOLDER.parent.glob("*.py")):
        with file.open("rb") as stream:
            for _, message, _, _ in extract("python", stream, keywords=KEYWORDS):
                found.add(message, locations=[(file.name, 0)])
    for text in catalogued():
        found.add(text, locations=[("names.py", 0)])
    table = tomllib.loads((resources.files("nestwright.data") / "making_cautions.toml").read_text("utf-8"))
    for caution in (row["text"] for group in table.values() for row in group.values()):
        found.add(caution, locations=[("making_cautions.toml", 0)])
    for message in found:
        message.flags.discard("python-format")
        message.flags.discard("python-brace-format")
        message.locations = sorted(set(message.locations))
    return found


def main() -> None:
    """Write the catalogue of each language."""
    texts = marked()
    for language in languages()[1:]:
        file = FOLDER / language / "paper.po"
        made = brought_up(file.read_bytes(), language, texts)
        write_whole(
            file, made.decode().replace("# The page in", "# The papers in").replace("make_words", "make_paper_words")
        )
        left = sum(not told(one) for one in read_po(file.open("rb")) if one.id)
        print(f"wrote {file.relative_to(Path(__file__).parents[1])}: {len(texts)} texts, {left} without a translation")


if __name__ == "__main__":
    main()
