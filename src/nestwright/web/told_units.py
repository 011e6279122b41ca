"""Figures of the program's English sentences in the units of a reader: "18 to 32 degC" as "64 to 90 °F"."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence

from nestwright.web.shown import FLUID_OUNCE, OUNCE, Shown
from nestwright.wording.figures import significant

__all__ = ["in_units", "scales", "table_in_units"]

_NUMBER = r"[-+\u2212]?\d+(?:\.\d+)?"
_SPAN = re.compile(
    rf"(?<![\w.,:/-])(?P<told>{_NUMBER}(?: (?:to|and|–) {_NUMBER})?(?: \({_NUMBER}(?: (?:to|–) {_NUMBER})?\))?)"
    r" (?P<unit>mL|L(?!/)|g|degC|°C|K)(?![\w²³])",
    re.ASCII,
)
_SIZES: Mapping[str, tuple[float, int, str]] = {
    "mL": (FLUID_OUNCE, 3, "fl oz"),
    "L": (FLUID_OUNCE / 1000, 3, "fl oz"),
    "g": (OUNCE, 2, "oz"),
}
"""Of a unit: how much of it the other one is, the digits at most, and the other one's name."""
_NAMED = re.compile(r"(?P<before>.* )(?P<unit>mL|L|g)(?P<pace>/\w+)?")
"""What stands over a column or beside an axis: its words and its unit."""
_LISTED = re.compile(r"\d(?:,| (?:and|or|to|–))(?: [a-z]+){0,3} $", re.ASCII)
"""A number whose unit stands with a later one: the one is not turned without the other."""


def in_units(text: str, show: Shown) -> str:
    """A sentence with its temperatures, volumes and masses in the reader's units; as it is where those are metric."""
    ways: dict[str, tuple[Callable[[str], str], str]] = {}
    if show.choice.temperature == "degF":
        ways |= dict.fromkeys(("degC", "°C"), (_fahrenheit, "°F")) | {"K": (_difference, "°F")}
    if show.choice.sizes == "imperial":
        ways |= {one: (_over(size, digits), unit) for one, (size, digits, unit) in _SIZES.items()}
    if not ways:
        return text

    def turned(found: re.Match[str]) -> str:
        if found["unit"] not in ways or _LISTED.search(text, 0, found.start()):
            return found[0]
        way, unit = ways[found["unit"]]
        return f"{_each(found['told'], way)} {unit}"

    return _SPAN.sub(turned, text)


def scales(title: str, show: Shown) -> tuple[str, float, int] | None:
    """The words over a column or beside an axis in the reader's unit, how many of what was told make one of it, and
    the digits at most; None where nothing changes."""
    found = _NAMED.fullmatch(title) if show.choice.sizes == "imperial" else None
    if not found:
        return None
    size, digits, unit = _SIZES[found["unit"]]
    return f"{found['before']}{unit}{found['pace'] or ''}", size, digits


def table_in_units(
    head: Sequence[str], rows: Sequence[Sequence[str]], show: Shown
) -> tuple[list[str], list[list[str]]]:
    """A table with its figures in the reader's units, whether the unit stands over a column or in its cells."""
    names, columns = list(head), [[in_units(row[k], show) for row in rows] for k in range(len(head))]
    for k, name in enumerate(head):
        if told := scales(name, show):
            names[k], way = told[0], _over(*told[1:])
            columns[k] = [_each(row[k], way) for row in rows]
    return names, [list(row) for row in zip(*columns, strict=True)]


def _each(text: str, way: Callable[[str], str]) -> str:
    return re.sub(_NUMBER, lambda one: way(one[0]), text, flags=re.ASCII)


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
    """So many digits at most, and no more than one beyond what was told."""

    def way(told: str) -> str:
        known = len(told.lstrip("-+\u2212").replace(".", "").lstrip("0"))
        text = significant(_value(told) / size, max(2, min(digits, known + 1)))
        return text.rstrip("0").rstrip(".") if "." in text else text

    return way
