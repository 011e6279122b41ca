"""What the program says in English, clause by clause, in the reader's language.

The record keeps its sentences as they were written, and the commands' own modules tell results in words; a page knows
the clauses that both are made of (`languages/clauses.txt`) and says them anew. A sentence with a clause that is not
known stays as it is: half a sentence in each language is worse than either.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from functools import cache, lru_cache

from markupsafe import Markup, escape

from nestwright.web.shown import Shown
from nestwright.web.told_units import in_units
from nestwright.web.typeset import typeset
from nestwright.web.words import ENGLISH, FOLDER, words_of

__all__ = ["clauses", "retold", "said", "said_all", "said_each"]

_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")
_MONTH_DAY = re.compile(r"(?<=[( ])(\d\d)-(\d\d)(?=[) ,]|$)")
_CALLED = re.compile(
    r"\b(?:(Mon|Tue|Wed|Thu|Fri|Sat|Sun) )?(\d{1,2}) (Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b(?: (\d{4}))?"
)
_WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_FIGURE = re.compile(r"(?:over |under |about |not certainly |more than |\(?[±<+~−-]? ?\d)")
_TELLS = re.compile(r"\b(?:a|and|are|be|by|for|has|is|it|no|not|the|this|with)\b")
"""A word that only a sentence has, and no name of a colony, a chamber or a logger."""
_PLACE = re.compile(r"('?)\{([nm]?)\}'?")
_DATIVE = re.compile(r"\b((?:binnen|in|nach|seit|vor|von) (?:\d[\d.,]* bis |mehr als )?\d[\d.,]* )Tage\b")
_KEPT = re.compile(r"(?:garden|leaves|given|waste)\b", re.IGNORECASE)
"""How the record's own clauses with a measure begin; a keeper's note stays as it was typed."""
_LONG = 2000
"""Characters beyond which nothing is looked for: no sentence of the program's is so long."""


@cache
def clauses() -> tuple[str, ...]:
    """The clauses that a page can say in another language: what changes in each as {}, a figure as {n} or {m}."""
    lines = (FOLDER / "clauses.txt").read_text("utf-8").splitlines()
    return tuple(one for one in lines if one and not one.startswith("#"))


@cache
def _whole() -> frozenset[str]:
    return frozenset(one for one in clauses() if "{" not in one)


@dataclass(frozen=True)
class _Form:
    """A clause with something that changes."""

    clause: str
    pattern: re.Pattern[str]
    names: tuple[str, ...]
    """Of each place: "" for whatever stands there, "'" for a name in quotes, else the name of a figure."""


@cache
def _forms() -> tuple[_Form, ...]:
    """The clauses with something that changes, those with most words of their own first. What changes does not reach
    over the end of a clause."""
    changing = sorted((one for one in clauses() if "{" in one), key=lambda one: -len(_PLACE.sub("", one)))
    return tuple(_Form(one, _pattern(one), _names(one)) for one in changing)


def _pattern(clause: str) -> re.Pattern[str]:
    plain = (re.escape(one) for one in re.split(r"\{[nm]?\}", clause))
    return re.compile(r"((?:(?!; |\. ).)+?)".join(plain))


def _names(clause: str) -> tuple[str, ...]:
    return tuple(found[1] or found[2] for found in _PLACE.finditer(clause))


def retold(text: object, show: Shown, *, brief: bool = False) -> str:
    """A text in the reader's language where it is made of known clauses, else as it is. `brief`: for a table."""
    plain = str(text)
    told = _told(plain, replace(show, brief=True) if brief else show)
    return plain if told is None else told


def said(text: object, show: Shown, *, capital: bool = False, typed: bool = False) -> Markup:
    """A sentence in the reader's language; as it is, and marked as English, where it is not made of known clauses.
    `capital`: with a large first letter. `typed`: what a person may copy into a field stays as it is typed."""
    plain = str(text) if typed else in_units(str(text), show)
    told = _told(plain, show)
    words = plain if told is None else told
    if capital:
        words = words[:1].upper() + words[1:]
    english = show.choice.language != ENGLISH and told is None and re.search("[A-Za-z]{2}", words)
    words = words if typed else typeset(words)
    return Markup('<span lang="en">{}</span>').format(words) if english else escape(words)


def said_each(text: object, show: Shown) -> Markup:
    """What stands in a line, clause by clause; a note of the keeper's own stays among them as it is."""
    parts = [in_units(one, show) if _KEPT.match(one) else one for one in str(text).split("; ")]
    return escape(typeset("; ".join(retold(one, show) for one in parts)))


def said_all(texts: Iterable[object], show: Shown) -> Markup:
    """Several of them, with commas between."""
    return Markup(", ").join(said(one, show) for one in texts)


