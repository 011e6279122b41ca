"""Free values of a design: their bounds, and the way from the search's unit interval to the file's text."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from nestwright.errors import InputError
from nestwright.habitat.values import free_value, get_value
from nestwright.units import KINDS, NUMBER, UnitProblem, format_quantity, from_si, parse_quantity

WINDOW_FORM = "18..26 degC, 30..65 %"
"""Room air to hold in, as it is told."""
_FORM = '"vent.crown.count=4..40" or "heater.mat.power=2 W..12 W"'
DIGITS = 3
"""Of a proposed size: a workshop makes no finer."""
WIDE = 10.0
"""Bounds at least this far apart, as a ratio, are searched by ratio and not by difference."""


@dataclass(frozen=True)
class FreeBounds:
    """A key and the texts of its bounds, not yet held against a design."""

    key: str
    low: str
    high: str


@dataclass(frozen=True)
class Free:
    """A free value of a design; `low` and `high` in SI, or whole numbers."""

    key: str
    kind: str
    unit: str
    low: float
    high: float
    before: str
    before_si: float | None

    @property
    def whole(self) -> bool:
        return self.kind == "count"

    @property
    def _by_ratio(self) -> bool:
        return self.kind not in ("temperature", "position") and self.low > 0 and self.high / self.low >= WIDE

    def text(self, value: float, digits: int = DIGITS) -> str:
        """The file's text of a value in SI, with at most so many digits unless it is a bound itself."""
        value = min(max(value, self.low), self.high)
        if self.whole:
            return str(round(value))
        kind = "length" if self.kind == "layer" else self.kind
        if value in (self.low, self.high):
            return format_quantity(value, kind, self.unit)
        short = f"{float(f'{from_si(KINDS[kind], value, self.unit):.{digits}g}'):.12g} {self.unit}"
        try:
            inside = self.low <= parse_quantity(short, kind) <= self.high
        except UnitProblem:
            inside = False
        return short if inside else format_quantity(value, kind, self.unit)

    def at(self, share: float) -> float:
        """SI value at a share 0 to 1 of the way between the bounds."""
        if share <= 0:
            return self.low
        if share >= 1:
            return self.high
        value = (
            self.low * (self.high / self.low) ** share if self._by_ratio else self.low + share * (self.high - self.low)
        )
        return float(round(value)) if self.whole else value

    def share(self, value: float) -> float:
        """Inverse of `at`, clipped to 0 to 1."""
        value = min(max(value, self.low), self.high)
        if self._by_ratio:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)


def parse_free(text: str) -> FreeBounds:
    """Read "key=low..high". Raises InputError when it is not of this form."""
    key, equals, bounds = text.partition("=")
    low, dots, high = bounds.partition("..")
    if not (key.strip() and equals and dots and low.strip() and high.strip()) or ".." in high:
        raise InputError("cannot be read as a free value", field="--free", found=repr(text[:80]), allowed=_FORM)
    return FreeBounds(key.strip(), low.strip(), high.strip())


def resolve(doc: dict[str, Any], bounds: FreeBounds, file: str = "") -> Free:
    """Hold a free value against a design.

    A lower bound without a unit takes that of the upper ("2..12 W"). Raises InputError for an unknown key (with the
    nearest), a value that is no number, a unit of another kind, or bounds reversed or outside what a file accepts.
    """
    try:
        found = free_value(doc, bounds.key)
    except InputError as e:
        e.file = e.file or file
        raise
    if found.kind == "text":
        raise InputError(
            "is not a single number, so it cannot be free", field=bounds.key, found=found.text or "nothing"
        )
    low_text = bounds.low
    if not found.whole and re.fullmatch(NUMBER, low_text, re.ASCII):
        unit = re.sub(rf"^\s*{NUMBER}\s*", "", bounds.high)
        low_text = f"{low_text} {unit}" if unit else low_text
    low, high = (_bound(bounds.key, found.kind, text) for text in (low_text, bounds.high))
    if low >= high:
        raise InputError(
            "the lower bound is not below the upper",
            field=bounds.key,
            found=f"{bounds.low}..{bounds.high}",
            allowed=_FORM,
        )
    if low < found.low or high > found.high:
        raise InputError(
            "the bounds go beyond what a file accepts", field=bounds.key, found=f"{bounds.low}..{bounds.high}"
        )
    return Free(bounds.key, found.kind, found.unit, low, high, get_value(doc, bounds.key), found.value)


def _bound(key: str, kind: str, text: str) -> float:
    if kind == "count":
        if not re.fullmatch(r"\d{1,7}", text, re.ASCII):
            raise InputError(
                "a count's bound is a whole number", field=key, found=repr(text[:40]), allowed='as "4..40"'
            )
        return float(text)
    try:
        return parse_quantity(text, "length" if kind == "layer" else kind)
    except UnitProblem as problem:
        raise InputError(
            f"a bound {problem.message}" if problem.message.startswith(("is ", "must ")) else problem.message,
            field=key, found=problem.found, allowed=problem.allowed, nearest=problem.nearest,
        ) from None  # fmt: skip


def parse_window(text: str) -> tuple[tuple[float, float], tuple[float, float]]:
    """Bounds of room temperature, K, and of room relative humidity, 0 to 1. Raises InputError."""
    number = r"\s*(-?\d+(?:\.\d+)?)\s*"
    match = re.fullmatch(rf"{number}\.\.{number}(?:degC|°C)\s*,{number}\.\.{number}%\s*", text)
    if match is None:
        raise InputError("is no window of room air", field="--window", found=repr(text), allowed=f'"{WINDOW_FORM}"')
    cold, warm, dry, damp = (float(part) for part in match.groups())
    if not (0 <= cold < warm <= 50 and 1 <= dry < damp <= 100):
        raise InputError(
            "reaches too far or is reversed",
            field="--window",
            found=repr(text),
            allowed="the lower bound first, within 0 to 50 degC and 1 to 100 %",
        )
    return (cold + 273.15, warm + 273.15), (dry / 100, damp / 100)
