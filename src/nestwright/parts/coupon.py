"""A test piece in steps of size, and what a machine's offset is by what was measured on it.

Printed and resin: a plate with holes, slots, pins, walls and letters that are measured with a caliper. Laser: a sheet
of holes whose discs fall out and are measured as pins.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from nestwright.errors import InputError, nearest_name
from nestwright.parts.model import Feature, Part, Ring, Sheet, Way
from nestwright.parts.tolerances import Offset

__all__ = ["COUPON_WAYS", "OffsetFit", "coupon", "coupon_solid", "offset_from"]

COUPON_WAYS: tuple[Way, ...] = ("printed", "resin", "laser")
_ROUND = (0.003, 0.004, 0.006, 0.008, 0.012, 0.016)
"""Diameters of holes and pins, m: those of ports, plugs and tubes."""
_NARROW = (0.0002, 0.0003, 0.0004, 0.0005, 0.0006, 0.0008, 0.0010, 0.0012)
"""Widths of slots and walls, m: about the head of a small worker."""
_LETTERS = (0.002, 0.003, 0.004, 0.006)
_LAND, _LONG, _TALL = 0.004, 0.012, 0.006
_PLATE = {"printed": 0.003, "resin": 0.003, "laser": 0.003}
_MATERIAL = {"printed": "PETG", "resin": "PETG", "laser": "acrylic"}
_CORNERS = 72
_LARGEST_ERROR = 0.002
"""A pair further apart than this is a slip of the pen, m."""


@dataclass(frozen=True)
class OffsetFit:
    """What was found: the offset to draw by, standard errors of its parts and the scatter of single sizes, m.

    `stretched`: the scale differs from 1 by more than twice its error and is used; else every size is off alike.
    """

    offset: Offset
    hole_error: float
    spigot_error: float
    scale: float
    scale_error: float
    scatter: float
    stretched: bool
    holes: int
    spigots: int

    def to_dict(self) -> dict[str, Any]:
        """Keys in mm as they go into [[machine]] of the workshop's machines.toml; `scale` only where it counts."""

        def mm(length: float) -> float:
            return round(length * 1e3, 3)

        return {
            "hole_offset_mm": mm(self.offset.hole) if self.holes else None,
            "hole_error_mm": mm(self.hole_error) if self.holes else None,
            "spigot_offset_mm": mm(self.offset.spigot) if self.spigots else None,
            "spigot_error_mm": mm(self.spigot_error) if self.spigots else None,
            "scale": round(self.offset.scale, 5),
            "scatter_mm": mm(self.scatter),
            "holes": self.holes,
            "spigots": self.spigots,
        }


def coupon(way: Way = "printed", material: str = "") -> Part:
    """The test piece for one way of making.

    Features carry every size to be measured: "hole 6 mm" and "pin 6 mm" in pairs, and for prints slots, walls and
    letters to see which is the narrowest that comes out. The origin is a lower corner of the plate.

    Raises
    ------
    InputError
        For a way that has no test piece.
    """
    if way not in COUPON_WAYS:
        raise InputError("there is no test piece for this way of making", field="way", found=repr(way),
                         allowed=", ".join(COUPON_WAYS), nearest=nearest_name(way, COUPON_WAYS))  # fmt: skip
    thickness, material = _PLATE[way], material or _MATERIAL[way]
    width = sum(_ROUND) + (len(_ROUND) + 1) * _LAND
    features: list[Feature] = []
    rows = [("hole", _LAND + _ROUND[-1] / 2)]
    if way != "laser":
        rows.append(("spigot", rows[0][1] + _ROUND[-1] + _LAND))
    for kind, y in rows:
        x = _LAND
        for d in _ROUND:
            z = thickness + _TALL if kind == "spigot" else thickness
            word = "pin" if kind == "spigot" else "hole"
            features.append(Feature(kind, f"{word} {d * 1e3:g} mm", d, (x + d / 2, y, z)))  # type: ignore[arg-type]
            x += d + _LAND
    depth = rows[-1][1] + _ROUND[-1] / 2 + _LAND
    if way == "laser":
        features += [Feature("spigot", f"disc {d * 1e3:g} mm", d, f.at) for d, f in zip(_ROUND, features, strict=True)]
        circles = tuple(_circle(f.at[0], f.at[1], f.size) for f in features if f.kind == "hole")
        outline: Ring = ((0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth))
        sheet = Sheet(outline, circles, (), thickness)
        sizes = {"width": width, "depth": depth, "thickness": thickness}
        return Part("test piece", "coupon", "", way, material, 1, sizes, features=tuple(features), sheet=sheet)
    # slots and walls side by side, letters last
    step = (width - 2 * _LAND) / len(_NARROW)
    for kind, z in (("slot", thickness), ("wall", thickness + _TALL)):
        y = depth + _LONG / 2
        for number, size in enumerate(_NARROW):
            at = (_LAND + (number + 0.5) * step, y, z)
            features.append(Feature(kind, f"{kind} {size * 1e3:g} mm", size, at))  # type: ignore[arg-type]
        depth += _LONG + _LAND
    x = _LAND
    for size in _LETTERS:
        at = (x + size / 2, depth + _LETTERS[-1] / 2, thickness)
        features.append(Feature("text", f"letter {size * 1e3:g} mm", size, at))
        x += size + _LAND
    depth += _LETTERS[-1] + _LAND
    sizes = {"width": width, "depth": depth, "thickness": thickness, "tall": _TALL, "slot_length": _LONG}
    return Part("test piece", "coupon", "", way, material, 1, sizes, features=tuple(features))


