"""Lines of equal value on a grid, by marching squares."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["contour_lines", "finer"]

# Corners of a cell are numbered around it: (0,0), (1,0), (1,1), (0,1); side k joins corner k to corner k + 1.
_CORNERS = ((0, 0), (1, 0), (1, 1), (0, 1))


def finer(values: Array, times: int) -> Array:
    """The grid with `times` points for each step, linear between the old ones."""
    for axis in (0, 1):
        n = values.shape[axis]
        at = np.linspace(0, n - 1, (n - 1) * times + 1)
        low = np.minimum(at.astype(int), n - 2)
        part = (at - low).reshape((-1, 1) if axis == 0 else (1, -1))
        values = np.take(values, low, axis) * (1 - part) + np.take(values, low + 1, axis) * part
    return values


def contour_lines(x: Array, y: Array, values: Array, level: float) -> list[Array]:
    """Polylines, each of shape (k, 2), along which `values` (len(x), len(y)) is `level`.

    Marching squares with linear interpolation along the sides (Lorensen and Cline 1987 in two dimensions,
    doi:10.1145/37402.37422); a saddle is resolved by the mean of its four corners. Cells with a value that is
    not finite are left out.
    """
    steps: dict[tuple[int, ...], list[tuple[int, ...]]] = {}
    above, finite = values >= level, np.isfinite(values)
    crossed = sum(_corner(above, k).astype(int) for k in range(4)) % 4 != 0
    whole = np.logical_and.reduce([_corner(finite, k) for k in range(4)])
    for i, j in np.argwhere(crossed & whole).tolist():
        up = [bool(above[i + a, j + b]) for a, b in _CORNERS]
        cut = [k for k in range(4) if up[k] != up[(k + 1) % 4]]
        if len(cut) == 4 and bool(values[i : i + 2, j : j + 2].mean() >= level) != up[0]:
            cut = cut[1:] + cut[:1]
        for a, b in zip(cut[::2], cut[1::2], strict=True):
            p, q = _side(i, j, a), _side(i, j, b)
            steps.setdefault(p, []).append(q)
            steps.setdefault(q, []).append(p)
    lines = []
    # Open lines begin where only one cell is crossed: at the edge of the map.
    for start in sorted(steps, key=lambda side: len(steps[side])):
        while steps[start]:
            line, here = [start], start
            while steps[here]:
                after = steps[here].pop()
                steps[after].remove(here)
                line.append(after)
                here = after
            lines.append(np.array([_point(x, y, values, level, side) for side in line]))
    return lines


def _corner(values: NDArray[np.bool_], k: int) -> NDArray[np.bool_]:
    """Corner k of every cell."""
    a, b = _CORNERS[k]
    return values[a : values.shape[0] - 1 + a, b : values.shape[1] - 1 + b]


def _side(i: int, j: int, k: int) -> tuple[int, ...]:
    (a, b), (c, d) = _CORNERS[k], _CORNERS[(k + 1) % 4]
    return (*sorted(((i + a, j + b), (i + c, j + d)))[0], *sorted(((i + a, j + b), (i + c, j + d)))[1])


def _point(x: Array, y: Array, values: Array, level: float, side: tuple[int, ...]) -> tuple[float, float]:
    i, j, k, m = side
    part = (level - values[i, j]) / (values[k, m] - values[i, j])
    return float(x[i] + part * (x[k] - x[i])), float(y[j] + part * (y[m] - y[j]))
