"""The texts of papers in the reader's language: gettext catalogues beside the code, English in the code itself."""

from __future__ import annotations

import gettext
from functools import cache
from pathlib import Path

from nestwright.errors import InputError, nearest_name
from nestwright.translations import read_catalogue

__all__ = ["FOLDER", "decimal", "languages", "words_of"]

FOLDER = Path(__file__).parent / "languages"


@cache
def languages() -> tuple[str, ...]:
    """Codes of the languages that papers speak (ISO 639-1)."""
    return ("en", *sorted(file.parent.name for file in FOLDER.glob("*/paper.po")))


@cache
def words_of(language: str) -> gettext.NullTranslations:
    """The texts of a language. Raises InputError for one that is not there."""
    if language not in languages():
        raise InputError(
            "no papers in this language", field="--language", found=repr(language[:20]), allowed=", ".join(languages()),
            nearest=nearest_name(language[:20], languages()),
        )  # fmt: skip
    if language == "en":
        return gettext.NullTranslations()
    return read_catalogue(FOLDER / language / "paper.po", language)


def decimal(text: str, language: str) -> str:
    """A figure with the decimal sign of a language (CLDR)."""
    if language == "en":
        return text
    from babel.numbers import get_decimal_symbol

    return text.replace(".", get_decimal_symbol(language))