def _circle(x: float, y: float, diameter: float) -> Ring:
    turns = (2 * math.pi * n / _CORNERS for n in range(_CORNERS))
    return tuple((x + diameter / 2 * math.cos(t), y + diameter / 2 * math.sin(t)) for t in turns)


def coupon_solid(part: Part) -> Any:
    """The test piece as a build123d solid, mm. Letters are raised by the height of a few layers."""
    from build123d import Align, Box, Cylinder, Pos, Text, extrude

    low = (Align.MIN, Align.MIN, Align.MIN)
    stand = (Align.CENTER, Align.CENTER, Align.MIN)
    size = {name: length * 1e3 for name, length in part.sizes.items()}
    plate = size["thickness"]
    solid = Box(size["width"], size["depth"], plate, align=low)
    for f in part.features:
        x, y, d = f.at[0] * 1e3, f.at[1] * 1e3, f.size * 1e3
        if f.kind == "hole":
            solid -= Pos(x, y, -1) * Cylinder(d / 2, plate + 2, align=stand)
        elif f.kind == "slot":
            solid -= Pos(x, y, -1) * Box(d, size["slot_length"], plate + 2, align=stand)
        elif f.kind == "spigot" and part.sheet is None:
            solid += Pos(x, y, plate / 2) * Cylinder(d / 2, plate / 2 + size["tall"], align=stand)
        elif f.kind == "wall":
            solid += Pos(x, y, plate / 2) * Box(d, size["slot_length"], plate / 2 + size["tall"], align=stand)
        elif f.kind == "text":
            letter = extrude(Text("N", font_size=d), 0.6 + plate / 2)
            solid += Pos(x, y, plate / 2) * letter
    return solid


def offset_from(holes: Sequence[tuple[float, float]] = (), spigots: Sequence[tuple[float, float]] = ()) -> OffsetFit:
    """What a machine adds to every hole and spigot, from pairs of drawn and measured size, m.

    Two readings of the pairs are made: the mean difference with its standard error, and a least-squares line
    made = scale * drawn + offset with one scale for holes and spigots. The scale is believed where it differs from 1
    by more than twice its error.

    Raises
    ------
    InputError
        For fewer than three pairs of a kind that was measured at all, sizes that are none, or a pair more than 2 mm
        apart.
    """
    import numpy as np

    for word, pairs in (("holes", holes), ("spigots", spigots)):
        if 0 < len(pairs) < 3:
            raise InputError("are too few to tell an error", field=word, found=str(len(pairs)), allowed="at least 3")
        for drawn, made in pairs:
            if not (drawn > 0 and made > 0 and abs(made - drawn) <= _LARGEST_ERROR):
                found = f"{drawn * 1e3:.4g} mm drawn, {made * 1e3:.4g} mm made"
                raise InputError("is no pair of sizes", field=word, found=found, allowed="sizes at most 2 mm apart")
    if not holes and not spigots:
        raise InputError("nothing was measured", field="holes", allowed="at least 3 pairs of drawn and made size")
    sizes = np.array([p[0] for p in (*holes, *spigots)])
    off = np.array([p[1] - p[0] for p in (*holes, *spigots)])
    columns = [np.r_[np.ones(len(holes)), np.zeros(len(spigots))], np.r_[np.zeros(len(holes)), np.ones(len(spigots))]]
    kinds = [c for c in columns if c.any()]
    flat = np.column_stack(kinds)
    means, mean_errors, scatter = _least_squares(flat, off)
    scale, scale_error, stretched = 1.0, math.inf, False
    if len(sizes) > len(kinds) + 1 and np.ptp(sizes) > 0:
        line, errors, line_scatter = _least_squares(np.column_stack([*kinds, sizes]), off)
        scale, scale_error = 1 + line[-1], errors[-1]
        # rounding alone gives a scale and no scatter: a nanometre over the range of sizes is no stretch
        stretched = abs(line[-1]) > 2 * scale_error and abs(line[-1]) * float(np.ptp(sizes)) > 1e-9
        if stretched:
            means, mean_errors, scatter = line[:-1], errors[:-1], line_scatter
    hole, hole_error = (means[0], mean_errors[0]) if holes else (0.0, 0.0)
    spigot, spigot_error = (means[-1], mean_errors[-1]) if spigots else (0.0, 0.0)
    offset = Offset(hole, spigot, scale if stretched else 1.0, max(hole_error, spigot_error))
    return OffsetFit(offset, hole_error, spigot_error, scale, scale_error, scatter, stretched, len(holes), len(spigots))


def _least_squares(design: Any, seen: Any) -> tuple[list[float], list[float], float]:
    """Coefficients, their standard errors, and the scatter about the fit."""
    import numpy as np

    found, *_ = np.linalg.lstsq(design, seen, rcond=None)
    left = seen - design @ found
    free = len(seen) - design.shape[1]
    variance = float(left @ left) / free
    errors = np.sqrt(np.diag(np.linalg.inv(design.T @ design)) * variance)
    return [float(x) for x in found], [float(x) for x in errors], math.sqrt(variance)
