"""Refusals in the reader's language: what the layers below say in English of input that cannot be used.

They know of no page. A catalogue beside the page's own has every text that can reach it, with {} for what changes;
`docs/make_fault_words.py` reads them out of the source. What a person typed stays as it was typed.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any

from markupsafe import Markup, escape

from nestwright.errors import FileError, InputError
from nestwright.translations import read_catalogue
from nestwright.web.sentences import retold
from nestwright.web.shown import Shown
from nestwright.web.words import ENGLISH, FOLDER, words_of

__all__ = ["CATALOGUE", "FIELD", "faults_of", "field_named", "refused", "refused_said", "rows_in"]

CATALOGUE = "faults.po"
FIELD = "field"
"""Context of the names of fields."""
_SAID = ("message", "found", "allowed")
"""Parts of a fault that are told in a language; the others are names and places."""
_LONG = 2000
_NAMED = re.compile(r"'[^']*'|\"[^\"]*\"|`[^`]*`|\S*[._/\d]\S*")
"""In quotes, or a name of a file or a key."""
_TELLS = re.compile(
    r"\b(?:a|an|and|are|as|at|be|by|for|from|has|in|is|it|its|no|not|of|on|or|than|that|the|this|to|was|with)\b"
)
"""A word that only a sentence has, and no name."""
_PLACE = re.compile(r"\{(\d?)\}")
_MEASURED = re.compile(
    r"(?<![\w.,'\"-])\d+\.\d+(?=(?: \S+ [\d.,]+)? (?:mm|cm|m|mL|L|g|kg|%|K|°C|degC|W|h)(?![\w'\"]))", re.ASCII
)
"""A figure of the program's own, as no person typed it in quotes, with its unit behind it or behind its other end."""


@dataclass(frozen=True)
class _Form:
    """A text with something that changes: what stands between, and how the language says it."""

    between: tuple[str, ...]
    says: str


@cache
def _whole(language: str) -> dict[str, str]:
    return {one: says for one, says in _texts(language).items() if "{}" not in one}


@cache
def _forms(language: str) -> tuple[_Form, ...]:
    """Those with most words of their own first."""
    made = [_Form(tuple(one.split("{}")), says) for one, says in _texts(language).items() if "{}" in one]
    return tuple(sorted(made, key=lambda one: -sum(map(len, one.between))))


@cache
def _texts(language: str) -> dict[str, str]:
    """Each text and how the language says it; the names of fields stand there with their context."""
    file = FOLDER / language / CATALOGUE
    if language == ENGLISH or not file.is_file():
        return {}
    catalogue = getattr(read_catalogue(file, language), "_catalog", {})
    return {str(one): str(says) for one, says in catalogue.items() if one and says}


def refused(text: object, show: Shown) -> str | None:
    """A text of a refusal in the reader's language; None where it is not known."""
    plain = str(text)
    if show.choice.language == ENGLISH or len(plain) > _LONG:
        return plain
    return _told(plain, show)


def refused_said(text: object, show: Shown) -> Markup:
    """The same for a page, or all of an error: as it is, and marked as English, where it is not known."""
    told = _error_told(text, show) if isinstance(text, InputError) else refused(text, show)
    if told is None:
        return Markup('<span lang="en">{}</span>').format(str(text))
    return escape(told)


def _error_told(error: InputError, show: Shown) -> str | None:
    """All of an error in the reader's language; None where a part of it is not known."""
    rows = faults_of(error)
    if any(refused(row[part], show) is None for row in rows for part in _SAID if row[part]):
        return None
    return "; ".join(row["text"] for row in rows_in(rows, show))


def field_named(name: str, show: Shown) -> str:
    """A field as a person calls it: by its key in English, by its label in other languages. A row has its number."""
    key, blank, row = name.rpartition(" ") if name[-1:].isdecimal() else (name, "", "")
    known = _texts(show.choice.language).get(f"{FIELD}\x04{key}")
    return name if known is None else f"{known}{blank}{row}"


