"""Tubes that one can buy (data/tubes.csv), SI, and the sizes that the parts share with the proof."""

from __future__ import annotations

import csv
import functools
from dataclasses import dataclass
from importlib import resources

from nestwright.habitat.sizes import size, size_values

__all__ = ["Tube", "size", "size_values", "tubes"]


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
def tubes() -> tuple[Tube, ...]:
    """Tubes of standard sizes, the narrowest bore first."""
    text = (resources.files("nestwright.data") / "tubes.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    found = [Tube(float(r["outer_mm"]) / 1e3, float(r["wall_mm"]) / 1e3, r["material"]) for r in rows]
    return tuple(sorted(found, key=lambda one: (round(one.bore, 9), one.outer)))
