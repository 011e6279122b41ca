"""Figures of the program's English sentences in the units of a reader: "18 to 32 degC" as "64 to 90 °F"."""

from __future__ import annotations

import re
from collections.abc import Callable

from nestwright.web.shown import FLUID_OUNCE, OUNCE, Shown
from nestwright.wording.figures import significant

__all__ = ["in_units"]

_NUMBER = r"[-+\u2212]?\d+(?:\.\d+)?"
_SPAN = re.compile(
    rf"(?<![\w.,:/-])(?P<told>{_NUMBER}(?: (?:to|and|–) {_NUMBER})?(?: \({_NUMBER}(?: (?:to|–) {_NUMBER})?\))?)"
    r" (?P<unit>mL|g|degC|°C|K)(?![\w²³])",
    re.ASCII,
)
_LISTED = re.compile(r"\d(?:,| (?:and|or|to|–))(?: [a-z]+){0,3} $", re.ASCII)
"""A number whose unit stands with a later one: the one is not turned without the other."""


def in_units(text: str, show: Shown) -> str:
    """A sentence with its temperatures, volumes and masses in the reader's units; as it is where those are metric."""
    ways: dict[str, tuple[Callable[[str], str], str]] = {}
    if show.choice.temperature == "degF":
        ways |= dict.fromkeys(("degC", "°C"), (_fahrenheit, "°F")) | {"K": (_difference, "°F")}
    if show.choice.sizes == "imperial":
        ways |= {"mL": (_over(FLUID_OUNCE, 3), "fl oz"), "g": (_over(OUNCE, 2), "oz")}
    if not ways:
        return text

    def turned(found: re.Match[str]) -> str:
        if found["unit"] not in ways or _LISTED.search(text, 0, found.start()):
            return found[0]
        way, unit = ways[found["unit"]]
        return f"{re.sub(_NUMBER, lambda one: way(one[0]), found['told'], flags=re.ASCII)} {unit}"

    return _SPAN.sub(turned, text)


def _value(told: str) -> float:
    return float(told.replace("\u2212", "-"))


def _decimals(told: str) -> int:
    return len(told.partition(".")[2])


def _fahrenheit(told: str) -> str:
    return f"{_value(told) * 1.8 + 32:.{_decimals(told)}f}"


def _difference(told: str) -> str:
    sign = "+" if told.startswith("+") else ""
    return f"{_value(told) * 1.8:{sign}.{max(1, _decimals(told))}f}".removesuffix(".0")


def _over(size: float, digits: int) -> Callable[[str], str]:
    def way(told: str) -> str:
        text = significant(_value(told) / size, digits)
        return text.rstrip("0").rstrip(".") if "." in text else text

    return way
