"""Volume, surface, mass and size of a part: by closed form from its sizes, or measured on its solid.

The closed forms need no solid modeller: bills and batches use them. Small openings in round walls are taken as straight
holes as long as the wall is thick; saddles of collars are left out. The tests hold them against the solids.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from nestwright.data import load_materials
from nestwright.parts.listing_water import frustum_volume
from nestwright.parts.model import Measured, Part, Sheet
from nestwright.parts.rings import box_of, ring_length, sheet_area, sheet_cut

__all__ = ["density_of", "measured", "measured_from_sizes"]


def density_of(part: Part) -> float:
    """kg/m3 of a part's solid; of woven mesh that of wire and air together; 0 where the material is not known."""
    known = load_materials().get(part.material)
    return (known.density if known else 0.0) * part.sizes.get("solid_share", 1.0)


def measured_from_sizes(part: Part) -> Measured:
    """Volume m3, surface m2, mass kg, box m of a part by closed form; of a fitting, which has no solid, zeros."""
    if part.kind == "fitting":
        return Measured(part.name, 0.0, 0.0, 0.0, (0.0, 0.0, 0.0))
    flat = part.sheet is not None and "inner" not in part.sizes and "roof" not in part.sizes
    if flat and part.sheet is not None:
        return _of_sheet(part, part.sheet)
    volume, surface, box = _of_form(part)
    cut = footprint = 0.0
    if part.sheet is not None:  # a wrapping that is cut flat and bent
        a, b, c, d = box_of(part.sheet.outline)
        box, cut, footprint = (c - a, d - b, part.sheet.thickness), sheet_cut(part.sheet), (c - a) * (d - b)
    return Measured(part.name, volume, surface, volume * density_of(part), box, cut, 0.0, footprint)


def _of_sheet(part: Part, sheet: Sheet) -> Measured:
    a, b, c, d = box_of(sheet.outline)
    area, cut = sheet_area(sheet), sheet_cut(sheet)
    volume = area * sheet.thickness
    surface = 2 * area + cut * sheet.thickness
    if "seat" in part.sizes:
        port = math.sqrt(4 / math.pi * (area_of_first(sheet)))
        ring = math.pi / 4 * (part.sizes["seat"] ** 2 - port**2)
        volume -= ring * part.sizes["seat_depth"]
        surface += math.pi * (part.sizes["seat"] - port) * part.sizes["seat_depth"]
    if part.kind == "mesh" and part.sizes.get("wall_radius"):
        volume, surface = _bent_disc(part.sizes)
    engraved = sum(map(ring_length, sheet.engraved))
    box = (c - a, d - b, sheet.thickness)
    return Measured(part.name, volume, surface, volume * density_of(part), box, cut, engraved, (c - a) * (d - b))


def _bent_disc(s: Mapping[str, float]) -> tuple[float, float]:
    """Volume and surface of a disc on a round wall: between circles of radius r and r + t, round as seen from the side.

    Its depth at y from the middle is sqrt((r + t)^2 - y^2) - sqrt(r^2 - y^2); here with the means over the disc of y^2,
    y^4 and y^6, a^2/4, a^4/8 and 5 a^6/64.
    """
    a, t, r, lean = s["diameter"] / 2, s["thickness"], s["wall_radius"], s.get("lean", 0.0)
    far = r + t
    depth = t + a**2 / 8 * (1 / r - 1 / far) + a**4 / 64 * (1 / r**3 - 1 / far**3)
    depth += 5 * a**6 / 1024 * (1 / r**5 - 1 / far**5)
    faces = sum(1 + (a / q) ** 2 / 8 + 3 * (a / q) ** 4 / 64 for q in (r, far)) * math.hypot(1.0, lean)
    return math.pi * a * a * depth, math.pi * a * a * faces + 2 * math.pi * a * depth


def area_of_first(sheet: Sheet) -> float:
    from nestwright.parts.rings import ring_area

    return ring_area(sheet.openings[0]) if sheet.openings else 0.0


def _cone(d1: float, d2: float, height: float) -> float:
    """Volume of a truncated cone of diameters d1 and d2."""
    return math.pi / 12 * height * (d1 * d1 + d1 * d2 + d2 * d2)


def _mantle(d1: float, d2: float, height: float) -> float:
    return math.pi * (d1 + d2) / 2 * math.hypot(height, (d1 - d2) / 2)


def _of_form(part: Part) -> tuple[float, float, tuple[float, float, float]]:
    s = part.sizes
    if part.kind in ("block", "mould"):
        return _of_block(part)
    if part.kind == "reservoir":
        d, h = s["outer"], s["length"]
        return math.pi / 4 * d * d * h, math.pi * d * h + math.pi / 2 * d * d, (d, d, h)
    if part.kind in ("tube", "port", "plug"):
        d, b, h = s["outer"], s["bore"], s["length"]
        ring = math.pi / 4 * (d * d - b * b)
        if s.get("wall_radius"):  # the mean depth of a saddle on a round wall
            return _saddled(d, b, h + (d * d + b * b) / (32 * s["wall_radius"]), h)
        box = (d, d, h) if part.kind != "tube" else (h, d, d)
        return ring * h, 2 * ring + math.pi * (d + b) * h, box
    if part.kind == "sensor holder":
        d, b, h, f, t = s["outer"], s["bore"], s["length"], s["flange"], s["flange_height"]
        volume = math.pi / 4 * ((d * d - b * b) * h + (f * f - b * b) * t)
        surface = math.pi * (b * (h + t) + d * h + f * t) + math.pi / 2 * (f * f - b * b)
        return volume, surface, (f, f, h + t)
    if part.kind == "mesh frame":
        d, b, h, seat, deep = s["outer"], s["bore"], s["height"], s["seat"], s["seat_depth"]
        volume = math.pi / 4 * ((d * d - b * b) * h - (seat * seat - b * b) * deep)
        surface = math.pi / 2 * (d * d - b * b) + math.pi * (d * h + b * (h - deep) + seat * deep)
        return volume, surface, (d, d, h)
    return _of_shell(part)


