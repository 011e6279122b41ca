"""Sizes that no habitat file tells (data/parts.toml) and the tubes that one can buy (data/tubes.csv), SI."""

from __future__ import annotations

import csv
import functools
import math
from dataclasses import dataclass, replace
from importlib import resources

from nestwright.data import Value, read_values

__all__ = ["Tube", "size", "size_values", "tubes"]

_SI = {"mm": 1e-3, "deg": math.pi / 180}


@dataclass(frozen=True)
class Tube:
    """Outer diameter and wall of a tube that one can buy, m."""

    outer: float
    wall: float
    material: str

    @property
    def bore(self) -> float:
        return self.outer - 2 * self.wall


@functools.cache
def size_values() -> dict[str, Value]:
    """The values of data/parts.toml by name: lengths m, angles rad, densities kg/m3."""
    found = {}
    for name, one in read_values("parts.toml").items():
        factor = _SI.get(one.unit, 1.0)
        ends = (one.value * factor, one.low * factor, one.high * factor)
        found[name] = replace(one, value=ends[0], low=ends[1], high=ends[2])
    return found


def size(name: str) -> float:
    """The middle value of one of them."""
    return size_values()[name].value


@functools.cache
def tubes() -> tuple[Tube, ...]:
    """Tubes of standard sizes, the narrowest bore first."""
    text = (resources.files("nestwright.data") / "tubes.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    found = [Tube(float(r["outer_mm"]) / 1e3, float(r["wall_mm"]) / 1e3, r["material"]) for r in rows]
    return tuple(sorted(found, key=lambda one: (round(one.bore, 9), one.outer)))
