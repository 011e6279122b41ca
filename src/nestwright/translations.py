"""A gettext catalogue read as it is written, with no compiled copy to keep."""

from __future__ import annotations

import gettext
from io import BytesIO
from pathlib import Path

__all__ = ["read_catalogue"]


def read_catalogue(file: Path, language: str) -> gettext.NullTranslations:
    """The translations of a catalogue; a text without one stays as it is."""
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with file.open("rb") as stream:
        catalogue = read_po(stream, locale=language)
    compiled = BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)
