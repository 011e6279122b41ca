"""Units of the habitat file: a text such as "120 mm" in, SI out. The only place where units appear.

Metric units have exact factors and are turned here, because importing pint costs a third of a second; the rest
(inches, pounds, fahrenheit) goes through pint. A test compares every factor with pint's.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from nestwright.errors import nearest_name

__all__ = [
    "KINDS",
    "Kind",
    "UnitProblem",
    "format_quantity",
    "parse_band",
    "parse_layer",
    "parse_quantity",
    "quantity_pattern",
    "shown",
    "split_unit",
]

_MM, _CM, _DAY = 1e-3, 1e-2, 86400.0

# Exact factors to SI; an entry None is turned by pint under the name in _PINT.
_LENGTH: dict[str, float | None] = {"mm": _MM, "cm": _CM, "m": 1.0, "um": 1e-6, "in": None, "ft": None}
_AREA: dict[str, float | None] = {"cm2": 1e-4, "mm2": 1e-6, "m2": 1.0, "in2": None, "ft2": None}
_VOLUME: dict[str, float | None] = {
    "mL": 1e-6,
    "L": 1e-3,
    "uL": 1e-9,
    "cm3": 1e-6,
    "m3": 1.0,
    "fl_oz": None,
    "gal": None,
}
_MASS: dict[str, float | None] = {"g": 1e-3, "kg": 1.0, "mg": 1e-6, "oz": None, "lb": None}
_TIME: dict[str, float | None] = {"s": 1.0, "min": 60.0, "h": 3600.0, "day": _DAY, "week": 7 * _DAY}
_POWER: dict[str, float | None] = {"W": 1.0, "mW": 1e-3, "kW": 1e3}
_TEMPERATURE: dict[str, float | None] = {"degC": 1.0, "K": 1.0, "degF": None}
_DIFFERENCE: dict[str, float | None] = {"K": 1.0, "degC": 1.0, "delta_degF": None}
_SHARE: dict[str, float | None] = {"%": 1e-2, "ppm": 1e-6}
# Water is told by mass or by volume: 1 mL counts as 1 g, by convention of this file (0.998 g at 20 degC).
_WATER: dict[str, float | None] = {"mL": 1e-3, "L": 1.0, "g": 1e-3, "kg": 1.0}
_WATER_RATE: dict[str, float | None] = {
    "g/day": 1e-3 / _DAY,
    "mL/day": 1e-3 / _DAY,
    "g/h": 1e-3 / 3600.0,
    "mg/h": 1e-6 / 3600.0,
    "kg/s": 1.0,
}

_PINT = {
    "in": "inch",
    "ft": "foot",
    "in2": "inch**2",
    "ft2": "foot**2",
    "fl_oz": "fluid_ounce",
    "gal": "gallon",
    "oz": "ounce",
    "lb": "pound",
    "degF": "degF",
    "delta_degF": "delta_degF",
}

_SPELLINGS = {
    "µm": "um",
    "μm": "um",
    "mm²": "mm2",
    "cm²": "cm2",
    "m²": "m2",
    "mm^2": "mm2",
    "cm^2": "cm2",
    "m^2": "m2",
    "cm³": "cm3",
    "m³": "m3",
    "ml": "mL",
    "l": "L",
    "µL": "uL",
    "μL": "uL",
    "°C": "degC",
    "°F": "degF",
    "days": "day",
    "weeks": "week",
    "hours": "h",
    "hour": "h",
    "ml/day": "mL/day",
    "inch": "in",
    "fl oz": "fl_oz",
}


@dataclass(frozen=True)
class Kind:
    """One sort of value: its units, the SI unit it becomes, and the range that the file accepts (SI, inclusive)."""

    name: str
    units: dict[str, float | None]
    si: str
    low: float
    high: float
    example: str

    @property
    def allowed(self) -> str:
        """The range and the units, as told to a person."""
        return f"{self.range}, in {', '.join(self.units)}, as {self.example!r}"

    @property
    def range(self) -> str:
        """The range in the unit of the example."""
        unit = self.example.split()[1]
        low, high = (from_si(self, x, unit) for x in (self.low, self.high))
        return f"{low:.7g} to {high:.7g} {unit}"


# The ranges only keep slips of the pen out (a room in a chamber, a negative size); they are no physics.
KINDS: dict[str, Kind] = {
    k.name: k
    for k in (
        Kind("length", _LENGTH, "m", 1e-6, 10.0, "120 mm"),
        Kind("gap", _LENGTH, "m", 0.0, 1.0, "0.5 mm"),
        Kind("height", _LENGTH, "m", 0.0, 10.0, "60 mm"),
        Kind("position", _LENGTH, "m", -100.0, 100.0, "-40 mm"),
        Kind("altitude", {"m": 1.0, "ft": None}, "m", -500.0, 9000.0, "300 m"),
        Kind("area", _AREA, "m2", 1e-8, 10.0, "60 cm2"),
        Kind("volume", _VOLUME, "m3", 1e-9, 1.0, "120 mL"),
        Kind("mass", _MASS, "kg", 0.0, 100.0, "250 g"),
        Kind("water", _WATER, "kg", 0.0, 100.0, "180 mL"),
        Kind("water rate", _WATER_RATE, "kg/s", 0.0, 10 / _DAY, "8 g/day"),
        Kind("power", _POWER, "W", 0.0, 2000.0, "6 W"),
        Kind("time", _TIME, "s", 0.0, _DAY, "60 s"),
        Kind("interval", _TIME, "s", 3600.0, 3650 * _DAY, "14 day"),
        Kind("temperature", _TEMPERATURE, "K", 223.15, 373.15, "24 degC"),
        Kind("difference", _DIFFERENCE, "K", 0.0, 50.0, "0.5 K"),
        Kind("share", _SHARE, "1", 0.0, 1.0, "20 %"),
    )
}

NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
_DECIMAL_COMMA = re.compile(r"\d,\d", re.ASCII)
_QUANTITY = re.compile(rf"\s*({NUMBER})\s*(fl oz|\S*)\s*", re.ASCII)
_LAYER = re.compile(rf"\s*({NUMBER}\s*\S+)\s+(?:of\s+)?(\S(?:.*\S)?)\s*", re.ASCII)


class UnitProblem(ValueError):  # noqa: N818 - turned into an InputError where the place is known
    """A value that cannot be read, with what was found, what is allowed and the nearest unit."""

    def __init__(self, message: str, found: str = "", allowed: str = "", nearest: str = "") -> None:
        super().__init__(message)
        self.message, self.found, self.allowed, self.nearest = message, found, allowed, nearest


def shown(value: Any) -> str:
    """What was found, for a message: a text in quotes, anything else as it is, cut at 60 characters."""
    try:
        text = repr(value) if isinstance(value, str) else str(value)
    except ValueError:  # a whole number of more digits than Python writes out
        return "a very long number"
    except RecursionError:
        return "tables nested too deeply"
    return text if len(text) <= 60 else text[:57] + "..."


def has_unit_of(text: str, kind: str) -> bool:
    """Whether a text such as "120 mm" has a unit of this kind behind its number."""
    match = _QUANTITY.fullmatch(text)
    return match is not None and _SPELLINGS.get(match[2], match[2]) in KINDS[kind].units


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


def split_unit(text: Any, kind: str) -> tuple[float, str]:
    """Number and (plainly spelt) unit of a text such as "120 mm", not yet converted.

    Raises
    ------
    UnitProblem
        When the text is not a number followed by a unit of this kind.
    """
    spec = KINDS[kind]
    if not isinstance(text, str):
        raise UnitProblem(f"{_a(kind)} is written as a text with its unit", shown(text), spec.allowed)
    match = _QUANTITY.fullmatch(text)
    if match is None:
        point = text.replace(",", ".")
        meant = point.strip() if _DECIMAL_COMMA.search(text) and _QUANTITY.fullmatch(point) else ""
        raise UnitProblem(f"cannot be read as {_a(kind)}", shown(text), spec.allowed, meant)
    number, unit = match.groups()
    unit = _SPELLINGS.get(unit, unit)
    if not unit:
        raise UnitProblem("the unit is missing", shown(text), spec.allowed)
    if unit not in spec.units:
        raise UnitProblem(f"wrong unit for {_a(kind)}", shown(text), spec.allowed, nearest_name(unit, spec.units))
    return float(number), unit


def to_si(kind: Kind, number: float, unit: str) -> float:
    """A number in one of the kind's units, in SI."""
    factor = kind.units[unit]
    if kind.name == "temperature" and unit == "degC":
        return number + 273.15
    if factor is not None:
        # Dividing keeps "40 mm" equal to 0.04, where multiplying by 1e-3 may miss by the last digit.
        return number / round(1 / factor) if factor < 1 and kind.name != "water rate" else number * factor
    return float(_registry().Quantity(number, _PINT[unit]).to(_pint_si(kind)).magnitude)


