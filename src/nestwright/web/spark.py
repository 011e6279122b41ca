"""A small line of a channel's readings, as the path of an SVG."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from nestwright.workshop.readings import Moments, Values
from nestwright.workshop.traces import Trace

__all__ = ["HIGH", "WIDE", "curve", "spark"]

WIDE, HIGH = 160, 36
"""Size of the drawing, in its own units."""
EDGE = 3
FLAT = 4.0
"""Standard errors of a reading that the height spans at the least: noise is not drawn as weather (judgement)."""


def spark(found: Trace) -> str:
    """The line's path, broken where nothing was read; "" without readings."""
    error = float(np.nanmax(found.error)) if np.isfinite(found.error).any() else 0.0
    return curve(found.at, found.mean, found.start, found.end, found.breaks, FLAT * error)


def curve(
    at: Moments,
    value: Values,
    begin: int,
    end: int,
    breaks: NDArray[np.int64] | None = None,
    least_span: float = 0.0,
) -> str:
    """The path of values (n,) at moments (n,), UTC ms, from `begin` to `end`; its height is at least `least_span` of
    the value, and it is broken before the points `breaks`."""
    if not len(at):
        return ""
    least, most = float(value.min()), float(value.max())
    half = max(most - least, least_span, 1e-9) / 2
    x = (at - begin) / max(1, end - begin) * WIDE
    y = HIGH / 2 - (value - (least + most) / 2) / half * (HIGH / 2 - EDGE)
    broken = {0, *(breaks.tolist() if breaks is not None else ())}
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    steps = [f"{'M' if k in broken else 'L'}{a:.1f} {b:.1f}" for k, (a, b) in enumerate(points)]
    # one reading alone is a dot: a line of no length with round ends
    alone = [k for k in broken if k + 1 in broken or k + 1 == len(points)]
    return "".join(steps) + "".join(f"M{points[k][0]:.1f} {points[k][1]:.1f}h0" for k in alone)
