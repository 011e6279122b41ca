"""Where a label fits inside the parts of a map."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["label_spots"]

LETTER, LINE, FREE = 6.7, 17.0, 4.0
"""Mean width of a letter and height of a line, and the least room beside it, px, at the pictures' type of 14 px."""
LEAST_SHARE = 0.004
"""Parts smaller than this share of the map get no label of their own."""


def label_spots(
    mask: NDArray[np.bool_], size: tuple[float, float], texts: tuple[str, ...]
) -> list[tuple[float, float, int, str]]:
    """(x px, y px, angle, text) of a label in each connected part of `mask`.

    `mask` has shape (across, up) and is drawn `size` px wide and high. The first of `texts` that fits is taken,
    level or else upright, in the middle of the widest such place. A part in which none fits has none.
    """
    from scipy.ndimage import distance_transform_edt, label

    parts, count = label(mask)
    steps = (size[0] / (mask.shape[0] - 1), size[1] / (mask.shape[1] - 1))
    found = []
    for k in range(1, count + 1):
        part = parts == k
        if part.mean() < LEAST_SHARE:
            continue
        # What lies outside the map is not free either.
        room = distance_transform_edt(np.pad(part, 1), sampling=steps)[1:-1, 1:-1]
        for text in texts:
            long = len(text) * LETTER + FREE
            level, upright = _fits(part, (long, LINE), steps), _fits(part, (LINE, long), steps)
            fits, angle = (level, 0) if level.any() else (upright, 270)
            if fits.any():
                i, j = np.unravel_index(np.where(fits, room, -1.0).argmax(), part.shape)
                found.append((float(i * steps[0]), float(size[1] - j * steps[1]), angle, text))
                break
    return found


def _fits(part: NDArray[np.bool_], box: tuple[float, float], steps: tuple[float, float]) -> NDArray[np.bool_]:
    """Where a box, in px, with its middle there lies wholly in the part."""
    half = [int(np.ceil(b / 2 / s)) for b, s in zip(box, steps, strict=True)]
    fits = np.zeros(part.shape, dtype=bool)
    across, up = (2 * n + 1 for n in half)
    if across > part.shape[0] or up > part.shape[1]:
        return fits
    # Sums over boxes from running sums.
    total = np.pad(part.astype(np.int64).cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))
    inside = total[across:, up:] - total[:-across, up:] - total[across:, :-up] + total[:-across, :-up]
    fits[half[0] : part.shape[0] - half[0], half[1] : part.shape[1] - half[1]] = inside == across * up
    return fits