def _saddled(d: float, b: float, mean: float, h: float) -> tuple[float, float, tuple[float, float, float]]:
    ring = math.pi / 4 * (d * d - b * b)
    return ring * mean, 2 * ring + math.pi * (d + b) * mean, (d, d, h)


def _of_shell(part: Part) -> tuple[float, float, tuple[float, float, float]]:
    """A round or rectangular wall, with floor or roof, its openings and its feet."""
    s = part.sizes
    h, t, floor, roof = s["length"], s["thickness"], s.get("floor", 0.0), s.get("roof", 0.0)
    if "width" in s:
        w, d = s["width"], s["depth"]
        volume = ((w + 2 * t) * (d + 2 * t) - w * d) * h + (w + 2 * t) * (d + 2 * t) * (floor + roof)
        surface = 2 * (w + d + w + d + 4 * t) * h + 2 * ((w + 2 * t) * (d + 2 * t) - w * d)
        surface += 2 * (w * d if floor or roof else 0.0) + 2 * (w + d + 4 * t) * (floor + roof)
        box = (w + 2 * t, d + 2 * t, h + floor + roof + s.get("gap", 0.0))
    else:
        a, b = s["inner"], s["inner_top"]
        volume = _cone(a + 2 * t, b + 2 * t, h) - _cone(a, b, h)
        volume += math.pi / 4 * ((a + 2 * t) ** 2 * floor + (b + 2 * t) ** 2 * roof)
        surface = _mantle(a, b, h) + _mantle(a + 2 * t, b + 2 * t, h)
        surface += math.pi / 4 * ((a + 2 * t) ** 2 - a * a + (b + 2 * t) ** 2 - b * b)
        surface += (math.pi / 2 * a * a if floor else 0.0) + (math.pi / 2 * b * b if roof else 0.0)
        surface += math.pi * ((a + 2 * t) * floor + (b + 2 * t) * roof)
        d = max(a, b) + 2 * t
        box = (d, d, h + floor + roof + s.get("gap", 0.0))
    if s.get("gap"):
        wide = s["foot"] + (t if "width" in s else 0.0)  # in the corners of a box
        volume += s["feet"] * wide * t * s["gap"]
        surface += s["feet"] * 2 * (wide + t) * s["gap"]
    for f in part.features:
        if f.kind in ("hole", "bore", "slot") and f.side == "ants" and part.kind in ("body", "jacket"):
            through = floor if f.at[2] < 0 else t
            long = s.get(f"length of {f.name}", f.size)
            area = long * f.size if f.kind == "slot" else math.pi / 4 * f.size**2
            around = 2 * (long + f.size) if f.kind == "slot" else math.pi * f.size
            volume -= area * through
            surface += around * through - 2 * area
    return volume, surface, box


def _of_block(part: Part) -> tuple[float, float, tuple[float, float, float]]:
    s = part.sizes
    w, d, h, box = s["top_width"], s["top_depth"], s["height"], bool(s["box"])
    slope = (w - s["low_width"]) / 2 / h
    volume = frustum_volume(w, d, h, slope, box)
    faces, mantle = _block_faces(w, d, h, s["low_width"], s["low_depth"], box)
    if part.kind == "block":
        return volume, faces + mantle, (w, d, h)
    t = s["wall"]
    outer = ((w + 2 * t) * (d + 2 * t) if box else math.pi / 4 * (w + 2 * t) ** 2) * (h + t)
    around = (2 * (w + d + 4 * t) if box else math.pi * (w + 2 * t)) * (h + t)
    foot = (w + 2 * t) * (d + 2 * t) if box else math.pi / 4 * (w + 2 * t) ** 2
    top, low = (
        (w * d, s["low_width"] * s["low_depth"]) if box else (math.pi / 4 * w * w, math.pi / 4 * s["low_width"] ** 2)
    )
    return outer - volume, around + 2 * foot - top + low + mantle, (w + 2 * t, d + 2 * t, h + t)


def _block_faces(w: float, d: float, h: float, lw: float, ld: float, box: bool) -> tuple[float, float]:
    if box:
        slant = math.hypot(h, (w - lw) / 2)
        return w * d + lw * ld, (w + lw + d + ld) * slant
    return math.pi / 4 * (w * w + lw * lw), _mantle(w, lw, h)


def measured(part: Part, solid: Any) -> Measured:
    """The same, measured on the part's solid (build123d, mm); cuts and engraving of a flat part from its outlines."""
    volume, surface = solid.volume * 1e-9, solid.area * 1e-6
    size = solid.bounding_box().size
    box = (size.X * 1e-3, size.Y * 1e-3, size.Z * 1e-3)
    if part.sizes.get("upright"):
        box = (box[0], box[2], box[1])
    if part.kind in ("port", "plug") or part.sizes.get("on_wall"):  # as it stands on a printer's plate
        box = (box[1], box[2], box[0])
    cut = engraved = footprint = 0.0
    if part.sheet is not None:
        a, b, c, d = box_of(part.sheet.outline)
        cut, engraved = sheet_cut(part.sheet), sum(map(ring_length, part.sheet.engraved))
        footprint = (c - a) * (d - b)
        if "inner" in part.sizes:
            box = (c - a, d - b, part.sheet.thickness)
    return Measured(part.name, volume, surface, volume * density_of(part), box, cut, engraved, footprint)
