"""Which kind of file a person gave, by its keys: one that belongs to another command is told so in one line."""

from __future__ import annotations

from dataclasses import dataclass

from nestwright.document import Document
from nestwright.errors import InputError

__all__ = ["KINDS", "Kind", "check_kind", "kind_of"]


@dataclass(frozen=True)
class Kind:
    """A kind of file: keys that no other kind has, what one looks like, and the commands that take it."""

    keys: frozenset[str]
    looks: str
    commands: tuple[str, ...]


def _kind(keys: str, looks: str, *commands: str) -> Kind:
    return Kind(frozenset(keys.split()), looks, commands)


KINDS = {
    "habitat": _kind(
        "chamber grid garden vent plug passage insulation heater make",
        "format = 1, name, species and [[chamber]]", "climate FILE", "parts FILE",
    ),
    "colony": _kind(
        "start end queen arrival housing visit visits event leaves",
        "format = 1, name, species and start = 2025-11-03", "forecast FILE", "colony add --file FILE",
    ),
    "parcel": _kind(
        "dispatch promised packed_at box filler cup leg", "name, species, dispatch, [box], [cup] and [[leg]]",
        "parcel FILE",
    ),
    "room": _kind(
        "kind set_point day_swing season_swing relative_humidity vapour_pressure humidity_class",
        'format = 1 and kind = "fixed", "swing", "logger" or "weather"', "room FILE", "climate HABITAT --room FILE",
    ),
    "price": _kind(
        "currency stock bought machine_hour labour_hour energy_kWh selling",
        "format = 1, currency, date and [[stock]]", "cost HABITAT --prices FILE",
    ),
    "machine": _kind(
        "machine rules rates", "format = 1 and [[machine]]", "batch HABITAT --machines FILE",
        "cost HABITAT --machines FILE",
    ),
    "live readings": _kind("broker clock topic", "format = 1, [broker] and [[topic]]", "listen FILE"),
}  # fmt: skip
"""Kinds of files that a person writes, by the word that stands before "file"."""


def kind_of(keys: set[str]) -> str:
    """The kind that most of a file's keys speak for, "" where none does."""
    counts = {name: len(kind.keys & keys) for name, kind in KINDS.items()}
    best = max(counts, key=lambda name: counts[name])
    return best if counts[best] else ""


def check_kind(document: Document, wanted: str) -> None:
    """Refuse in one line a file that is empty, or of another kind than is wanted.

    A file with a single key of the wanted kind is of that kind, however wrong it is otherwise.

    Raises
    ------
    InputError
        With what a file of this kind has, and the commands that take the other.
    """
    keys = set(document.tables)
    allowed = f"a {wanted} file has {KINDS[wanted].looks}"
    if not keys:
        raise InputError("is empty", file=document.path, allowed=allowed)
    found = kind_of(keys)
    if found and not KINDS[wanted].keys & keys:
        takes = ", ".join(f"`nestwright {one}`" for one in KINDS[found].commands)
        message = f"this is a {found} file, not a {wanted} file"
        raise InputError(message, file=document.path, allowed=f"{allowed}; a {found} file goes to {takes}")
