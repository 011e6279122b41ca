"""Characters that a text of a file may hold: what can be seen, and blanks; nothing that steers the screen.

A name ends up in messages, tables and pictures. One that holds an escape sequence, a line break or a mark that turns
the direction of writing would make them say something else than the file does. Categories are those of Unicode
(Unicode Standard Annex 44, General_Category): Cc control, Cf format, Cs surrogate, Zl and Zp separators.
"""

from __future__ import annotations

import unicodedata

from nestwright.units import UnitProblem

__all__ = ["count_of", "one_line", "several_lines", "visible"]

_UNSEEN = ("Cc", "Cf", "Cs", "Zl", "Zp")
_JOINERS = "\u200c\u200d"
_ALLOWED = "characters that can be seen, and blanks"


def count_of(n: int, one: str, many: str = "") -> str:
    """So many of something: "1 reading", "1,240 readings"; `many` where an s does not make it."""
    return f"{n:,} {one if n == 1 else many or one + 's'}"


def one_line(text: str) -> str:
    """The text itself when every character of it can be seen or is a blank.

    Raises
    ------
    UnitProblem
        Naming the first character that is not, as U+XXXX, and its place in the text.
    """
    return _checked(text, "", _ALLOWED)


def several_lines(text: str) -> str:
    """As `one_line`, but line breaks and tabs are taken too."""
    return _checked(text.replace("\r\n", "\n"), "\n\t", f"{_ALLOWED}, line breaks and tabs")


def visible(text: str, keep: str = "") -> str:
    """A text for the screen, with the characters that cannot be seen written out as U+XXXX, but those of `keep`."""
    return "".join(f"<{_name(c)}>" if _unseen(text, i) and c not in keep else c for i, c in enumerate(text))


def _checked(text: str, also: str, allowed: str) -> str:
    for i, char in enumerate(text):
        if char not in also and _unseen(text, i):
            told = unicodedata.name(char, "").lower()
            found = f"{_name(char)}{f' ({told})' if told else ''} as character {i + 1}"
            raise UnitProblem("has a character that cannot be seen", found, allowed)
    return text


def _name(char: str) -> str:
    return f"U+{ord(char):04X}"


def _unseen(text: str, i: int) -> bool:
    if text[i] in _JOINERS:
        # Persian, scripts of India and joined pictures need them; between Latin letters or at an end they only hide.
        beside = text[max(i - 1, 0) : i] + text[i + 1 : i + 2]
        return len(beside) < 2 or any(c.isascii() or unicodedata.category(c) in _UNSEEN for c in beside)
    return unicodedata.category(text[i]) in _UNSEEN
