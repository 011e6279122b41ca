"""How much sheet our nesting of boxes uses against a nesting of free outlines (spyrrow), on the same pieces.

Pieces are laid on one strip 400 mm deep; its length is what counts. Prints the ratio for panels, for discs and for a
habitat's mix, and whether the reference finds the same again from the same seed.
"""

from __future__ import annotations

import math
import time

from nestwright.errors import InputError
from nestwright.parts.nesting import Bed, Piece, nest

DEPTH = 0.4
SPACING = 0.004
SECONDS = 6
Shape = list[tuple[float, float]]


def disc(diameter: float) -> Shape:
    """A circle as 48 corners about it, mm."""
    r = 500 * diameter / math.cos(math.pi / 48)
    return [(r * math.cos(math.tau * n / 48), r * math.sin(math.tau * n / 48)) for n in range(48)]


def panel(width: float, depth: float) -> Shape:
    w, d = 1000 * width, 1000 * depth
    return [(0.0, 0.0), (w, 0.0), (w, d), (0.0, d)]


PANELS = [(panel(0.16, 0.08), 8), (panel(0.12, 0.08), 8), (panel(0.16, 0.12), 8), (panel(0.1, 0.06), 16)]
DISCS = [(disc(0.148), 8), (disc(0.106), 8), (disc(0.07), 12)]
SETS = {"panels": PANELS, "discs": DISCS, "a habitat's mix, four times": [(s, n // 2) for s, n in PANELS + DISCS]}


def strip_of_boxes(shapes: list[tuple[Shape, int]]) -> float:
    """Shortest strip, m, to 1 mm, that our packing gets everything on."""
    pieces = []
    for shape, count in shapes:
        xs, ys = zip(*shape, strict=True)
        pieces += [Piece("", (max(xs) - min(xs)) / 1000, (max(ys) - min(ys)) / 1000)] * count
    low, high = 0.0, 10.0
    while high - low > 0.001:
        middle = (low + high) / 2
        try:
            fits = len(nest(pieces, Bed("strip", middle, DEPTH), SPACING).sheets) == 1
        except InputError:
            fits = False
        low, high = (low, middle) if fits else (middle, high)
    return high


def strip_of_outlines(shapes: list[tuple[Shape, int]]) -> float:
    """The same with free outlines, m."""
    import spyrrow

    items = [spyrrow.Item(str(k), shape, count, [0.0, 90.0]) for k, (shape, count) in enumerate(shapes)]
    config = spyrrow.StripPackingConfig(
        total_computation_time=SECONDS, seed=1, num_workers=1, min_items_separation=1000 * SPACING
    )
    return float(spyrrow.StripPackingInstance("", 1000 * DEPTH, items).solve(config).width) / 1000


def main() -> None:
    print(f"strip {1000 * DEPTH:.0f} mm deep, {1000 * SPACING:.0f} mm between pieces; lengths in mm")
    print(f"{'pieces':28} {'boxes':>7} {'time':>7} {'outlines':>9} {'again':>7} {'boxes / outlines':>17}")
    for name, shapes in SETS.items():
        began = time.perf_counter()
        ours = strip_of_boxes(shapes)
        took = time.perf_counter() - began
        theirs, again = strip_of_outlines(shapes), strip_of_outlines(shapes)
        print(
            f"{name:28} {1000 * ours:7.0f} {took:5.2f} s {1000 * theirs:9.0f} {1000 * again:7.0f} {ours / theirs:17.2f}"
        )


if __name__ == "__main__":
    main()
