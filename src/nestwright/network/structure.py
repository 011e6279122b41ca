"""Which state of a network acts on which: looked up once for each structure, not for each set of values."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.network.arrays import ACCOUNTS, Net
from nestwright.network.kernel import evaluate
from nestwright.network.sparse import Pattern, analyse

__all__ = ["STRUCTURE", "analysed", "workspace"]

Floats = NDArray[np.float64]

STRUCTURE = ("heat", "water", "co2", "flow", "link", "opening", "surface", "permeation", "overflow", "fog", "garden",
             "heater")  # fmt: skip
"""Tables of a network that say which state acts on which; the rest are values."""
KEPT = 16
_lately: dict[tuple[object, ...], tuple[Pattern, NDArray[np.int32]]] = {}


def analysed(net: Net, y: Floats) -> tuple[Pattern, NDArray[np.int32]]:
    """The pattern of a network's Jacobian, and where the kernel writes in it.

    A structure that was analysed lately is not analysed again, whatever its values are now.
    """
    key = tuple(part for k in STRUCTURE for part in (getattr(net, k).shape, getattr(net, k).tobytes()))
    found = _lately.get(key)
    if found is None:
        found = _analyse(net, y)
        while len(_lately) >= KEPT:
            _lately.pop(next(iter(_lately)), None)
        _lately[key] = found
    return found


def _analyse(net: Net, y: Floats) -> tuple[Pattern, NDArray[np.int32]]:
    """Run the kernel once, recording where it writes."""
    most = 4 * len(net.link) * 2 + 8 * len(net.permeation) * 2 + 120 * len(net.opening) + 40 * len(net.surface)
    most += 16 * len(net.fog) + 16 * len(net.overflow) + 64 * len(net.garden) + 8 * len(net.heater) + 16
    rows, cols = np.zeros(most, np.int32), np.zeros(most, np.int32)
    count = evaluate(
        net,
        y,
        np.zeros(2),
        np.zeros(len(net.heater)),
        np.zeros(net.size),
        True,
        np.zeros(0),
        True,
        rows,
        cols,
        *workspace(net),
    )
    first = np.arange(len(ACCOUNTS), dtype=np.int32)
    last = np.array([net.heat[net.room], net.water[net.room]], dtype=np.int32)
    return analyse(net.size, rows[:count], cols[:count], first, last)


def workspace(net: Net) -> tuple[Floats, Floats, Floats, Floats]:
    """Scratch arrays of the kernel: temperatures, their slopes, zone values."""
    n = len(net.heat)
    return np.zeros(n), np.ones(n), np.zeros(n), np.zeros((17, net.zones + 1))
