"""Where pieces lie on sheets and plates: their boxes, packed by rectpack, spacing kept and turns of 90 degrees allowed.

Boxes and not outlines: docs/decisions.md says what that costs against free outlines. The packing is a good one and no
optimum; it is the same on every run.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from nestwright.errors import FileError, InputError

__all__ = ["Bed", "Nest", "Piece", "Placed", "nest", "nest_best"]

_GRAIN = 1_000_000
"""Whole micrometres to the metre: packed in whole numbers, so that nothing overlaps by a rounding."""
_AT_ONCE = 400
"""Pieces packed together; more are dealt into lots of the same mix, because the time grows with the square."""


@dataclass(frozen=True)
class Piece:
    """A box of `width` x `depth` m; `turns` False where it must lie as it is (grain). `key` is the caller's own."""

    name: str
    width: float
    depth: float
    turns: bool = True
    key: Any = None
    line: int = 0
    file: str = ""


@dataclass(frozen=True)
class Bed:
    """A sheet or plate of `width` x `depth` m; `edge` m along its rim stays free."""

    name: str
    width: float
    depth: float
    edge: float = 0.0


@dataclass(frozen=True)
class Placed:
    """A piece with the corner of its box nearest to the sheet's origin, m; `turned` by 90 degrees."""

    piece: Piece
    x: float
    y: float
    turned: bool

    @property
    def width(self) -> float:
        return self.piece.depth if self.turned else self.piece.width

    @property
    def depth(self) -> float:
        return self.piece.width if self.turned else self.piece.depth


@dataclass(frozen=True)
class Nest:
    """Sheets of one size with the pieces on each, `spacing` m apart."""

    bed: Bed
    sheets: tuple[tuple[Placed, ...], ...]
    spacing: float

    @property
    def use(self) -> float:
        """Share of all sheets that the pieces' boxes cover; 0 for no sheets."""
        whole = len(self.sheets) * self.bed.width * self.bed.depth
        return sum(p.width * p.depth for sheet in self.sheets for p in sheet) / whole if whole else 0.0

    @property
    def fewest(self) -> int:
        """No packing needs fewer sheets than the boxes with their spacing have area for."""
        room = (self.bed.width - 2 * self.bed.edge + self.spacing) * (self.bed.depth - 2 * self.bed.edge + self.spacing)
        area = sum((p.width + self.spacing) * (p.depth + self.spacing) for sheet in self.sheets for p in sheet)
        return math.ceil(area / room - 1e-9) if area else 0


def nest(pieces: Sequence[Piece], bed: Bed, spacing: float = 0.0) -> Nest:
    """Lay pieces on as few sheets of one size as two packings find.

    Parameters
    ----------
    pieces : sequence of Piece
        Every single piece.
    bed : Bed
    spacing : float
        Least clear distance between two boxes, m (kerf and bridge between cuts).

    Raises
    ------
    FileError
        For every piece that is larger than the free part of the sheet, with both sizes.
    """
    lots = max(1, math.ceil(len(pieces) / _AT_ONCE))
    room = tuple(_down(side - 2 * bed.edge) + _up(spacing) for side in (bed.width, bed.depth))
    _refuse(pieces, bed, spacing, room)
    known: dict[Any, list[list[tuple[int, int, int, bool]]]] = {}
    sheets: list[tuple[Placed, ...]] = []
    for lot in range(lots):
        dealt = pieces[lot::lots]
        boxes = tuple((_up(p.width) + _up(spacing), _up(p.depth) + _up(spacing), p.turns) for p in dealt)
        if boxes not in known:
            known[boxes] = _packed(boxes, room)
        for sheet in known[boxes]:
            sheets.append(
                tuple(Placed(dealt[n], bed.edge + x / _GRAIN, bed.edge + y / _GRAIN, t) for n, x, y, t in sheet)
            )
    return Nest(bed, tuple(sheets), spacing)


