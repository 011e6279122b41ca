"""The words of the page in the reader's language: gettext catalogues, read as they are written."""

from __future__ import annotations

import gettext
from functools import cache
from io import BytesIO
from pathlib import Path

__all__ = ["FOLDER", "words_of"]

FOLDER = Path(__file__).parent / "languages"


@cache
def words_of(language: str) -> gettext.NullTranslations:
    """The translations of a language; English stands in the pages themselves. A word without one stays English."""
    file = FOLDER / f"{language}.po"
    if language == "en" or not file.is_file():
        return gettext.NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with file.open("rb") as stream:
        catalogue = read_po(stream, locale=language)
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)
