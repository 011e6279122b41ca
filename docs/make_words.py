"""Bring the catalogues of the page's texts up to date (`python docs/make_words.py`).

Texts that a template marks are found where they stand. Words that come to a template in a variable are listed in
`VARIABLES`, taken from where the program keeps them. What is translated stays, what is no longer used goes, and what is
new stands there without a translation; the same inputs give the same bytes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract
from babel.messages.pofile import read_po, write_po
from jinja2 import Environment, nodes

from nestwright.files import write_whole
from nestwright.web.sentences import clauses
from nestwright.web.words import FOLDER, languages

WEB = FOLDER.parent
TEMPLATES = WEB / "templates"
HEADER = """# The page in {name}: docs/guide/translating.md. Brought up to date by `python docs/make_words.py`.
msgid ""
msgstr ""
"Language: {language}\\n"
"MIME-Version: 1.0\\n"
"Content-Type: text/plain; charset=utf-8\\n"
"Content-Transfer-Encoding: 8bit\\n"
"Plural-Forms: {plural}\\n"

"""
KEYWORDS = {"_": None, "gettext": None, "ngettext": (1, 2)}


def _titles() -> Iterator[str]:
    from nestwright.web import faults

    yield from faults.TITLES.values()
    yield from ("That cannot be used", "A fault in the program; nothing was written")
    # what the framework says of itself, Python's http.HTTPStatus
    yield from ("Forbidden", "Bad Request")


def _navigation() -> Iterator[str]:
    from nestwright.web.render import NAVIGATION

    yield from (name for _, name, _ in NAVIGATION)


def _today() -> Iterator[str]:
    from nestwright.web.pages import today

    yield from today.TITLES.values()


def _steps() -> Iterator[str]:
    from nestwright.web.pages import today

    yield from (words for words, _ in today.OF_COLONY.values())
    yield from (*today.OF_LOGGER.values(), "See the readings", "Filled today", "See its checks", "Visit")


def _judged() -> Iterator[str]:
    from nestwright.web.pages import today

    yield from today.JUDGED.values()


def _health() -> Iterator[str]:
    from nestwright.workshop.visits import HEALTH

    yield from HEALTH


def _looks() -> Iterator[str]:
    from nestwright.workshop.visits import HEALTH

    yield from HEALTH.values()


def _stages() -> Iterator[str]:
    from nestwright.workshop.visits import STAGES

    yield from STAGES


def _space() -> Iterator[str]:
    from nestwright.wording.forecast import SPACE

    yield from (word.partition(" ")[0] for _, word, _ in SPACE)
    yield "housed in"


def _queens() -> Iterator[str]:
    yield from ("laying", "unknown", "none")


def _orders() -> Iterator[str]:
    from nestwright.web.pages.sensor_import import ORDERS

    yield from (words for _, words in ORDERS)


def _ways() -> Iterator[str]:
    from nestwright.web.pages.habitat_parts import WAYS

    yield from WAYS.values()


def _verdicts() -> Iterator[str]:
    from nestwright.wording.parcels import VERDICTS

    yield from VERDICTS.values()


def _materials() -> Iterator[str]:
    from nestwright.data import load_materials

    yield from load_materials()


VARIABLES: dict[tuple[str, str], Callable[[], Iterable[str]]] = {
    ("base.html", "name"): _navigation,
    ("settings.html", "name"): _navigation,
    ("fault.html", "title"): _titles,
    ("today_tasks.html", "title"): _today,
    ("today_tasks.html", "line.step.words"): _steps,
    ("today_tasks.html", "one"): _judged,
    ("visit.html", "stage"): _stages,
    ("visit.html", "word"): _health,
    ("visit.html", "says"): _looks,
    ("parcel.html", "word"): _health,
    ("parcels.html", "verdict"): _verdicts,
    ("forecast.html", "name"): _space,
    ("colony.html", "kept.values.queen"): _queens,
    ("colony_new.html", "one"): _queens,
    ("import_preview.html", "words"): _orders,
    ("habitat_parts.html", "one.way"): _ways,
    ("habitat_parts.html", "one.material"): _materials,
    ("builds.html", "state"): lambda: ("passed", "none"),
    ("search.html", "one.kind"): lambda: (
        "colony",
        "build",
        "logger",
        "visit",
        "event",
        "photo",
        "habitat",
        "page",
        "parcel",
        "buyer",
    ),
}
"""Template and variable of each `_(…)` that holds no text itself, and the texts that it may be."""


def environment() -> Environment:
    """Reads the templates as the page does."""
    return Environment(trim_blocks=True, lstrip_blocks=True, extensions=["jinja2.ext.i18n"])


def variable_texts(template: str) -> set[str]:
    """The variables that a template hands to `_`, as "line.step.words"."""
    tree = environment().parse((TEMPLATES / template).read_text("utf-8"))
    found = set()
    for call in tree.find_all(nodes.Call):
        if isinstance(call.node, nodes.Name) and call.node.name == "_" and not _told(call.args[0]):
            found.add(_named(call.args[0]))
    return found


def _told(node: nodes.Node) -> bool:
    return isinstance(node, nodes.Const)


def _named(node: nodes.Node) -> str:
    if isinstance(node, nodes.Name):
        return node.name
    if isinstance(node, nodes.Getattr):
        return f"{_named(node.node)}.{node.attr}"
    return type(node).__name__


def marked() -> Catalog:
    """Every text of the page: from its templates, from modules that mark texts, and from the tables of `VARIABLES`."""
    found = Catalog()
    sources = [(file, "jinja2") for file in sorted(TEMPLATES.glob("*.html"))]
    sources += [(file, "python") for file in sorted(WEB.rglob("*.py"))]
    options = {"trim_blocks": "true", "lstrip_blocks": "true", "silent": "false"}
    for file, method in sources:
        where = file.relative_to(WEB).as_posix()
        with file.open("rb") as stream:
            told = extract(method, stream, keywords=KEYWORDS, options=options if method == "jinja2" else None)
            for _, message, _, context in told:
                found.add(message, locations=[(where, 0)], context=context)
    for (template, _), texts in VARIABLES.items():
        for text in texts() if (TEMPLATES / template).is_file() else ():
            found.add(text, locations=[(f"templates/{template}", 0)])
    for clause in clauses():
        found.add(clause, locations=[("languages/clauses.txt", 0)])
    for message in found:
        # a per cent sign alone is no placeholder here, whatever stands behind it
        message.flags.discard("python-format")
        message.flags.discard("python-brace-format")
        message.locations = sorted(set(message.locations))
    return found


def brought_up(text: bytes, language: str, texts: Catalog) -> bytes:
    """A catalogue's file with exactly the texts that the page has, by the order of the texts."""
    kept = read_po(BytesIO(text), locale=language, ignore_obsolete=True)
    kept.update(texts, no_fuzzy_matching=True, update_header_comment=False, update_creation_date=False)
    kept.obsolete.clear()
    out = BytesIO()
    write_po(out, kept, omit_header=True, sort_output=True, include_lineno=False, width=0, ignore_obsolete=True)
    head = HEADER.format(name=str(kept.locale.english_name), language=language, plural=kept.plural_forms)
    return head.encode() + out.getvalue().rstrip() + b"\n"


def told(message: Message) -> bool:
    """Whether a text has its whole translation, with every plural."""
    return all(message.string) if isinstance(message.string, tuple | list) else bool(message.string)


def main() -> None:
    """Write the catalogue of each language."""
    texts = marked()
    for language in languages()[1:]:
        file = FOLDER / language / "page.po"
        made = brought_up(file.read_bytes(), language, texts)
        write_whole(file, made.decode())
        left = sum(not told(one) for one in read_po(BytesIO(made)) if one.id)
        print(f"wrote {file.relative_to(Path(__file__).parents[1])}: {len(texts)} texts, {left} without a translation")


if __name__ == "__main__":
    main()