def _told(text: str, show: Shown) -> str | None:
    if show.choice.language == ENGLISH or not text or len(text) > _LONG:
        return None
    told = _known(text, show)
    if told is not None and show.choice.language == "de":
        # "vor 3 Tagen": of the words that stand beside a number only this one has a dative of its own
        told = re.sub(
            r"\b((?:binnen|in|nach|seit|vor|von) (?:\d[\d.,]* bis |mehr als )?\d[\d.,]* )Tage\b", r"\1Tagen", told
        )
    return told


@lru_cache(maxsize=4096)
def _known(text: str, show: Shown) -> str | None:
    """All of a text or nothing: as one clause, else sentence by sentence, clause by clause, item by item."""
    end = text[-1:] if text[-1:] in ".:?" else ""
    bare = text[: len(text) - len(end)]
    for one in dict.fromkeys((text, bare, f"{bare}.")):  # a sentence, and one that was cut out of several
        found = _clause(show, one)
        if found is not None:
            return found if one == text else found + end if one == bare else found.removesuffix(".") + end
    for mark in (". ", "; ", ": ", ", "):
        parts = text.split(mark, 1 if mark == ": " else -1)
        if len(parts) > 1:
            told = [_known(one, show) for one in parts]
            if mark == ": " and told[0] is None and len(parts[0]) < 80 and not _TELLS.search(parts[0]):
                told[0] = parts[0]  # what the sentence is about: a name
            if None not in told:
                return mark.join(one for one in told if one is not None)
    figures = _FIGURE.match(text) or _CALLED.match(text)
    return _figures(show, text) if figures and not re.search("[a-z]{6}", text) else None


def _clause(show: Shown, text: str) -> str | None:
    """One clause; with a large letter where it begins with one that the clause has small."""
    _ = words_of(show.choice.language).gettext
    forms = dict.fromkeys((text, text[:1].lower() + text[1:]))
    for one in forms:
        if one in _whole():
            return _(one) if one == text else _raised(_(one))
    for one in forms:
        for form in _forms():
            match = form.pattern.fullmatch(one)
            if match and (made := _made(show, form, match.groups())) is not None:
                return made if one == text else _raised(made)
    return None


def _made(show: Shown, form: _Form, parts: tuple[str, ...]) -> str | None:
    """A clause with what changes in it; None where a word stands in the place of a figure, or it has no translation."""
    told = words_of(show.choice.language).gettext(form.clause)
    if told == form.clause:
        return None
    free, named = [], {}
    for name, part in zip(form.names, parts, strict=True):
        if name in ("n", "m"):
            if not _FIGURE.match(part):
                return None
            named[name] = _part(show, part)
        elif name == "'":
            free.append(retold(part, show) if part in _whole() else part)
        else:
            free.append(_part(show, part))
    return told.format(*free, **named)


def _raised(text: str) -> str:
    return text[:1].upper() + text[1:]


def _part(show: Shown, text: str) -> str:
    """What changes in a clause: a figure with its range, a day, clauses that are known, or a name, which stays."""
    known = _known(text, show)
    if known is not None:
        return known
    return _figures(show, text) if _FIGURE.match(text) or _CALLED.match(text) else text


def _figures(show: Shown, text: str) -> str:
    """Figures, days and spans as the language sets them."""
    _ = words_of(show.choice.language).gettext
    beyond = "not certainly within the days looked at"
    days = _DAY.findall(text)
    plain = _DAY.sub("\0", text.replace(beyond, _(beyond)))
    short = [show.short_day(int(a), int(b)) for a, b in _MONTH_DAY.findall(plain)] if days else []
    plain = _MONTH_DAY.sub("\1", plain) if days else plain
    called = [
        _weekday(show, found[1]) + show.called_day(_of(found), bool(found[4])) for found in _CALLED.finditer(plain)
    ]
    plain = _CALLED.sub("\2", plain)
    for word, told in (
        ("1 day", _("1 day")), ("days", _("days")), ("weeks", _("weeks")), ("over", _("over")), ("later", _("later")),
        ("about", _("about")), ("more than", _("more than")), ("and", _("and")), ("past", _("past")),
    ):  # fmt: skip
        plain = re.sub(rf"\b{word}\b", lambda _found, told=told: told, plain)  # type: ignore[misc]
    plain = show.figures(plain)
    for sign, tells in (("\0", [show.day(one) for one in days]), ("\1", short), ("\2", called)):
        for one in tells:
            plain = plain.replace(sign, one, 1)
    return plain


def _of(found: re.Match[str]) -> date:
    return date(int(found[4] or 2000), _MONTHS.index(found[3]) + 1, int(found[2]))


def _weekday(show: Shown, told: str | None) -> str:
    """The day of the week that stands before a day: "Mo. "."""
    if not told:
        return ""
    from babel.dates import get_day_names

    return f"{get_day_names('abbreviated', locale=show.choice.language)[_WEEK.index(told)]} "
