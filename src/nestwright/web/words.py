"""The words of the page in the reader's language: gettext catalogues, read as they are written."""

from __future__ import annotations

import gettext
import re
from functools import cache
from pathlib import Path

from nestwright.translations import read_catalogue

__all__ = ["ENGLISH", "FOLDER", "comma_of", "language_names", "languages", "pointed", "preferred", "ungrouped"]
__all__ += ["words_of"]

FOLDER = Path(__file__).parent / "languages"
ENGLISH = "en"
"""The language of the pages themselves."""
_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])", re.ASCII)
_RANGE = re.compile(
    r"\s*(?:([a-zA-Z]{1,8})(?:-[a-zA-Z0-9-]{1,20})?|\*)\s*(?:;\s*q\s*=\s*([01](?:\.\d{0,3})?)\s*)?", re.ASCII
)


@cache
def _file(language: str) -> Path:
    return FOLDER / language / "page.po"


@cache
def languages() -> tuple[str, ...]:
    """Codes of the languages that the page speaks (ISO 639-1): English, then every one that has a catalogue."""
    return (ENGLISH, *sorted(file.parent.name for file in FOLDER.glob("*/page.po") if file.parent.name != ENGLISH))


@cache
def language_names() -> dict[str, str]:
    """Each language by its own name."""
    from babel import Locale

    found = {one: Locale.parse(one).get_language_name(one) or one for one in languages()}
    return {one: name[:1].upper() + name[1:] for one, name in found.items()}


@cache
def words_of(language: str) -> gettext.NullTranslations:
    """The translations of a language; English stands in the pages themselves. A word without one stays English."""
    if language == ENGLISH or language not in languages():
        return gettext.NullTranslations()
    return read_catalogue(_file(language), language)


def preferred(header: str) -> str:
    """The language that a browser asks for first among those that the page speaks (RFC 9110, 12.5.4); else English."""
    best, weight = ENGLISH, 0.0
    for one in header[:400].split(","):
        match = _RANGE.fullmatch(one)
        if match is None or match[1] is None or match[1].lower() not in languages():
            continue
        told = 1.0 if match[2] is None else float(match[2])
        if told > weight:
            best, weight = match[1].lower(), told
    return best


@cache
def comma_of(language: str) -> str:
    """What parts the decimals of a number in a language (CLDR)."""
    if language == ENGLISH:
        return "."
    from babel.numbers import get_decimal_symbol

    return str(get_decimal_symbol(language))


def pointed(text: str, language: str) -> str:
    """What a person typed, with a point for the decimal comma where their language writes a comma: "1,5 mL" to
    "1.5 mL". Where it writes a point, a comma could part thousands: it is left, for the reader of numbers to refuse."""
    return _COMMA.sub(r"\1.\2", text) if comma_of(language) == "," else text


def ungrouped(text: str, language: str) -> str:
    """A sum of money that a person typed, its thousands no longer parted: "1.234,50" to "1234,50" where the language
    writes a decimal comma, else "1,234.50" to "1234.50"."""
    mark = "." if comma_of(language) == "," else ","
    grouped = rf"(?<![\d.,])\d{{1,3}}(?:[{mark}\s]\d{{3}})+(?![\d{mark}])"
    return re.sub(grouped, lambda found: re.sub(r"\D", "", found[0]), text, flags=re.ASCII)
