"""How fast things are made and what is lost on the way: the shipped rates, and a workshop's own in their place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from nestwright.data import Value, read_values
from nestwright.document import Document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.positions import line_of
from nestwright.units import shown

__all__ = ["Rates", "own_rates", "rate_unit", "shipped_rates"]

Rates = Mapping[str, Value]
"""By name such as "printed.deposition"; SI: m, m2, m3, kg, s, W and shares 0 to 1."""

_SI = {
    "mm3/s": 1e-9,
    "mm2/s": 1e-6,
    "mm/s": 1e-3,
    "min/m": 60.0,
    "mm": 1e-3,
    "cm2": 1e-4,
    "g": 1e-3,
    "min": 60.0,
    "h": 3600.0,
    "day": 86400.0,
    "s": 1.0,
    "W": 1.0,
    "1": 1.0,
}
_FILE = "making_rates.toml"
_SHARES = ("scrap", "bar_use", "sheet_use", "waste", "fill", "support")


def shipped_rates() -> dict[str, Value]:
    """The rates of this program with their ranges, SI. Most are judgements: a workshop measures its own."""
    return {name: _si(one, _SI[one.unit]) for name, one in read_values(_FILE).items()}


def rate_unit(name: str) -> str:
    """Unit in which a rate is told and shown, such as "mm3/s"; "1" is a share."""
    return read_values(_FILE)[name].unit


def own_rates(document: Document) -> dict[str, Value]:
    """The shipped rates with those of a file's table [rates] in their place.

    Each is a number in the rate's own unit, or a list of [low, value, high].

    Raises
    ------
    FileError
        For a rate that there is not, with the nearest name; for a value that is no such number.
    """
    rates, faults = shipped_rates(), list[InputError]()
    told = document.tables.get("rates", {})
    for name, given in _flat(told if isinstance(told, dict) else {"": told}).items():
        place: dict[str, Any] = {
            "file": document.path,
            "line": line_of(document.lines, ("rates", *name.split("."))) or line_of(document.lines, ("rates", name)),
            "field": f"rates.{name}",
        }
        if name not in rates:
            near = nearest_name(name, rates)
            faults.append(InputError("there is no such rate", **place, allowed=f"the {len(rates)} rates", nearest=near))
            continue
        unit = rate_unit(name)
        ends = given if isinstance(given, list) else [given]
        if len(ends) not in (1, 3) or not all(_number(x) for x in ends) or sorted(ends) != ends or ends[0] < 0:
            allowed = f"a number in {unit}, or [low, value, high] from small to large"
            faults.append(InputError("is no value of a rate", **place, found=shown(given), allowed=allowed))
        elif (name.endswith(_SHARES) and ends[-1] > 1) or (_divides(name) and ends[0] == 0):
            allowed = "0 to 1, as a share" if name.endswith(_SHARES) else "above 0"
            faults.append(InputError("is out of range", **place, found=shown(given), allowed=allowed))
        elif name.endswith("scrap") and ends[-1] > 0.9:
            faults.append(InputError("is out of range", **place, found=shown(given), allowed="0 to 0.9, as a share"))
        else:
            low, middle, high = ends if len(ends) == 3 else ends * 3
            made = Value(float(middle), float(low), float(high), unit, f"own: {document.path}", "own")
            rates[name] = _si(made, _SI[unit])
    if faults:
        raise FileError(faults)
    return rates


def _si(one: Value, factor: float) -> Value:
    # 5 mm is 0.005 m and not a last digit beside it
    value, low, high = (float(f"{end * factor:.12g}") for end in (one.value, one.low, one.high))
    return replace(one, value=value, low=low, high=high)


def _divides(name: str) -> bool:
    """Whether a rate stands below a line: nothing is made at a rate of 0."""
    ends = ("deposition", "layer_height", "cut_area", "speed", "removal", "finish", "use", "mould_life", "plate")
    return name.endswith(ends)


def _flat(table: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in table.items():
        name = f"{before}{key}"
        found |= _flat(value, f"{name}.") if isinstance(value, dict) else {name: value}
    return found


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9
