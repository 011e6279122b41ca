"""The words, units and plausible ranges by which columns are recognised (data/logger_words.toml)."""

from __future__ import annotations

import functools
import re
import tomllib
import unicodedata
from dataclasses import dataclass
from importlib import resources

__all__ = ["Quantity", "Unit", "Words", "plain", "words"]

_NUMBERED = re.compile(r"(?<=[a-z])\d+(?= |$)")


@dataclass(frozen=True)
class Unit:
    """A unit: value in `into` = (x + shift) * times / per; spellings anywhere, and those that must stand alone."""

    name: str
    into: str
    shift: float
    times: float
    per: float
    spellings: tuple[str, ...]
    alone: tuple[str, ...]


@dataclass(frozen=True)
class Quantity:
    """A measured quantity: canonical unit, plausible range in it, units a column may have, header words."""

    name: str
    canonical: str
    low: float
    high: float
    units: tuple[str, ...]
    spellings: tuple[str, ...]


@dataclass(frozen=True)
class Words:
    """The table, read once."""

    quantities: dict[str, Quantity]
    units: dict[str, Unit]
    time: tuple[str, ...]
    index: tuple[str, ...]
    missing: frozenset[str]
    missing_numbers: tuple[float, ...]

    def quantity_of(self, header: str) -> str:
        """Quantity of a header text, "time", "index", or "" when no word is known.

        The longest word wins; but a dew point or an absolute humidity is one whatever else the header says.
        """
        found, longest = "", 0
        text = plain(header)
        for name in ("dew_point", "absolute_humidity"):
            if any(_has(text, word) for word in self.quantities[name].spellings):
                return name
        for name, quantity in self.quantities.items():
            for word in quantity.spellings:
                if len(word) > longest and _has(text, word):
                    found, longest = name, len(word)
        if not found and self.time_word(header):
            return "time"
        return found or ("index" if text in self.index or (not text.strip("# ") and "#" in header) else "")

    def time_word(self, header: str) -> bool:
        """Whether a header speaks of date or time."""
        text = plain(header)
        return any(_has(text, word) for word in self.time)

    def unit_of(self, header: str, quantity: str) -> str:
        """Unit that a header names for its quantity, or ""."""
        known = self.quantities.get(quantity)
        if known is None:
            return ""
        text = header.lower().replace("_", " ").strip()
        inside = re.findall(r"[\[(<{]\s*([^\])>}]*?)\s*[\])>}]", text)
        last = re.split(r"[\s,;:/|\[(]+", text.rstrip(" ])>}"))[-1]
        # a spelling in brackets or at the end is meant; elsewhere only the long ones count
        best, longest = "", 0
        for name in known.units:
            unit = self.units[name]
            for word in unit.spellings:
                if len(word) > longest and _stands(text, word):
                    best, longest = name, len(word)
            for word in unit.alone:
                if len(word) > longest and (word in inside or word == last):
                    best, longest = name, len(word)
        return best


def plain(text: str) -> str:
    """Small letters without accents; anything but letters and digits becomes one space.

    Examples
    --------
    >>> plain("Température_[°C]")
    'temperature c'
    """
    small = text.lower().replace("ł", "l").replace("ø", "o").replace("æ", "ae").replace("ß", "ss").replace("₂", "2")
    bare = "".join(c for c in unicodedata.normalize("NFKD", small) if not unicodedata.combining(c))
    return " ".join(re.findall(r"[a-z0-9]+", bare))


def _has(text: str, word: str) -> bool:
    if len(word) >= 5 and " " not in word:
        return word in text
    # "T1", "RH 2": a sensor's number behind the word
    return f" {word} " in f" {text} " or f" {word} " in f" {_NUMBERED.sub('', text)} "


def _stands(text: str, word: str) -> bool:
    at = text.find(word)
    while at >= 0:
        before, after = text[at - 1 : at] if at else "", text[at + len(word) : at + len(word) + 1]
        if not ((word[0].isalpha() and before.isalpha()) or (word[-1].isalpha() and after.isalpha())):
            return True
        at = text.find(word, at + 1)
    return False


@functools.cache
def words() -> Words:
    """The table of data/logger_words.toml."""
    raw = tomllib.loads((resources.files("nestwright.data") / "logger_words.toml").read_text("utf-8"))

    def spellings(entry: dict[str, object]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(w for value in entry.values() if isinstance(value, list) for w in value))

    quantities = {
        name: Quantity(
            name,
            entry["canonical"],
            float(entry["low"]),
            float(entry["high"]),
            tuple(raw["allowed"][name]),
            spellings(entry),
        )
        for name in raw["order"]
        for entry in [raw["quantity"][name]]
    }
    units = {
        name: Unit(name, e["into"], e["shift"], e["times"], e["per"], tuple(e["words"]), tuple(e["alone"]))
        for name, e in raw["unit"].items()
    }
    return Words(
        quantities,
        units,
        spellings(raw["time"]),
        tuple(raw["index"]["words"]),
        frozenset(raw["missing"]["words"]),
        tuple(raw["missing"]["numbers"]),
    )