def from_si(kind: Kind, value: float, unit: str) -> float:
    """An SI value in one of the kind's units."""
    factor = kind.units[unit]
    if kind.name == "temperature" and unit == "degC":
        return value - 273.15
    if factor is not None:
        return value * round(1 / factor) if factor < 1 and kind.name != "water rate" else value / factor
    return float(_registry().Quantity(value, _pint_si(kind)).to(_PINT[unit]).magnitude)


def _pint_si(kind: Kind) -> str:
    return {"m2": "m**2", "m3": "m**3", "K": "delta_degC" if kind.name == "difference" else "K"}.get(kind.si, kind.si)


_cached: list[Any] = []


def _registry() -> Any:
    if not _cached:
        import pint  # a third of a second, so only for the units that need it

        _cached.append(pint.UnitRegistry(cache_folder=None))
    return _cached[0]


def parse_quantity(text: Any, kind: str) -> float:
    """Read a text with its unit, such as "120 mm" or "8 g/day".

    Parameters
    ----------
    text : str
        Number, blank, unit. Anything else is refused.
    kind : str
        One of `KINDS`.

    Returns
    -------
    float
        The value in the kind's SI unit.

    Raises
    ------
    UnitProblem
        When it is no such text, the unit is of another kind, or the value is outside the accepted range.

    Examples
    --------
    >>> parse_quantity("120 mm", "length")
    0.12
    """
    spec = KINDS[kind]
    number, unit = split_unit(text, kind)
    value = to_si(spec, number, unit)
    if not math.isfinite(value) or not spec.low <= value <= spec.high:
        warmth = kind == "temperature"
        if value < 0 and spec.low >= 0:
            message = "is below absolute zero" if warmth else "is negative"
        elif value == 0 and not warmth:
            message = "must be larger than zero"
        else:
            message = "is too small" if value < spec.low else "is too large"
        raise UnitProblem(message, shown(text), f"{spec.range}, as {spec.example!r}")
    return value


