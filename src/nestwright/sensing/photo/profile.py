"""From an outline to a body of revolution: the radii whose silhouette, in true perspective, is the outline.

A disc of radius r at height y of the axis is seen, from a camera at distance d and height h, at the height V and half
width U of the plane through the axis. With t the depth of a point of its rim towards the camera,

    V = h + (y - h) d / (d - t),    U^2 = (d / (d - t))^2 (r^2 - t^2),

so the half width of the silhouette at V is the largest U over t. The squares q = r^2 at heights along the axis are
fitted to the squares of the measured half widths; the volume is pi times the integral of q.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.sensing.photo.pose import Camera, View, facing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Profile", "Silhouette", "revolve", "silhouette_of"]

ROWS = 72
KNOTS = 17
DEPTHS = 61
SMOOTH = 0.03
"""Weight of the second differences of q against the rows: only what the rows do not say is smoothed."""

FLAT = 0.4
"""Weight of standing on a foot as wide as the outline allows: a wide foot and a small one lower down look alike."""


@dataclass(frozen=True)
class Silhouette:
    """An outline in the plane through the axis: heights (n,) mm, half widths left and right (n,) mm.

    area: mm2. step: mm between heights.
    """

    view: View
    heights: NDArray[np.float64]
    left: NDArray[np.float64]
    right: NDArray[np.float64]
    area: float
    step: float

    @property
    def squares(self) -> NDArray[np.float64]:
        """Squares of the half widths, mean of both sides: a body of two halves has the mean of their volumes."""
        return (self.left**2 + self.right**2) / 2


@dataclass(frozen=True)
class Profile:
    """A body of revolution: heights of the axis (k,) mm and squares of the radii there (k,) mm2."""

    heights: NDArray[np.float64]
    squares: NDArray[np.float64]
    misfit: float

    @property
    def volume(self) -> float:
        """mm3; q is linear between its heights."""
        q, y = self.squares, self.heights
        return float(math.pi * ((q[1:] + q[:-1]) / 2 * (y[1:] - y[:-1])).sum())

    @property
    def height(self) -> float:
        """mm"""
        return float(self.heights[-1] - self.heights[0])

    @property
    def width(self) -> float:
        """Largest diameter, mm."""
        return 2.0 * math.sqrt(float(self.squares.max()))


def silhouette_of(camera: Camera, outline: NDArray[np.float64], behind: float) -> Silhouette:
    """The outline (n, 2), px of the working picture, of a garden whose middle is `behind` mm before the sheet.

    Raises
    ------
    InputError
        When the outline is no area or lies where the camera cannot see it.
    """
    import cv2
    import numpy as np

    view = facing(camera, outline, behind)
    for last in (False, True):
        points = view.plane(outline)
        low, high = points.min(axis=0), points.max(axis=0)
        size = high - low
        if not np.isfinite(points).all() or size.min() < 1.0 or size.max() > 5000.0:
            raise InputError("the garden's outline is no area that can be measured", field="outline")
        cells = 600.0 / size.max()
        whole = np.maximum(1, np.ceil(size * cells).astype(int)) + 2
        grid = np.zeros((int(whole[1]), int(whole[0])), np.uint8)
        # cell i covers i to i + 1, its middle is where OpenCV has the whole number
        cv2.fillPoly(grid, [np.round((points - low) * cells * 16 + 16 * 0.5).astype(np.int32)], 255, shift=4)
        inside = grid > 0
        # OpenCV fills the rim as well, half a cell all around
        inside = cv2.erode(grid, np.ones((2, 2), np.uint8), anchor=(0, 0)) > 0
        centres = low[0] + (np.arange(grid.shape[1]) + 0.5 - 0.5) / cells
        widths = inside.sum(axis=1) / cells
        middles = np.where(widths > 0, (inside * centres).sum(axis=1) / np.maximum(inside.sum(axis=1), 1), 0.0)
        axis = float((middles * widths**2).sum() / max((widths**2).sum(), 1e-9))
        if last:
            break
        x, z = view.axis
        moved = (x + axis * view.level[1], z - axis * view.level[0])
        place = camera.place
        towards = np.array([place[0] - moved[0], place[2] - moved[1]])
        distance = float(np.hypot(*towards))
        view = replace(view, axis=moved, distance=distance, level=towards / distance)
    right = (inside & (centres >= axis)).sum(axis=1) / cells
    left = widths - right
    heights = low[1] + (np.arange(grid.shape[0])) / cells
    kept = widths > 0
    area = float(cv2.contourArea(points.astype(np.float32)))
    return Silhouette(view, heights[kept], left[kept], right[kept], area, 1 / cells)


def revolve(silhouette: Silhouette, squares: NDArray[np.float64] | None = None) -> Profile:
    """The body of revolution with this silhouette; `squares` in place of its own mean of both sides.

    Notes
    -----
    What no ray touches cannot be seen: the underside of an overhang and a hollow in the top. They are filled as
    smoothly as the silhouette allows.
    """
    import numpy as np
    from scipy.optimize import least_squares

    d, h = silhouette.view.distance, silhouette.view.height
    y, w2 = silhouette.heights, silhouette.squares if squares is None else squares
    bottom, top = y[0] - silhouette.step / 2, y[-1] + silhouette.step / 2
    edges = np.linspace(bottom, top, ROWS + 1)
    rows = (edges[1:] + edges[:-1]) / 2
    seen = np.interp(rows, y, w2)
    widest = math.sqrt(float(w2.max()))
    if widest >= 0.7 * d:
        raise InputError("the camera would stand in the garden", found=f"{d:.0f} mm away, {2 * widest:.0f} mm wide")
    rim = np.array([0.5, 1.5, 3.0]) * (edges[1] - edges[0])
    rows = np.concatenate([bottom - rim[::-1], rows, top + rim])
    seen = np.concatenate([np.zeros(3), seen, np.zeros(3)])
    depth = np.linspace(-1.0, 1.0, DEPTHS) * widest * 1.1
    stretch = (d / (d - depth)) ** 2
    at = h + (rows[:, None] - h) * (1 - depth[None, :] / d)

    def ends(q: NDArray[np.float64]) -> tuple[float, float]:
        """Heights of foot and top whose rims are the lowest and highest points that are seen."""
        foot, head = math.sqrt(max(q[0], 0.0)), math.sqrt(max(q[-1], 0.0))
        low = h + (bottom - h) * (1 - (foot if bottom < h else -foot) / d)
        high = h + (top - h) * (1 - (-head if top < h else head) / d)
        return low, max(high, low + 0.05 * (top - bottom))

    def drawn(q: NDArray[np.float64]) -> NDArray[np.float64]:
        low, high = ends(q)
        place = (at - low) / (high - low)
        here = np.interp(place, np.linspace(0, 1, KNOTS), q, left=-1.0, right=-1.0)
        wide = np.where(here >= 0, stretch * (here - depth**2), 0.0)
        return np.asarray(np.maximum(wide.max(axis=1), 0.0))

    scale = float(w2.max())

    def misfit(q: NDArray[np.float64]) -> NDArray[np.float64]:
        smooth = np.diff(q, 2) * SMOOTH * KNOTS
        stands = [FLAT * (q[0] - foot**2)]
        return np.concatenate([drawn(q) - seen, smooth, stands]) / scale

    def start(foot: float) -> NDArray[np.float64]:
        """The half widths themselves, above a foot of this radius."""
        low = h + (bottom - h) * (1 - (foot if bottom < h else -foot) / d)
        q = np.interp(np.linspace(low, top, KNOTS), y, w2)
        q[0] = foot**2
        return q.clip(1e-3 * scale, 1.1 * scale)

    # a foot is told from an underside only by the lowest part of the outline: begin with a flat, wide one
    radii = np.linspace(widest, 0.0, 40)
    lows = h + (bottom - h) * (1 - (radii if bottom < h else -radii) / d)
    fits = np.interp(lows, y, w2, left=0.0) >= radii**2
    foot = float(radii[np.argmax(fits)]) if fits.any() else 0.0
    tries = [
        least_squares(misfit, start(part), bounds=(0.0, 1.2 * scale), x_scale=scale, diff_step=1e-4, max_nfev=40)
        for part in (foot, 0.6 * foot)
    ]
    solved = min(tries, key=lambda one: float(one.cost))
    low, high = ends(solved.x)
    rms = float(np.sqrt(np.mean((drawn(solved.x) - seen) ** 2))) / scale
    return Profile(np.linspace(low, high, KNOTS), solved.x, rms)
