"""The page in other languages: every text has its translation, none stands bare, and a German page is German."""

from __future__ import annotations

import ast
import importlib.util
import re
from collections import Counter
from collections.abc import Callable
from datetime import date
from html.parser import HTMLParser
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from urllib.request import Request, urlopen
from zoneinfo import ZoneInfo

import pytest
from babel.messages.pofile import read_po
from jinja2 import nodes
from tests.web.conftest import opened

from nestwright.web.preferences import Preferences
from nestwright.web.shown import Shown
from nestwright.web.words import FOLDER, comma_of, languages, pointed, preferred, ungrouped

ROOT = Path(__file__).parents[2]
WEB = FOLDER.parent
OTHERS = languages()[1:]
SAME = re.compile(r"\{[^{}]*\}|%\(\w+\)[a-z]|%%|<[^>]+>")
"""Placeholders and markup."""
UNITS = frozenset(
    ["degC", "mL", "mm", "min", "ppm", "RH", "CO", "CO2", "O2", "SHA", "toml", "nestwright", "JSON", "SVG", "PDF"]
)
"""What is the same in every language: units, signs of quantities, names of formats and of the program."""


def maker() -> Any:
    spec = importlib.util.spec_from_file_location("make_words", ROOT / "docs/make_words.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def words() -> Any:
    return maker()


def catalogue(language: str) -> Any:
    with (FOLDER / language / "page.po").open("rb") as stream:
        return read_po(stream, locale=language)


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalogue_is_what_the_extraction_writes_and_is_whole(words: Any, language: str) -> None:
    file = FOLDER / language / "page.po"
    texts = words.marked()
    assert words.brought_up(file.read_bytes(), language, texts) == file.read_bytes(), "run `python docs/make_words.py`"
    wanting = [one.id for one in catalogue(language) if one.id and (one.fuzzy or not words.told(one))]
    assert not wanting, f"without a translation in {file.relative_to(ROOT)}: {wanting}"
    # a translation stays, what is no longer used goes, what is new waits for its translation
    cut = file.read_text("utf-8").replace('msgid "Today"', 'msgid "Of no page"')
    again = words.brought_up(cut.encode(), language, texts).decode()
    assert 'msgid "Of no page"' not in again
    assert 'msgid "Today"\nmsgstr ""\n' in again
    assert 'msgid "Settings"\nmsgstr ""\n' not in again


def test_no_text_is_marked_inside_an_f_string() -> None:
    # before Python 3.12 the extraction does not see it there
    inside = [
        f"{file.name}:{call.lineno}"
        for file in sorted(WEB.rglob("*.py"))
        for text in ast.walk(ast.parse(file.read_text("utf-8")))
        if isinstance(text, ast.JoinedStr)
        for call in ast.walk(text)
        if isinstance(call, ast.Call) and getattr(call.func, "id", getattr(call.func, "attr", "")) in ("_", "gettext")
        if isinstance(call.args[0], ast.Constant)
    ]
    assert not inside


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_placeholders_and_the_markup_of_its_text(language: str) -> None:
    wrong = []
    for one in catalogue(language):
        ids = one.id if one.pluralizable else [one.id]
        strings = one.string if one.pluralizable else [one.string]
        for place, said in enumerate(strings if one.id and all(strings) else []):
            if Counter(SAME.findall(said)) != Counter(SAME.findall(ids[min(place, len(ids) - 1)])):
                wrong.append(said)
            # jinja's gettext reads a lone per cent sign as the beginning of a placeholder, and fails on the page;
            # clauses do not go through it
            of_page = any(where != "languages/clauses.txt" for where, _ in one.locations)
            if of_page and any("%" in SAME.sub("", text) for text in (said, *ids)):
                wrong.append(f"lone %: {said}")
    assert not wrong


def test_german_quotes_are_low_and_high() -> None:
    # DIN 5008: „…“
    for one in catalogue("de"):
        text = " ".join(one.string) if one.pluralizable else one.string
        if one.id:
            assert text.count("„") == text.count("“"), text
            # what a shell is told has its own
            assert not set(text.replace("pip install '{}'", "")) & set("”\"'"), text


def test_german_keeps_to_its_glossary() -> None:
    page = (ROOT / "docs/guide/translating.md").read_text("utf-8")
    rows = re.findall(r"^\| ([a-z][a-z ]+) \| (\w+) \|([^|]*)\|", page, re.M)
    terms = {word: [said, *also.replace(",", " ").split()] for word, said, also in rows}
    assert len(terms) > 15
    wrong = []
    for one in catalogue("de"):
        if not one.id or not one.string:
            continue
        texts = [one.id] if isinstance(one.id, str) else list(one.id)
        told = " ".join([one.string] if isinstance(one.string, str) else one.string).casefold()
        # what a person types stays English, as do commands and names of files
        plain = re.sub(r"nestwright .*|docs/\S+|folders? \w+|garden added .*", "", " ".join(texts).casefold())
        for word, said in terms.items():
            if re.search(rf"\b{word}s?\b", plain) and not any(one.casefold()[:4] in told for one in said):
                wrong.append(f"{word}: {texts[0]} = {told}")
    assert not wrong, "\n".join(wrong)


class Bare(HTMLParser):
    """Text for people that stands in the HTML itself, outside elements of code."""

    CODE = frozenset({"code", "kbd", "pre", "script", "style"})
    SAID = frozenset({"alt", "title", "placeholder", "aria-label"})

    def __init__(self) -> None:
        super().__init__()
        self.within: list[str] = []
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        # what is marked as English is a sentence of the computation
        aside = tag in self.CODE or ("lang", "en") in attrs
        self.within = [*self.within, tag] if aside or tag in self.within else self.within
        for name, value in attrs:
            if name in self.SAID or (name.startswith("data-") and " " in (value or "")):
                self._look(value or "")

    def handle_endtag(self, tag: str) -> None:
        if self.within and self.within[-1] == tag:
            self.within = self.within[:-1]

    def handle_data(self, data: str) -> None:
        if not self.within:
            self._look(data)

    def _look(self, text: str) -> None:
        self.found += [one for one in re.findall(r"[^\W\d_][\w-]+|[“”„]", text) if one.split("-")[0] not in UNITS]


def test_no_template_has_a_text_of_its_own(words: Any) -> None:
    env, wrong = words.environment(), []
    for file in sorted(words.TEMPLATES.glob("*.html")):
        source = file.read_text("utf-8")
        bare, depth = Bare(), 0
        # a class of the body, part of an address
        plain = re.sub(r"{% block kind %}\w*{% endblock %}|{% set \w+ %}\w+=.*?{% endset %}", "", source, flags=re.S)
        for _, kind, text in env.lex(plain):
            if kind in ("variable_begin", "block_begin", "comment_begin"):
                depth += 1
            elif kind in ("variable_end", "block_end", "comment_end"):
                depth -= 1
            bare.feed(text if kind == "data" and not depth else "")
        bare.close()
        wrong += [f"{file.name}: {one}" for one in bare.found]
        wrong += [f"{file.name}: {one!r}" for one in loose(env.parse(source))]
        wrong += [f"{file.name}: _({one}) is not in make_words.VARIABLES" for one in words.variable_texts(file.name)
                  if (file.name, one) not in words.VARIABLES]  # fmt: skip
    assert not wrong, "\n".join(wrong)


def loose(node: nodes.Node, marked: bool = False) -> list[str]:
    """Texts of several words in expressions of a template that nothing translates."""
    if isinstance(node, nodes.Call) and isinstance(node.node, nodes.Name):
        marked = marked or node.node.name in ("_", "ngettext", "asset")
    if isinstance(node, nodes.Const) and isinstance(node.value, str) and not marked:
        plain = re.search(r"[A-Za-z]{2,} [A-Za-z]{2,}", node.value) and "=" not in node.value
        return [node.value] if plain else []
    if isinstance(node, nodes.Compare):
        return []
    return [one for child in node.iter_child_nodes() for one in loose(child, marked)]


LITERAL = re.compile(r"""//[^\n]*|/\*.*?\*/|"((?:[^"\\\n]|\\.)*)"|'((?:[^'\\\n]|\\.)*)'|`((?:[^`\\]|\\.)*)`""", re.S)
TELLS = re.compile(r"[A-Za-z]{2,},? [a-z]{2,}")
CODE = re.compile(
    r"(?:querySelector(?:All)?\(|closest\(|matches(?:\?\.)?\(|className(?:: | = )|class: |font = |Error\()$"
)
"""What stands before a text of several words that is none for people: selectors, classes, fonts, faults of a script."""


def test_scripts_have_their_words_from_the_page() -> None:
    # they stand in data attributes, translated; what an Error says is for who mends the program
    wrong = []
    for file in sorted((WEB / "static").glob("*.js")):
        source = file.read_text("utf-8")
        for found in LITERAL.finditer(source):
            text = next((part for part in found.groups() if part is not None), "")
            before = source[max(0, found.start() - 24) : found.start()]
            plain = re.sub(r"\$\{[^}]*\}|<[^>]*>", " ", text)
            plain = "" if re.match(r"[\d.]+px |#version |[a-z-]+\(", plain) else plain  # a font, a shader, a style
            if TELLS.search(plain) and not CODE.search(before):
                wrong.append(f"{file.name}: {text[:80]}")
            if re.search(r"(textContent|title|ariaLabel|placeholder) = $", before) and re.search(r"[A-Za-z]{2}", plain):
                wrong.append(f"{file.name}: {text[:80]}")
    assert not wrong, "\n".join(wrong)


def test_numbers_and_days_are_set_as_the_language_sets_them() -> None:
    # DIN 5008 and CLDR (de): comma between units and tenths, days as 26. November 2026; SI 9th edition: symbols stay
    german = Shown(Preferences(language="de"), ZoneInfo("Europe/Berlin"), date(2026, 11, 26))
    english = Shown(Preferences(), ZoneInfo("Europe/Berlin"), date(2026, 11, 26))
    moment = 1_795_694_400_000  # 2026-11-26 12:00 UTC
    assert german.day("2026-11-26") == "26. November 2026"
    assert german.weekday(date(2026, 11, 26)) == "Donnerstag"
    assert german.moment(moment) == "26.11.2026, 13:00"
    assert english.moment(moment) == "2026-11-26 13:00"
    assert [german.temperature(24.25, 2), german.volume(1.5), german.percent(7.5)] == ["24,25 °C", "1,5 mL", "7,5 %"]
    assert german.figures("4.5 (2.1 to 8) mL") == "4,5 (2,1 bis 8) mL"
    assert english.figures("4.5 (2.1 to 8) mL") == "4.5 (2.1 to 8) mL"
    for shown in (german, english):
        for told in ("1.5", "12", "40.5 cm2", "about 60"):
            assert pointed(shown.entry(told), shown.choice.language) == told
    assert [pointed(x, "de") for x in ("1,5 mL", "1.5", "50 to 80", "1,2,3")] == ["1.5 mL", "1.5", "50 to 80", "1,2,3"]
    assert pointed("1,500", "en") == "1,500"
    assert [ungrouped(x, "de") for x in ("1.234,50 EUR", "1.234 EUR", "89.50 USD", "12,50 EUR")] == [
        "1234,50 EUR", "1234 EUR", "89.50 USD", "12,50 EUR",
    ]  # fmt: skip
    assert [ungrouped(x, "en") for x in ("1,234.50 EUR", "1,234,567 EUR", "12,50 EUR")] == [
        "1234.50 EUR", "1234567 EUR", "12,50 EUR",
    ]  # fmt: skip
    assert comma_of("de") == ","


def test_the_language_a_browser_asks_for_first_is_taken() -> None:
    # RFC 9110, 12.4.2 and 12.5.4: the highest weight wins, 0 is "not acceptable"
    asked = {"de": "de", "de-AT,de;q=0.9,en;q=0.8": "de", "en-GB,de;q=0.5": "en", "en;q=0.4, de;q=0.7": "de",
             "fr, de;q=0.1": "de", "de;q=0": "en", "*": "en", "": "en", "deu": "en", ";;,q=": "en"}  # fmt: skip
    assert {header: preferred(header) for header in asked} == asked


def fetched(address: str, **headers: str) -> str:
    with urlopen(Request(address, headers={k.replace("_", "-"): v for k, v in headers.items()}), timeout=20) as answer:
        return str(answer.read().decode())


def test_a_first_visit_is_in_the_browsers_language_and_the_setting_wins(pages: str) -> None:
    first = fetched(pages + "/settings", accept_language="de-DE,de;q=0.9,en;q=0.5")
    assert '<html lang="de"' in first
    assert "Sprache" in first
    chosen = fetched(pages + "/settings", accept_language="de", cookie="nw-shown=en.degC.metric.auto")
    assert '<html lang="en"' in chosen
    assert "Sätze" not in chosen


PLACES = ("/", "/visit", "/visit/Marigold", "/habitats", "/habitats/single-pot", "/colonies/Marigold", "/builds/P-001",
          "/settings", "/history", "/colonies/-new", "/pair", "/parcels")  # fmt: skip


def test_a_german_page_is_german_fits_a_phone_and_is_accessible(
    browser: Any, pages: str, unmet: Callable[[Any], list[str]]
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, bypass_csp=True, reduced_motion="reduce")
    page = context.new_page()
    page.goto(pages + "/settings")
    page.get_by_label("Deutsch").check()
    page.get_by_role("button", name="Keep").click()
    assert page.locator("h1").inner_text() == "Einstellungen"
    heads, found = [], []
    for place in PLACES:
        opened(page, pages + place)
        heads.append(page.locator("h1").first.inner_text())
        if page.locator("html").get_attribute("lang") != "de":
            found.append(f"{place}: not marked as German")
        found += [f"{place}: {one}" for one in unmet(page)]
    context.close()
    assert not found, "\n".join(found)
    assert {"Heute", "Besuch", "Anlagen", "Verlauf", "Bau P-001", "Dieses Gerät koppeln"} <= set(heads)


def test_a_german_device_may_write_a_decimal_comma(served: str, phone: Any) -> None:
    phone.context.add_cookies([{"name": "nw-shown", "value": "de.degC.metric.auto", "url": served}])
    phone.goto(f"{served}/visit/Marigold")
    field = phone.locator("#f-fill")
    field.fill("62,5")
    phone.locator("[data-more=fill]").click()
    assert field.input_value() == "67,5"
    phone.get_by_role("button", name="Besuch eintragen").click()
    phone.get_by_role("link", name="Berichtigen").click()
    assert phone.locator("#f-fill").input_value() == "67,5"
    told = {"usable": "312,5 mL", "day": "2026-03-01", "called": "1,5-fach"}
    headers = {"cookie": "nw-shown=de.degC.metric.auto", "origin": served, "sec-fetch-site": "same-origin"}
    request = Request(f"{served}/colonies/Marigold/bell", urlencode(told).encode(), headers)
    with urlopen(request, timeout=20) as answer:
        page = answer.read().decode()
    assert "312,5 mL" in page
    assert "1,5-fach" in page
