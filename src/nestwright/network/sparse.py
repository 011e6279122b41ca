"""Sparse LU of a matrix whose pattern never changes: analysed once, factorised without search.

The network couples each zone with its neighbours only, so its Jacobian stays sparse after a minimum-degree
ordering (Amestoy, Davis & Duff 1996, doi:10.1137/S0895479894278952, states the idea used here in its
simplest form). No pivoting: the matrices are I/(h g) - J of a dissipative system, with a dominant diagonal.
"""

from __future__ import annotations

from typing import NamedTuple

import numba as nb
import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]


class Pattern(NamedTuple):
    """Analysed pattern. Rows are in elimination order; `position[i]` is the row of state i."""

    size: int
    position: Ints
    row_start: Ints
    column: Ints
    diagonal: Ints
    pair_row_start: Ints
    """Per row: first elimination pair (i, k)."""
    pair_slot: Ints
    pair_pivot: Ints
    target_start: Ints
    target: Ints


def minimum_degree(size: int, rows: Ints, columns: Ints, first: Ints, last: Ints) -> NDArray[np.int64]:
    """Elimination order of the states, `first` ahead of all and `last` behind all."""
    fixed = set(first.tolist()) | set(last.tolist())
    near: dict[int, set[int]] = {i: set() for i in range(size) if i not in fixed}
    for r, c in zip(rows.tolist(), columns.tolist(), strict=True):
        if r != c and r in near and c in near:
            near[r].add(c)
            near[c].add(r)
    order = list(first.tolist())
    while near:
        pick = min(near, key=lambda i: (len(near[i]), i))
        ring = near.pop(pick)
        for i in ring:
            near[i] |= ring
            near[i] -= {i, pick}
        order.append(pick)
    return np.array(order + last.tolist(), dtype=np.int64)


def analyse(size: int, rows: Ints, columns: Ints, first: Ints, last: Ints) -> tuple[Pattern, Ints]:
    """Pattern with fill-in, and the slot in it of each given (row, column) entry."""
    order = minimum_degree(size, rows, columns, first, last)
    position = np.empty(size, dtype=np.int32)
    position[order] = np.arange(size, dtype=np.int32)
    filled: list[set[int]] = [{i} for i in range(size)]
    for r, c in zip(position[rows].tolist(), position[columns].tolist(), strict=True):
        filled[r].add(c)
    upper: list[list[int]] = []
    for i in range(size):
        row = filled[i]
        queue = sorted(k for k in row if k < i)
        done = 0
        while done < len(queue):
            k = queue[done]
            done += 1
            new = [j for j in upper[k] if j not in row]
            if new:
                row.update(new)
                queue = queue[:done] + sorted(set(queue[done:]) | {j for j in new if j < i})
        upper.append(sorted(j for j in row if j > i))
    slot: list[dict[int, int]] = []
    row_start: list[int] = [0]
    column: list[int] = []
    diagonal: list[int] = []
    for i in range(size):
        ordered = sorted(filled[i])
        slot.append({j: len(column) + n for n, j in enumerate(ordered)})
        diagonal.append(slot[i][i])
        column.extend(ordered)
        row_start.append(len(column))
    pair_row_start: list[int] = [0]
    pair_slot: list[int] = []
    pair_pivot: list[int] = []
    target_start: list[int] = []
    target: list[int] = []
    for i in range(size):
        for k in sorted(j for j in filled[i] if j < i):
            pair_slot.append(slot[i][k])
            pair_pivot.append(k)
            target_start.append(len(target))
            target.extend(slot[i][j] for j in upper[k])
        pair_row_start.append(len(pair_slot))
    target_start.append(len(target))

    def ints(values: list[int]) -> Ints:
        return np.array(values, dtype=np.int32)

    pattern = Pattern(
        size,
        position,
        ints(row_start),
        ints(column),
        ints(diagonal),
        ints(pair_row_start),
        ints(pair_slot),
        ints(pair_pivot),
        ints(target_start),
        ints(target),
    )
    slots = ints([slot[int(position[r])][int(position[c])] for r, c in zip(rows, columns, strict=True)])
    return pattern, slots


@nb.njit(cache=True, nogil=True, error_model="numpy")
def factorise(p: Pattern, a: Floats, inverse: Floats) -> bool:
    """LU in place; `inverse` receives 1/pivot. False when a pivot is zero or not a number."""
    for i in range(p.size):
        for q in range(p.pair_row_start[i], p.pair_row_start[i + 1]):
            k = p.pair_pivot[q]
            s = p.pair_slot[q]
            factor = a[s] * inverse[k]
            a[s] = factor
            if factor != 0.0:
                u = p.diagonal[k] + 1
                t = p.target_start[q]
                for n in range(p.target_start[q + 1] - t):
                    a[p.target[t + n]] -= factor * a[u + n]
        pivot = a[p.diagonal[i]]
        if not abs(pivot) > 0.0:
            return False
        inverse[i] = 1.0 / pivot
    return True


@nb.njit(cache=True, nogil=True, error_model="numpy")
def solve(p: Pattern, a: Floats, inverse: Floats, right: Floats, work: Floats) -> None:
    """Overwrite `right` (in the order of the states) with the solution."""
    n = p.size
    for i in range(n):
        work[p.position[i]] = right[i]
    for i in range(n):
        total = work[i]
        for s in range(p.row_start[i], p.diagonal[i]):
            total -= a[s] * work[p.column[s]]
        work[i] = total
    for i in range(n - 1, -1, -1):
        total = work[i]
        for s in range(p.diagonal[i] + 1, p.row_start[i + 1]):
            total -= a[s] * work[p.column[s]]
        work[i] = total * inverse[i]
    for i in range(n):
        right[i] = work[p.position[i]]
