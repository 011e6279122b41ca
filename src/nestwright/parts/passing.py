"""Does a body pass an opening? Cylinders and boxes, upright or laid on their side, through a circle or a rectangle.

The body moves straight through, at any fixed tilt and turn; turning on the way could let a little more pass, so "no"
is on the safe side by that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

__all__ = ["Body", "Opening", "passes", "rectangle_passes"]

_ROUNDING = 1e-9


@dataclass(frozen=True)
class Body:
    """Outer size, m: a cylinder of `width` (= `depth`) and `height`, or a box."""

    kind: Literal["cylinder", "box"]
    width: float
    depth: float
    height: float


@dataclass(frozen=True)
class Opening:
    """Clear size, m: a circle of `width` (= `depth`) or a rectangle."""

    kind: Literal["circle", "rectangle"]
    width: float
    depth: float


def passes(body: Body, opening: Opening) -> Literal["upright", "on its side", ""]:
    """How a body passes an opening: upright, on its side, or not at all ("").

    Notes
    -----
    The shadow of a cylinder tilted by t is two ellipses D by D cos t, H sin t apart, and what joins them. Across its
    axis it is D wide at every tilt, so a circle passes it if D fits, however it is tilted. A rectangle must be judged
    at t = 0 (a disc) and t = 90 degrees (a rectangle D by H, turned in its plane); no tilt between passes where both
    fail, by a search over tilts and turns of many sizes (which the tests repeat).
    """
    if body.kind == "cylinder":
        if opening.kind == "circle":
            return "upright" if body.width <= opening.width + _ROUNDING else ""
        if body.width <= min(opening.width, opening.depth) + _ROUNDING:
            return "upright"
        return "on its side" if rectangle_passes(body.width, body.height, opening) else ""
    if rectangle_passes(body.width, body.depth, opening):
        return "upright"
    sides = ((body.width, body.height), (body.depth, body.height))
    return "on its side" if any(rectangle_passes(*side, opening) for side in sides) else ""


def rectangle_passes(width: float, depth: float, opening: Opening) -> bool:
    """Whether a rectangle, turned in its plane as is best, fits into an opening.

    References
    ----------
    J. E. Wetzel, Rectangles in rectangles, Mathematics Magazine 73 (2000) 204, after W. B. Carver (1957); the page
    from memory.
    """
    if opening.kind == "circle":
        return math.hypot(width, depth) <= opening.width + _ROUNDING
    p, q = max(width, depth), min(width, depth)
    a, b = max(opening.width, opening.depth) + _ROUNDING, min(opening.width, opening.depth) + _ROUNDING
    if q > b:
        return False
    if p <= a:
        return True
    reach = p * p + q * q
    return b * reach >= 2 * p * q * a + (p * p - q * q) * math.sqrt(reach - a * a)
