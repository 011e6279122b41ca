"""Corners of a marker to a fraction of a pixel: where its four edges cross.

A corner sought by itself lies too far inside, for blur rounds it and the coding of light makes white spread. So each
edge is found in linear light, half way between black and white, at many places, and the edges are made to cross.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["refine"]

PLACES = 24
REACH = 0.5
"""How far across an edge is looked, in bits of the marker: the border is one bit wide, the paper about it more."""


def refine(light: NDArray[np.float32], corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Corners (4, 2), px, made finer; the given ones where an edge is not clear.

    Parameters
    ----------
    light : (height, width), linear in light.
    corners : (4, 2) in order around the marker.
    """
    import numpy as np

    lines = []
    for i in range(4):
        start, end = corners[i], corners[(i + 1) % 4]
        line = _edge(light, start, end)
        if line is None:
            return corners
        lines.append(line)
    made = np.empty((4, 2))
    for i in range(4):
        (n1, c1), (n2, c2) = lines[i - 1], lines[i]
        matrix = np.array([n1, n2])
        if abs(np.linalg.det(matrix)) < 0.2:
            return corners
        made[i] = np.linalg.solve(matrix, [c1, c2])
    side = np.linalg.norm(corners[0] - corners[2]) / 12
    return made if np.linalg.norm(made - corners, axis=1).max() < max(2.5, side) else corners


def _edge(light: Any, start: Any, end: Any) -> tuple[Any, float] | None:
    """Normal and offset of the line of one edge, px; None where too little of it is seen."""
    import cv2
    import numpy as np

    along = end - start
    length = float(np.linalg.norm(along))
    normal = np.array([-along[1], along[0]]) / max(length, 1e-9)
    reach = max(2.0, REACH * length / 6)
    count = max(9, int(reach * 4) | 1)
    across = np.linspace(-reach, reach, count)
    share = np.linspace(0.12, 0.88, PLACES)
    points = start + share[:, None, None] * along + across[None, :, None] * normal
    sampled = cv2.remap(
        light, points[..., 0].astype(np.float32), points[..., 1].astype(np.float32), cv2.INTER_LINEAR
    ).astype(float)
    # one end is black, one white; the tails of each sample tell both
    tail = max(1, count // 6)
    first, last = sampled[:, :tail].mean(axis=1), sampled[:, -tail:].mean(axis=1)
    step = last - first
    usual = float(np.median(step))
    good = np.abs(step - usual) < 0.5 * abs(usual)
    if abs(usual) < 0.01 or good.sum() < PLACES // 3:
        return None
    part = np.clip((sampled[good] - first[good, None]) / step[good, None], 0, 1)
    # the mean of a rising share says where it passes a half, whatever the blur
    spacing = across[1] - across[0]
    at = across[-1] + spacing / 2 - part.sum(axis=1) * spacing
    found = start + share[good, None] * along + at[:, None] * normal
    kept = np.abs(at - np.median(at)) < 0.7
    if kept.sum() < PLACES // 3:
        return None
    middle = found[kept].mean(axis=0)
    direction = np.linalg.svd(found[kept] - middle)[2][0]
    own = np.array([-direction[1], direction[0]])
    return own, float(own @ middle)