def nest_best(pieces: Sequence[Piece], beds: Sequence[Bed], spacing: float = 0.0) -> Nest:
    """As `nest`, on the size of sheet of which the least area is used up; sizes that are too small are passed over.

    Raises FileError as `nest` where no size takes every piece.
    """
    made, refused = list[Nest](), list[FileError]()
    for bed in beds:
        try:
            made.append(nest(pieces, bed, spacing))
        except FileError as error:
            refused.append(error)
    if not made:
        raise refused[-1] if refused else InputError("there is no sheet to lay pieces on", field="sheet")
    return min(made, key=lambda n: (len(n.sheets) * n.bed.width * n.bed.depth, len(n.sheets)))


def _up(length: float) -> int:
    return math.ceil(length * _GRAIN - 1e-6)


def _down(length: float) -> int:
    return math.floor(length * _GRAIN + 1e-6)


def _refuse(pieces: Sequence[Piece], bed: Bed, spacing: float, room: tuple[int, ...]) -> None:
    faults: dict[tuple[str, float, float], InputError] = {}
    for one in pieces:
        box = (_up(one.width) + _up(spacing), _up(one.depth) + _up(spacing))
        if _fits(box, room) or (one.turns and _fits(box[::-1], room)):
            continue
        free = (bed.width - 2 * bed.edge, bed.depth - 2 * bed.edge)
        faults[one.name, one.width, one.depth] = InputError(
            "is larger than the sheet" if one.turns else "is larger than the sheet, and its grain forbids to turn it",
            file=one.file,
            line=one.line,
            field=one.name,
            found=_size(one.width, one.depth),
            allowed=f"{_size(*free)} on {bed.name}",
        )
    if faults:
        raise FileError(list(faults.values()))


def _fits(box: Sequence[int], room: Sequence[int]) -> bool:
    return box[0] <= room[0] and box[1] <= room[1]


def _size(width: float, depth: float) -> str:
    return f"{1000 * width:.4g} x {1000 * depth:.4g} mm"


Boxes = tuple[tuple[int, int, bool], ...]


def _packed(boxes: Boxes, room: tuple[int, ...]) -> list[list[tuple[int, int, int, bool]]]:
    """Per sheet: number of the piece, x, y, turned. The better of two packings, the first where they are alike."""
    if not boxes:
        return []
    found = [sorted(_run(boxes, room, way)) for way in ("MaxRectsBssf", "SkylineBlWm")]
    best = min(found, key=lambda rows: (max(r[0] for r in rows), _last(rows, boxes)))
    sheets: list[list[tuple[int, int, int, bool]]] = [[] for _ in range(max(r[0] for r in best) + 1)]
    for sheet, number, x, y, turned in best:
        sheets[sheet].append((number, x, y, turned))
    return sheets


def _last(rows: list[tuple[int, int, int, int, bool]], boxes: Boxes) -> int:
    """Area on the last sheet: what is left of it can be used for something else."""
    last = max(r[0] for r in rows)
    return sum(boxes[n][0] * boxes[n][1] for sheet, n, *_ in rows if sheet == last)


def _run(boxes: Boxes, room: tuple[int, ...], way: str) -> Iterator[tuple[int, int, int, int, bool]]:
    import rectpack

    turns = all(t for *_, t in boxes)
    packer = rectpack.newPacker(
        bin_algo=rectpack.PackingBin.BFF, pack_algo=getattr(rectpack, way), sort_algo=rectpack.SORT_AREA, rotation=turns
    )
    packer.add_bin(*room, count=float("inf"))
    laid: dict[int, bool] = {}
    for number, (width, depth, may) in enumerate(boxes):
        # rectpack turns all or none; where one must not be turned, another is only where it fits no other way
        laid[number] = not turns and may and not _fits((width, depth), room)
        packer.add_rect(*((depth, width) if laid[number] else (width, depth)), rid=number)
    packer.pack()
    for sheet, x, y, width, depth, number in packer.rect_list():
        as_is = (width, depth) == boxes[number][:2]
        yield sheet, number, x, y, not as_is
