"""Two changes of one text, put together by lines where they do not meet."""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from difflib import SequenceMatcher
from itertools import pairwise
from typing import NamedTuple

__all__ = ["merged", "recalled", "remembered", "sum_of"]

KEPT = 64
"""Texts that are remembered, the last ones seen."""
_seen: OrderedDict[str, str] = OrderedDict()


class _Change(NamedTuple):
    """Lines `start` to `end` of the text before, and what stands in their place."""

    start: int
    end: int
    lines: tuple[str, ...]


def sum_of(text: str) -> str:
    """The sum of a text, by which it is known again."""
    return hashlib.sha256(text.encode()).hexdigest()


def remembered(text: str) -> str:
    """The sum of a text that somebody begins to change, which is remembered for a while."""
    told = sum_of(text)
    _seen[told] = text
    _seen.move_to_end(told)
    while len(_seen) > KEPT:
        _seen.popitem(last=False)
    return told


def recalled(told: str) -> str | None:
    """The text of a sum, None where it is not remembered any more."""
    return _seen.get(told)


def merged(before: str, one: str, other: str) -> str | None:
    """What `one` and `other` both made of the text before: the changes of both, by lines.

    None where both changed the same line, or put something in at the same place, and not alike.
    """
    lines = before.splitlines(keepends=True)
    changes = sorted({*_changes(lines, one), *_changes(lines, other)})
    for first, second in pairwise(changes):
        inserted = first.start == first.end or second.start == second.end
        if second.start < first.end or (inserted and second.start == first.end):
            return None
    for change in reversed(changes):
        lines[change.start : change.end] = change.lines
    return "".join(lines)


def _changes(before: list[str], text: str) -> list[_Change]:
    after = text.splitlines(keepends=True)
    found = SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
    return [_Change(i, j, tuple(after[k:end])) for what, i, j, k, end in found if what != "equal"]