def faults_of(error: InputError | FileError) -> list[dict[str, Any]]:
    """What is wrong, as the pages and the JSON show it: message, line, field, found, allowed, nearest."""
    all_of: Iterable[Any] = getattr(error, "errors", None) or [error]
    names = ("message", "file", "line", "field", "found", "allowed", "nearest")
    told = []
    for one in all_of:
        row = {name: getattr(one, name, None) or "" for name in names} | {"text": str(one)}
        field = str(row["field"])
        if field.startswith("--"):  # a page has fields, not options
            row |= {"field": field[2:], "text": row["text"].replace(field, field[2:], 1)}
        told.append(row)
    return told


def rows_in(faults: Iterable[dict[str, Any]], show: Shown) -> list[dict[str, Any]]:
    """The faults of `faults_of` for a script that shows them: each text in the reader's language."""
    if show.choice.language == ENGLISH:
        return list(faults)
    told = []
    for one in faults:
        parts = {key: refused(one[key], show) or one[key] for key in _SAID}
        told.append(one | parts | {"text": _line(one | parts, show)})
    return told


def _line(one: dict[str, Any], show: Shown) -> str:
    """A fault in one line, as `InputError` has it."""
    _ = words_of(show.choice.language).gettext
    place = f"{one['file']}:{one['line']}" if one["file"] and one["line"] else one["file"]
    said = ["".join(f"{part}: " for part in (place, field_named(one["field"], show)) if part) + one["message"]]
    if one["found"]:
        said.append(_("found") + f" {one['found']}")
    if one["allowed"]:
        said.append(_("allowed") + f": {one['allowed']}")
    if one["nearest"]:
        said.append(_("did you mean “{}”?").format(one["nearest"]))
    return "; ".join(said)


@lru_cache(maxsize=1024)
def _told(text: str, show: Shown) -> str | None:
    language = show.choice.language
    whole = _whole(language).get(text)
    if whole is not None:
        return whole
    if _own(text) or (", " in text and " " not in text.replace(", ", "")):  # in quotes, or a list of keys or units
        return text
    for form in _forms(language):
        parts = _parts(text, form.between)
        if parts is not None and (made := _made(form.says, parts, show)) is not None:
            return made
    said = retold(text, show)
    if said != text:
        return said
    for mark in ("; ", ": ", ", "):
        if mark in text:
            told = [_told(one, show) for one in text.split(mark)]
            if None not in told:
                return mark.join(one for one in told if one is not None)
    # a list of names, or the name of one
    return text if not _TELLS.search(_NAMED.sub("", text)) else None


def _own(text: str) -> bool:
    """Whether a text is what a person typed, in quotes, or has no word at all."""
    quoted = len(text) > 1 and text[0] == text[-1] and text[0] in "'\""
    return (quoted and text[0] not in text[1:-1]) or not re.search("[A-Za-z]{2}", text)


def _parts(text: str, between: tuple[str, ...]) -> list[str] | None:
    """What stands in the places of a text with something that changes; None where it is not this one. Each reaches no
    further than it must, so that no text takes long."""
    first, *middle, last = between
    if not text.startswith(first) or not text.endswith(last) or len(text) < len(first) + len(last):
        return None
    at, end, found = len(first), len(text) - len(last), []
    for one in middle:
        place = text.find(one, at, end)
        if place < 0:
            return None
        found.append(text[at:place])
        at = place + len(one)
    return [*found, text[at:end]]


def _made(says: str, parts: list[str], show: Shown) -> str | None:
    """The text with what changes in it; {2} is the second of what changes. None where one of them is not known."""
    told = [_told(one, show) if one else one for one in parts]
    if None in told:
        return None
    left = iter(range(len(told)))
    made = _PLACE.sub(lambda found: str(told[int(found[1]) - 1 if found[1] else next(left)]), says)
    return _MEASURED.sub(lambda found: show.figures(found[0]), made)
