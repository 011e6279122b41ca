"""What lies on each printer's plate and on each sheet of a batch."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from nestwright.errors import FileError, InputError
from nestwright.parts.bill import HOUR, job_seconds
from nestwright.parts.machine import Machine
from nestwright.parts.machines import Machines
from nestwright.parts.model import Assembly, Measured, Part
from nestwright.parts.nesting import Bed, Nest, Piece, Placed, nest, nest_best
from nestwright.parts.prices import Need, Prices
from nestwright.parts.rates import Rates

__all__ = ["Layout", "Product", "layouts_of", "made_of"]


@dataclass(frozen=True)
class Product:
    """A habitat of the batch: its parts, and the sizes of each by name."""

    assembly: Assembly
    measured: Mapping[str, Measured]
    file: str = ""


@dataclass(frozen=True)
class Layout:
    """One plate or sheet. A piece's `key` is (number of the product, Part); `hours` of its machine; `height` of the
    tallest piece, m; `thickness` of a sheet, 0 of a plate; `kerf` width of the cut that its lines take off, m."""

    name: str
    way: str
    material: str
    thickness: float
    bed: Bed
    pieces: tuple[Placed, ...]
    spacing: float
    hours: float
    height: float = 0.0
    kerf: float = 0.0

    @property
    def use(self) -> float:
        return sum(p.width * p.depth for p in self.pieces) / (self.bed.width * self.bed.depth)


def made_of(part: Part, count: int, rates: Rates, forms: int = 1) -> int:
    """Pieces of a part to make for `count` habitats: with spares once a whole piece is expected to fail.

    Of a mould as many as stand filled at once, or as wear out.
    """
    if part.kind == "coupon":
        return 0
    if part.kind == "mould":
        return max(forms, math.ceil(count * part.quantity / rates["cast.mould_life"].value))
    return math.floor(count * part.quantity / (1 - rates[f"{part.way}.scrap"].value) + 1e-9)


def layouts_of(
    products: Sequence[Product], count: int, machines: Machines, prices: Prices | None, rates: Rates, forms: int = 1
) -> tuple[Layout, ...]:
    """Plates and sheets for `count` of every product; woven mesh is bought by area and lies on none.

    Raises
    ------
    FileError
        For a part that no bed or sheet takes, with both sizes.
    """
    groups: dict[tuple[str, str, float], list[Piece]] = {}
    for number, product in enumerate(products):
        for part in product.assembly.parts:
            flat = part.way in ("laser", "cut") and part.sheet is not None and part.kind != "mesh"
            if part.way in ("printed", "resin") or flat:
                box = product.measured[part.name].box
                # thicknesses that differ by the rounding of their sums are one
                thick = round(part.sheet.thickness, 6) if flat and part.sheet is not None else 0.0
                piece = Piece(part.name, box[0], box[1], key=(number, part), line=part.line, file=product.file)
                made = made_of(part, count, rates, forms)
                groups.setdefault((part.way, part.material, thick), []).extend([piece] * made)
    found: list[Layout] = []
    for (way, material, thick), pieces in sorted(groups.items()):
        if way in ("printed", "resin"):
            rows = _plates(way, pieces, machines, products, rates)
        else:
            rows = _sheets(way, material, thick, pieces, machines, prices, rates)
        for number, one in enumerate(rows, 1):
            what = f"{material} {1000 * thick:.4g} mm sheet" if thick else f"{material} plate"
            if any(f"{what} {number}" == other.name for other in found):
                what = f"{what}, {way},"
            made_here = Layout(
                f"{what} {number}",
                way,
                material,
                thick,
                one.bed,
                one.sheets[0],
                one.spacing,
                0.0,
                _tall(one, products),
                machines.processes.kerf(way),
            )
            found.append(replace(made_here, hours=_hours(made_here, products, rates)))
    return tuple(found)


def _size(piece: Piece, products: Sequence[Product]) -> Measured:
    number, part = piece.key
    return products[number].measured[part.name]


def _tall(one: Nest, products: Sequence[Product]) -> float:
    return max((_size(p.piece, products).box[2] for p in one.sheets[0]), default=0.0)


def _single(found: Nest) -> list[Nest]:
    return [replace(found, sheets=(sheet,)) for sheet in found.sheets]


def _plates(way: str, pieces: list[Piece], machines: Machines, products: Sequence[Product], rates: Rates) -> list[Nest]:
    """Plates on the smallest beds that take each piece, none longer than its machine's day where it can be split."""
    able = sorted(
        (m for m in machines.of(way) if m.bed is not None),
        key=lambda m: (m.bed.width * m.bed.depth, m.height) if m.bed else (0.0, 0.0),
    )
    if not able:
        raise InputError("no machine makes this", field=pieces[0].name, found=f"way {way!r}", file=machines.file)
    spacing = rates[f"{way}.spacing"].value
    rows: list[Nest] = []
    left, faults = pieces, list[InputError]()
    for machine in able:
        assert machine.bed is not None
        fit = [p for p in left if _goes_on(p, machine, products)]
        left = [p for p in left if not _goes_on(p, machine, products)]
        for one in _single(nest(fit, machine.bed, spacing)) if fit else ():
            rows += _shorter(one, machine, products, rates)
    for name, piece in {p.name: p for p in left}.items():
        x, y, z = (1000 * side for side in _size(piece, products).box)
        beds = ", ".join(f"{m.name} {_bed_text(m)}" for m in able)
        place = {"file": piece.file, "field": name, "found": f"{x:.4g} x {y:.4g} x {z:.4g} mm", "allowed": beds}
        faults.append(InputError("is larger than every bed", line=piece.line, **place))
    if faults:
        raise FileError(faults)
    return rows