def format_quantity(value: float, kind: str, unit: str | None = None) -> str:
    """An SI value as a text of the file, with enough digits to read back the same value."""
    spec = KINDS[kind]
    unit = unit or next(iter(spec.units))
    return f"{from_si(spec, value, unit):.12g} {unit}"


def parse_layer(text: Any) -> tuple[float, str]:
    """Thickness (m) and material of a wall layer written as "3 mm acrylic"."""
    allowed = "a thickness with its unit and a material, as '3 mm acrylic'"
    if not isinstance(text, str):
        raise UnitProblem("a layer is written as a text", shown(text), allowed)
    match = _LAYER.fullmatch(text)
    if match is None:
        raise UnitProblem("cannot be read as a wall layer", shown(text), allowed)
    return parse_quantity(match[1], "length"), match[2]


def parse_band(text: Any, kind: str) -> tuple[float | None, float | None]:
    """Low and high (SI, None = open) of "22 degC to 26 degC", "at most 3 %" or "at least 15 %"."""
    spec = KINDS[kind]
    unit = next(iter(spec.units))
    allowed = f"'A {unit} to B {unit}', 'at least A {unit}' or 'at most B {unit}'"
    if not isinstance(text, str):
        raise UnitProblem("a limit is written as a text", shown(text), allowed)
    plain = text.strip()
    if plain.startswith("at most "):
        return None, parse_quantity(plain[8:], kind)
    if plain.startswith("at least "):
        return parse_quantity(plain[9:], kind), None
    low_text, sep, high_text = plain.partition(" to ")
    if not sep:
        raise UnitProblem("cannot be read as a limit", shown(text), allowed)
    low, high = parse_quantity(low_text, kind), parse_quantity(high_text, kind)
    if low >= high:
        raise UnitProblem("the lower end is not below the upper end", shown(text), allowed)
    return low, high


def quantity_pattern(kind: str) -> str:
    """Regular expression of a text of this kind, for the JSON Schema (numbers of the wrong sign excluded)."""
    spec = KINDS[kind]
    units = list(spec.units) + [s for s, plain in _SPELLINGS.items() if plain in spec.units]
    sign = "[+-]?" if spec.low < 0 or spec.name == "temperature" else "[+]?"
    number = r"(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?"
    # JSON Schema knows no escaped blank
    escaped = [re.escape(u).replace(r"\ ", " ") for u in sorted(units, key=len, reverse=True)]
    return rf"\s*{sign}{number}\s*(?:{'|'.join(escaped)})\s*"
