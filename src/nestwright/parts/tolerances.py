"""Limits and fits (ISO 286-1), general tolerances (ISO 2768-1), and sizes drawn so that the made size meets its fit.

Sizes m. The tables of ISO 286 are held as data, because the standard rounds what its formulas give by hand; the tests
hold every value against those formulas.
"""

from __future__ import annotations

import csv
import functools
import re
from dataclasses import dataclass
from importlib import resources
from typing import Literal

from nestwright.errors import InputError, nearest_name

__all__ = ["CLASSES", "Fit", "Offset", "compensated", "drawn_for", "fit", "general", "limits", "made_size"]

CLASSES = (
    *("H7", "H8", "H9", "H10", "H11", "H12", "H13"),
    *("c11", "d9", "d10", "d11", "f7", "f8", "f9", "g6", "h6", "h7", "h8", "h9", "h10", "h11", "k6", "p6"),
)
"""Tolerance classes that this program fits parts by: basic hole H and the shafts of the preferred fits."""
MICRON = 1e-6


@dataclass(frozen=True)
class Fit:
    """A hole and a shaft of one nominal size: deviations of both and the clearance, m (negative: they overlap)."""

    name: str
    size: float
    hole: tuple[float, float]
    shaft: tuple[float, float]

    @property
    def clearance(self) -> tuple[float, float]:
        """Smallest and largest clearance, m."""
        return self.hole[0] - self.shaft[1], self.hole[1] - self.shaft[0]

    @property
    def kind(self) -> Literal["clearance", "transition", "interference"]:
        low, high = self.clearance
        return "clearance" if low >= 0 else "interference" if high <= 0 else "transition"


@dataclass(frozen=True)
class Offset:
    """What a machine adds to every drawn hole and spigot, m (a hole that comes out small: negative), and by how much
    both are stretched: made = scale * drawn + offset. `error` is one standard error of an offset."""

    hole: float = 0.0
    spigot: float = 0.0
    scale: float = 1.0
    error: float = 0.0

    def of(self, kind: Literal["hole", "spigot"]) -> float:
        return self.hole if kind == "hole" else self.spigot


def limits(name: str, size: float) -> tuple[float, float]:
    """Lower and upper deviation from a nominal size, m.

    Parameters
    ----------
    name : str
        Tolerance class such as "H9" or "f7", one of `CLASSES`.
    size : float
        Nominal size, m; above 0 to 500 mm.

    Raises
    ------
    InputError
        For an unknown class or a size outside the tables.

    Examples
    --------
    >>> [round(x * 1e6) for x in limits("g6", 0.025)]
    [-20, -7]

    References
    ----------
    ISO 286-1:2010, tables 1, 4 and 5; ISO 286-2:2010.
    """
    if name not in CLASSES:
        near = nearest_name(name, CLASSES)
        raise InputError("unknown tolerance class", field="fit", found=repr(name), allowed=", ".join(CLASSES),
                         nearest=near)  # fmt: skip
    row = _row(size)
    letter, width = name[0], row[f"IT{name[1:]}"]
    if letter == "H":
        ends = (0.0, width)
    elif letter in "kp":  # the deviation of these is the lower one
        ends = (row[letter], row[letter] + width)
    else:
        upper = 0.0 if letter == "h" else row[letter]
        ends = (upper - width, upper)
    return ends[0] * MICRON, ends[1] * MICRON


def fit(name: str, size: float) -> Fit:
    """Limits of a pair such as "H9/f9" at a nominal size in m.

    Raises
    ------
    InputError
        For anything but a hole H and a shaft of `CLASSES`, joined by a slash.
    """
    found = re.fullmatch(r"\s*(H\d+)\s*/\s*([a-z]\d+)\s*", name)
    if found is None:
        raise InputError("is no fit", field="fit", found=repr(name), allowed='a hole and a shaft such as "H9/f9"')
    hole, shaft = found.groups()
    return Fit(f"{hole}/{shaft}", size, limits(hole, size), limits(shaft, size))


def general(size: float) -> float:
    """General tolerance of a length, +- m: ISO 2768-1:1989, table 1, class m; below 0.5 mm that of the first step."""
    steps = ((0.006, 0.1), (0.030, 0.2), (0.120, 0.3), (0.400, 0.5), (1.0, 0.8), (2.0, 1.2))
    return next((mm for end, mm in steps if size <= end + 1e-12), 2.0) / 1000


def compensated(size: float, kind: Literal["hole", "spigot"], offset: Offset) -> float:
    """Size to draw, m, so that a machine of this offset makes `size` of it.

    Raises
    ------
    InputError
        Where the offset leaves nothing to draw.
    """
    drawn = (size - offset.of(kind)) / offset.scale
    if drawn <= 0:
        found = f"{size * 1e3:.3g} mm with an offset of {offset.of(kind) * 1e3:.3g} mm"
        raise InputError("the machine's offset leaves nothing of this size", field=kind, found=found)
    return drawn


def made_size(drawn: float, kind: Literal["hole", "spigot"], offset: Offset) -> float:
    """What a machine of this offset makes of a drawn size, m: the inverse of `compensated`."""
    return drawn * offset.scale + offset.of(kind)


def drawn_for(name: str, size: float, offset: Offset) -> float:
    """Size to draw, m, so that the made hole (H..) or spigot (any other) lies in the middle of its tolerance."""
    low, high = limits(name, size)
    return compensated(size + (low + high) / 2, "hole" if name[0] == "H" else "spigot", offset)


def _row(size: float) -> dict[str, float]:
    mm = round(size * 1000, 9)
    for row in table():
        if row["over_mm"] < mm <= row["to_mm"]:
            return row
    raise InputError("is outside the table of fits", field="size", found=f"{mm:.4g} mm", allowed="above 0 to 500 mm")


@functools.cache
def table() -> tuple[dict[str, float], ...]:
    """ISO 286-1 by steps of size: standard tolerances and fundamental deviations, micrometres."""
    text = (resources.files("nestwright.data") / "iso_286.csv").read_text("utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return tuple({key: float(value) for key, value in row.items()} for row in rows)