def _bed_text(machine: Machine) -> str:
    assert machine.bed is not None
    return " x ".join(f"{1000 * s:.4g}" for s in (machine.bed.width, machine.bed.depth, machine.height) if s) + " mm"


def _goes_on(piece: Piece, machine: Machine, products: Sequence[Product]) -> bool:
    assert machine.bed is not None
    sides, bed = sorted((piece.width, piece.depth)), sorted((machine.bed.width, machine.bed.depth))
    tall = machine.height and _size(piece, products).box[2] > machine.height + 1e-9
    return not tall and all(a <= b + 1e-9 for a, b in zip(sides, bed, strict=True))


def _shorter(one: Nest, machine: Machine, products: Sequence[Product], rates: Rates) -> list[Nest]:
    """A plate that would run past its machine's day as two that do not; a single piece as it is."""
    pieces = one.sheets[0]
    trial = Layout("", machine.way, "", 0.0, one.bed, pieces, one.spacing, 0.0)
    if len(pieces) < 2 or _hours(trial, products, rates) <= machine.hours:
        return [one]
    half = len(pieces) // 2
    both = (replace(one, sheets=(part,)) for part in (pieces[:half], pieces[half:]))
    return [plate for each in both for plate in _shorter(each, machine, products, rates)]


def _sheets(
    way: str, material: str, thick: float, pieces: list[Piece], machines: Machines, prices: Prices | None, rates: Rates
) -> list[Nest]:
    """Sheets of the sizes that the price list sells, cut down to the laser's bed where they are larger; none for work
    by hand where the list tells no size."""
    sold = prices.sold(Need("stock", "m2", "", material, "sheet", thick)) if prices else ()
    beds = [Bed(f"{one} of {_sheet_text(one.size)}", *one.size) for one in sold if one.size]
    lasers = [m.bed for m in machines.of(way) if m.bed is not None]
    if way == "laser":
        if not lasers:
            raise InputError("no machine makes this", field=pieces[0].name, found="way 'laser'", file=machines.file)
        largest = max(lasers, key=lambda b: b.width * b.depth)
        beds = [_cut_down(bed, largest) for bed in beds] or [largest]
    if not beds:  # cut by hand from a size that nobody told: bought by area
        return []
    grain = any(one.grain for one in sold)
    # lines of a laser lie half its cut outside of the piece
    spacing = rates["laser.spacing"].value + machines.processes.kerf(way) if way == "laser" else rates["cut.kerf"].value
    # as much is left along the rim as between two pieces: no cut runs off the sheet
    rimmed = [replace(bed, edge=spacing) for bed in beds]
    return _single(nest_best([replace(p, turns=not grain) for p in pieces], rimmed, spacing))


def _sheet_text(size: tuple[float, float] | None) -> str:
    return " x ".join(f"{1000 * s:.4g}" for s in size or ()) + " mm"


def _cut_down(bed: Bed, largest: Bed) -> Bed:
    """A sheet on a laser's bed: turned if that helps, cut where it is larger."""
    straight = (min(bed.width, largest.width), min(bed.depth, largest.depth))
    turned = (min(bed.depth, largest.width), min(bed.width, largest.depth))
    width, depth = max(straight, turned, key=lambda s: (s[0] * s[1], s == straight))
    return replace(bed, width=width, depth=depth)


def _hours(layout: Layout, products: Sequence[Product], rates: Rates) -> float:
    """Hours of the machine for a whole plate or sheet: one start a plate, and its layers are those of the tallest."""
    if layout.way == "cut":
        return 0.0
    pieces = [(p.piece.key[1], _size(p.piece, products)) for p in layout.pieces]
    seconds = [job_seconds(part, size, rates) for part, size in pieces]
    if layout.way == "printed":
        start, change = rates["printed.start"].value, rates["printed.layer_change"].value
        layers = [size.box[2] / rates["printed.layer_height"].value for _, size in pieces]
        return (sum(seconds) - len(pieces) * start - change * sum(layers) + start + change * max(layers)) / HOUR
    if layout.way == "resin":
        tall = max(size.box[2] for _, size in pieces)
        return tall / rates["resin.layer_height"].value * rates["resin.layer_time"].value / HOUR
    return sum(seconds) / HOUR
