"""Nesting: in whole micrometres nothing overlaps, nothing leaves the sheet, nothing is lost."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.parts.nesting import Bed, Piece, nest, nest_best

BED = Bed("sheet", 0.6, 0.4, edge=0.005)


def micrometres(length):
    whole = round(length * 1e6)
    assert abs(length * 1e6 - whole) < 1e-4  # a place is told in whole micrometres
    return whole


def corners(placed):
    """Left, front, right, back of a box in micrometres; its sizes rounded up."""
    x, y = micrometres(placed.x), micrometres(placed.y)
    return x, y, x + int(-(-placed.width * 1e6 // 1)), y + int(-(-placed.depth * 1e6 // 1))


sizes = st.tuples(st.integers(100, 390_000), st.integers(100, 390_000), st.booleans())


@given(st.lists(sizes, min_size=1, max_size=40), st.integers(0, 8_000))
@settings(max_examples=60, deadline=None)
def test_nothing_overlaps_or_leaves_the_sheet(sizes, gap):
    spacing = gap / 1e6
    pieces = [Piece(f"p{n}", w / 1e6, d / 1e6, t, key=n) for n, (w, d, t) in enumerate(sizes)]
    found = nest(pieces, BED, spacing)
    assert sorted(p.piece.key for sheet in found.sheets for p in sheet) == list(range(len(pieces)))
    for sheet in found.sheets:
        boxes = [corners(p) for p in sheet]
        for left, front, right, back in boxes:
            assert min(left, front) >= 5_000
            assert right <= 595_001  # a box is rounded up by less than a micrometre
            assert back <= 395_001
        for a, b in combinations(boxes, 2):
            apart = max(b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3])
            assert apart >= gap - 1, (a, b)
    assert all(p.piece.turns or not p.turned for sheet in found.sheets for p in sheet)
    assert found.fewest <= len(found.sheets)
    assert nest(pieces, BED, spacing) == found


def test_a_perfect_fit_is_found():
    # 24 boxes of 100 x 100 mm tile a sheet of 600 x 400 mm exactly: no packing can do with less than one sheet
    found = nest([Piece("tile", 0.1, 0.1)] * 24, Bed("sheet", 0.6, 0.4))
    assert (len(found.sheets), found.fewest) == (1, 1)
    assert found.use == pytest.approx(1)
    assert len(nest([Piece("tile", 0.1, 0.1)] * 24, Bed("sheet", 0.6, 0.4), 0.001).sheets) == 2


def test_lots_of_a_large_batch_hold_every_piece():
    pieces = [Piece(f"{n}", 0.05 + n % 7 / 100, 0.04 + n % 5 / 100, key=n) for n in range(1400)]
    found = nest(pieces, BED, 0.004)
    assert sorted(p.piece.key for sheet in found.sheets for p in sheet) == list(range(1400))
    assert found.use > 0.75


def test_what_is_too_large_is_told_with_both_sizes():
    long, grained = Piece("door", 0.7, 0.1, line=12, file="pot.toml"), Piece("wall", 0.1, 0.5, turns=False)
    with pytest.raises(InputError) as caught:
        nest([Piece("small", 0.1, 0.1), long, grained], BED)
    door, wall = str(caught.value).split("\n")
    assert door == "pot.toml:12: door: is larger than the sheet; found 700 x 100 mm; allowed: 590 x 390 mm on sheet"
    assert "grain" in wall
    assert "100 x 500 mm" in wall
    assert nest([Piece("wall", 0.1, 0.5)], BED).sheets[0][0].turned


def test_the_size_of_which_least_is_used_up_is_taken():
    small, large = Bed("small", 0.3, 0.2), Bed("large", 0.6, 0.4)
    assert nest_best([Piece("a", 0.29, 0.19)], [large, small]).bed == small
    assert nest_best([Piece("a", 0.5, 0.3)], [small, large]).bed == large
    with pytest.raises(InputError, match="600 x 400 mm on large"):
        nest_best([Piece("a", 0.7, 0.3)], [small, large])
