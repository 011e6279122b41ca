"""What a person types in words of their language, in those of the record, and back: "etwa 60" is "about 60"."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache

from nestwright.web.words import ENGLISH, words_of

__all__ = ["recorded_words", "typed_words"]

_NUMBER = r"\d[\d.,]*"
_AMOUNT = rf"\s*(?:(?:[^\W\d_]+ )?{_NUMBER}(?: [^\W\d_]+ {_NUMBER})?\s*(?:%|fl oz|[^\W\d_]+[23²³]?)?\s+)?"
"""How an event's amount may stand before the colony that gave or received."""


def recorded_words(text: str, language: str, *, event: bool = False) -> str:
    """What was typed, in the record's words where it is in those of the language; else as it is. Each line by itself.
    `event`: it may say who gave or received."""
    if language == ENGLISH:
        return text
    names, shapes, ways = _spelt(language)
    steps = [*shapes, *ways] if event else shapes
    return "\n".join(_turned(one, [(b, a) for a, b in names], [(b, a) for a, b in steps]) for one in text.split("\n"))


def typed_words(text: str, language: str, *, event: bool = False) -> str:
    """A text of the record as it may be typed in the language; as it is where it would not come back the same."""
    if language == ENGLISH:
        return text
    names, shapes, ways = _spelt(language)
    steps = [*shapes, *ways] if event else shapes
    made = "\n".join(_turned(one, names, steps) for one in text.split("\n"))
    return made if recorded_words(made, language, event=event) == text else text


Pairs = list[tuple[str, str]]


@cache
def _spelt(language: str) -> tuple[Pairs, Pairs, Pairs]:
    """Names of what is counted or can happen, shapes of a number, and who gave or received: the record's, and the
    language's."""
    from nestwright.colony.form import EVENTS
    from nestwright.workshop.visits import COUNTED

    _: Callable[[str], str] = words_of(language).gettext
    counted = {"queens": _("queens"), "dead": _("dead"), "none": _("none")}
    names = [(one, counted.get(one) or _(one)) for one in (*EVENTS, *COUNTED, "none")]
    shapes = [("about {number}", _("about {number}")), ("{low} to {high}", _("{low} to {high}"))]
    ways = [("from {other}", _("from {other}")), ("to {other}", _("to {other}"))]
    return names, shapes, ways


def _turned(line: str, names: Pairs, steps: Pairs) -> str:
    """A line with its name and its shapes changed, each from the first of its pair to the second."""
    head, rest = "", line
    for one, other in sorted(names, key=lambda pair: -len(pair[0])):
        if re.match(rf"\s*{re.escape(one)}(?!\w)", line, re.IGNORECASE):
            head, rest = other, line.lstrip()[len(one) :]
            break
    for one, other in steps:
        rest = re.sub(_pattern(one), lambda found, other=other: _filled(other, found), rest)  # type: ignore[misc]
    return head + rest


def _pattern(shape: str) -> str:
    told = re.escape(shape).replace(r"\{", "{").replace(r"\}", "}").replace(r"\ ", r"\s+")
    before = _AMOUNT if "{other}" in shape else r"\s*"
    return rf"^(?P<before>{before})" + re.sub(
        r"\{(\w+)\}", lambda name: rf"(?P<{name[1]}>{'.+' if name[1] == 'other' else _NUMBER})", told
    )


def _filled(shape: str, found: re.Match[str]) -> str:
    return found["before"] + shape.format(**found.groupdict())
