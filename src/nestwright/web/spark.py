"""A small line of a channel's last day, as the path of an SVG."""

from __future__ import annotations

import numpy as np

from nestwright.workshop.traces import Trace

__all__ = ["HIGH", "WIDE", "spark"]

WIDE, HIGH = 160, 36
"""Size of the drawing, in its own units."""
EDGE = 3
FLAT = 4.0
"""Standard errors of a reading that the height spans at the least: noise is not drawn as weather (judgement)."""


def spark(found: Trace) -> str:
    """The line's path, broken where nothing was read; "" without readings."""
    if not len(found.at):
        return ""
    least, most = float(found.mean.min()), float(found.mean.max())
    error = float(np.nanmax(found.error)) if np.isfinite(found.error).any() else 0.0
    half = max((most - least) / 2, FLAT * error / 2, 1e-9)
    x = (found.at - found.start) / max(1, found.end - found.start) * WIDE
    y = HIGH / 2 - (found.mean - (least + most) / 2) / half * (HIGH / 2 - EDGE)
    broken = {0, *found.breaks.tolist()}
    points = list(zip(x.tolist(), y.tolist(), strict=True))
    steps = [f"{'M' if k in broken else 'L'}{a:.1f} {b:.1f}" for k, (a, b) in enumerate(points)]
    # one reading alone is a dot: a line of no length with round ends
    alone = [k for k in broken if k + 1 in broken or k + 1 == len(points)]
    return "".join(steps) + "".join(f"M{points[k][0]:.1f} {points[k][1]:.1f}h0" for k in alone)
