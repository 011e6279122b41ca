"""Names of parts as the page tells them: "pot wall" is the wall of the chamber that its keeper calls pot."""

from __future__ import annotations

import re

from nestwright.web.shown import Shown
from nestwright.web.words import ENGLISH, words_of

__all__ = ["part_named", "parts_named_in"]


def part_named(name: str, show: Shown) -> str:
    """A part, or a joint of two ("pot lid on pot wall"), in the reader's language; the keeper's own names stay."""
    if show.choice.language == ENGLISH:
        return name
    upper, on, lower = name.partition(" on ")
    if on:
        _ = words_of(show.choice.language).gettext
        return _("{} on {}").format(part_named(upper, show), part_named(lower, show))
    for kind, told in _kinds(show.choice.language):
        found = re.fullmatch(rf"(.+) {kind}((?: \d+)?)", name)
        if found:
            return told.format(found[1]) + found[2]
    return name


def parts_named_in(text: str, names: tuple[str, ...], show: Shown) -> str:
    """A sentence with the parts that it names in the reader's language."""
    if show.choice.language == ENGLISH:
        return text
    known = sorted((one for one in names if " " in one), key=len, reverse=True)
    if not known:
        return text
    one = "|".join(re.escape(name) for name in known)
    return re.sub(rf"(?<!\w)(?:{one})(?: on (?:{one}))?(?!\w)", lambda found: part_named(found[0], show), text)


def _kinds(language: str) -> tuple[tuple[str, str], ...]:
    """The word that a part's name ends with, the longer first, and how the language says it of what stands before."""
    _ = words_of(language).gettext
    return (
        ("bell top", _("{} bell top")),
        ("bell", _("{} bell")),
        ("base", _("{} base")),
        ("cover", _("{} cover")),
        ("frame", _("{} frame")),
        ("grid", _("{} grid")),
        ("heater", _("{} heater")),
        ("holder", _("{} holder")),
        ("lid", _("{} lid")),
        ("mesh", _("{} mesh")),
        ("mould", _("{} mould")),
        ("plug", _("{} plug")),
        ("seat", _("{} seat")),
        ("sensor", _("{} sensor")),
        ("stand", _("{} stand")),
        ("tape", _("{} tape")),
        ("tube", _("{} tube")),
        ("underlay", _("{} underlay")),
        ("wall", _("{} wall")),
        ("wrapping", _("{} wrapping")),
    )
