"""The garden's outline: proposed from colours and what the sheet tells, kept as a file that can be corrected."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.sensing.photo.colour import Light, balanced
from nestwright.sensing.photo.sheet import LINE, PANEL

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestwright.sensing.photo.picture import Picture
    from nestwright.sensing.photo.pose import Camera

__all__ = ["outline_of_mask", "propose_outline", "read_outline"]

WORK = 1000
"""Long side, px, at which the garden is told from what is around it."""
BLUE = -12.0
"""CIELAB b* below which, with a hue that is not red, the panel is seen; the panel has about -50."""
SURE = 2.2
"""How unlike the background, in its own reach, a pixel is garden for certain."""
ALIKE = 0.3
"""How unlike the background, in its own reach, a pixel may be and be background for certain."""
POINTS = 240
"""Points of a proposed outline at most: few enough to be moved by hand."""


def propose_outline(
    picture: Picture,
    camera: Camera | None,
    light: Light,
    around: tuple[float, float, float, float] | None = None,
    line: float = LINE,
) -> NDArray[np.float64]:
    """Outline (n, 2), px of the working picture, of what is likeliest to be the garden.

    Before the sheet's panel the garden is what is not blue; elsewhere it is what differs from the picture's rim, the
    sheet and the table. Both are only the beginning of a cut of the picture by colours (GrabCut).

    Parameters
    ----------
    around : x1, y1, x2, y2 of a box, px of the working picture, that holds the whole garden and little else.

    Raises
    ------
    InputError
        When nothing stands out.

    References
    ----------
    Rother, Kolmogorov and Blake 2004, doi:10.1145/1015706.1015720.
    """
    import cv2
    import numpy as np

    height, width = picture.pixels.shape[:2]
    part = min(1.0, WORK / max(height, width))
    size = (max(1, round(width * part)), max(1, round(height * part)))
    pixels = cv2.resize(picture.pixels, size, interpolation=cv2.INTER_AREA) if part < 1 else picture.pixels
    colours = balanced(cv2.bilateralFilter(pixels, 5, 25, 5), light)
    sheet, panel, strip = _sheet_masks(camera, size, part, line)
    colours = np.dstack([colours, _texture(balanced(pixels, light)[..., 0])])
    start = _start(colours, sheet, panel, strip, around, part)
    mask = _cut(pixels, start)
    mask = _tidied(mask)
    if mask is None:
        raise InputError(
            "no garden stands out in the picture",
            file=picture.name,
            allowed="a box about it with --around, or an outline with --outline",
        )
    return (outline_of_mask(mask.astype(np.float32)) + 0.5) / part - 0.5


def outline_of_mask(cover: NDArray[Any], points: int = POINTS) -> NDArray[np.float64]:
    """Outline (n, 2), px, of the largest area in a mask of 0 to 1 (height, width)."""
    import cv2
    import numpy as np

    fine = cv2.resize(cv2.GaussianBlur(np.asarray(cover, np.float32), (0, 0), 1.0), None, fx=4, fy=4)
    contours, _ = cv2.findContours((fine > 0.5).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        raise InputError("no garden stands out in the picture", field="outline")
    longest = max(contours, key=cv2.contourArea).reshape(-1, 2).astype(float)
    # the contour runs through the middles of the last cells inside, half a fine cell within the edge
    middle = longest.mean(axis=0)
    away = longest - middle
    longest = longest + 0.5 * away / np.maximum(np.linalg.norm(away, axis=1, keepdims=True), 1e-9)
    step = max(1, math.ceil(len(longest) / points))
    return np.asarray((longest[::step] + 0.5) / 4 - 0.5)


def _sheet_masks(camera: Camera | None, size: tuple[int, int], part: float, line: float) -> tuple[Any, Any, Any]:
    """Where sheet, panel and the white strip under it are, as masks; empty without a sheet."""
    import cv2
    import numpy as np

    sheet, panel, strip = (np.zeros(size[::-1], np.uint8) for _ in range(3))
    if camera is not None and camera.paper is not None:
        w, h = camera.paper.width / 2, camera.paper.height / 2
        below = (-w, -h, w, PANEL[1])
        for mask, (left, bottom, right, top) in ((sheet, (-w, -h, w, h)), (panel, PANEL), (strip, below)):
            corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]]) * line / LINE
            seen = (camera.project(np.c_[corners, np.zeros(4)]) + 0.5) * part - 0.5
            cv2.fillPoly(mask, [np.round(np.clip(seen, -9000, 9000) * 16).astype(np.int32)], 255, shift=4)
    return sheet > 0, panel > 0, strip > 0


def _start(colours: Any, sheet: Any, panel: Any, strip: Any, around: Any, part: float) -> Any:
    """First guess for the cut: GrabCut's marks of sure and likely garden and background."""
    import cv2
    import numpy as np

    height, width = sheet.shape
    start = np.full(sheet.shape, cv2.GC_BGD, np.uint8)
    blue = (colours[..., 2] < BLUE) & (colours[..., 1] < 25)
    small = max(3, round(0.006 * max(height, width)) | 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (small, small))
    inner = cv2.erode(panel.astype(np.uint8), disc, borderValue=0) > 0
    before = cv2.morphologyEx((inner & ~blue).astype(np.uint8), cv2.MORPH_OPEN, disc) > 0
    before = _largest(before)
    box = None
    if around is not None:
        x1, y1, x2, y2 = (round((v + 0.5) * part - 0.5) for v in around)
        box = (max(0, min(x1, x2)), max(0, min(y1, y2)), min(width, max(x1, x2)), min(height, max(y1, y2)))
    elif panel.any() and before.sum() > 0.002 * panel.sum():
        rows, columns = np.nonzero(before)
        wide = np.ptp(columns) + 1
        tall = np.ptp(rows) + 1
        # where only the top is before the panel, the garden goes on below it and may be much wider there
        more = round((0.15 if tall > 0.6 * wide else 0.5) * wide) + small
        below = rows.max() + round((0.75 if tall > 0.6 * wide else 1.4) * wide) + small * 3
        box = (
            max(0, columns.min() - more),
            max(0, rows.min() - small),
            min(width, columns.max() + more),
            min(height, below),
        )
    else:
        before[:] = False
    known = _background(sheet, box)
    # the edge of the sheet is neither paper nor table; both are alike in themselves, together they are not
    wide = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * small + 1, 2 * small + 1))
    score = _unlike(colours, known & ~(cv2.dilate(sheet.astype(np.uint8), wide) > 0))
    paper = known & (cv2.erode(strip.astype(np.uint8), disc, borderValue=0) > 0)
    if before.any() and paper.sum() > 50:
        score = np.minimum(score, _unlike(colours, paper))
    likely = score > 1.0
    if box is None:
        likely &= ~(cv2.dilate(sheet.astype(np.uint8), disc) > 0)
        likely = cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_OPEN, disc) > 0
        # what lies near together is one thing, but what lies between is not part of it: it may be air under a bell
        likely &= _largest(cv2.morphologyEx(likely.astype(np.uint8), cv2.MORPH_CLOSE, disc, iterations=2) > 0, True)
        if not likely.any():
            return start
        rows, columns = np.nonzero(likely)
        more = round(0.15 * (np.ptp(columns) + 1)) + small
        box = (
            max(0, columns.min() - more),
            max(0, rows.min() - more),
            min(width, columns.max() + more),
            min(height, rows.max() + more),
        )
        # what lies round about tells better than the picture's rim
        near = _unlike(colours, _background(sheet, box) & ~(cv2.dilate(sheet.astype(np.uint8), wide) > 0))
        score = near
        likely = near > 1.0
    inside = np.zeros_like(likely)
    inside[box[1] : box[3], box[0] : box[2]] = True
    oval = np.zeros_like(likely)
    if around is not None and likely[inside].mean() < 0.15:
        # what is about the box has all its colours: the middle of the box is all that tells
        drawn = np.zeros(sheet.shape, np.uint8)
        middle, half = (
            ((box[0] + box[2]) // 2, (box[1] + box[3]) // 2),
            ((box[2] - box[0]) // 2, (box[3] - box[1]) // 2),
        )
        cv2.ellipse(drawn, middle, half, 0, 0, 360, 1, -1)
        oval = drawn > 0
        likely = oval
    start[inside] = np.where(likely[inside], cv2.GC_PR_FGD, cv2.GC_PR_BGD)
    start[inside & blue & (panel | (sheet & ~panel))] = cv2.GC_BGD
    # smooth and of the background's colours over some breadth: background, also under a bell
    alike = cv2.morphologyEx((score < ALIKE).astype(np.uint8), cv2.MORPH_OPEN, disc) > 0
    start[alike & ~before & ~oval] = cv2.GC_BGD
    start[before & inside] = cv2.GC_FGD
    # far from all that the background has: garden, but for the rim
    start[(cv2.erode((score > SURE).astype(np.uint8), disc) > 0) & inside & ~sheet] = cv2.GC_FGD
    return start


def _texture(lightness: Any) -> Any:
    """How rough the picture is about each pixel, L* a pixel: a garden is spongy, what it stands before mostly smooth.

    The lesser of the changes across and down, so that a straight edge does not count.
    """
    import cv2
    import numpy as np

    light = lightness.astype(np.float32)
    across, down = cv2.Sobel(light, -1, 1, 0, scale=1 / 8), cv2.Sobel(light, -1, 0, 1, scale=1 / 8)
    rough = np.minimum(cv2.GaussianBlur(np.abs(across), (0, 0), 2.0), cv2.GaussianBlur(np.abs(down), (0, 0), 2.0))
    # a slanting edge or the rim of a bell is rough in a band of the blur's width and no wider
    return cv2.morphologyEx(rough, cv2.MORPH_OPEN, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (9, 9)))


def _background(sheet: Any, box: Any) -> Any:
    """Pixels that are background for certain, as a mask."""
    import numpy as np

    height, width = sheet.shape
    known = np.zeros(sheet.shape, bool)
    if box is None:
        rim = max(2, round(0.05 * min(height, width)))
        known[:rim], known[-rim:], known[:, :rim], known[:, -rim:] = True, True, True, True
        return known
    wide, tall = box[2] - box[0], box[3] - box[1]
    known[
        max(0, box[1] - tall // 8) : min(height, box[3] + tall // 4), max(0, box[0] - wide // 2) : box[2] + wide // 2
    ] = True
    known[box[1] : box[3], box[0] : box[2]] = False
    return known


def _unlike(colours: Any, known: Any) -> Any:
    """How unlike the background a pixel is: 1 at the edge of what the background has itself."""
    import cv2
    import numpy as np

    weighed = (colours * [0.6, 1.0, 1.0, 2.5]).astype(np.float32)
    samples = weighed[known]
    if len(samples) < 50:
        return np.ones(known.shape)
    if len(samples) > 8000:
        samples = samples[:: len(samples) // 8000 + 1]
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 20, 0.5)
    _, labels, centres = cv2.kmeans(np.ascontiguousarray(samples), 6, None, stop, 2, cv2.KMEANS_PP_CENTERS)
    labels = labels.ravel()
    best = np.full(known.shape, np.inf)
    for n, centre in enumerate(centres):
        own = samples[labels == n]
        if len(own) < 0.01 * len(samples):
            continue
        reach = max(6.0, 2.5 * float(np.sqrt(((own - centre) ** 2).sum(axis=1).mean())))
        off = weighed - centre
        # darker and else alike is shade on the same table
        off[..., 0] = np.where(off[..., 0] < 0, 0.5 * off[..., 0], off[..., 0])
        best = np.minimum(best, np.linalg.norm(off, axis=2) / reach)
    # what the known background itself reaches, and a little more, is no garden
    return best / max(1.3 * float(np.quantile(best[known], 0.995)), 0.4)


def _cut(pixels: Any, start: Any) -> Any:
    """GrabCut from a first guess; the guess itself where it holds too little of either side."""
    import cv2
    import numpy as np

    garden = (start == cv2.GC_FGD) | (start == cv2.GC_PR_FGD)
    if garden.sum() < 50 or (~garden).sum() < 50:
        return garden
    rows, columns = np.nonzero(start != cv2.GC_BGD)
    more = 20 + np.ptp(columns) // 4
    y1, y2 = max(0, rows.min() - more), rows.max() + more
    x1, x2 = max(0, columns.min() - more), columns.max() + more
    cut = np.ascontiguousarray(start[y1:y2, x1:x2])
    cv2.setRNGSeed(1)
    back, front = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(np.ascontiguousarray(pixels[y1:y2, x1:x2, ::-1]), cut, None, back, front, 4, cv2.GC_INIT_WITH_MASK)
    made = np.zeros(start.shape, bool)
    made[y1:y2, x1:x2] = (cut == cv2.GC_FGD) | (cut == cv2.GC_PR_FGD)
    return made


def _tidied(mask: Any) -> Any:
    """One area without holes, feelers and threads; None where nothing is left."""
    import cv2
    import numpy as np

    across = math.sqrt(max(1.0, float(mask.sum())))
    side = max(3, round(0.06 * across) | 1)
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side))
    # threads go first: the rim of a bell would be filled, ants and leaves hang on them
    broad = max(5, round(0.1 * across) | 1)
    thin = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (broad, broad))
    solid = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, thin)
    solid = cv2.morphologyEx(_largest(solid > 0).astype(np.uint8), cv2.MORPH_CLOSE, disc)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(1 - solid, connectivity=4)
    for n in range(1, count):
        # a hole in a garden is small; a large one is the air under a bell whose rim was taken for garden
        if stats[n, cv2.CC_STAT_AREA] < 0.04 * solid.sum():
            solid[labels == n] = 1
    opened = cv2.morphologyEx(solid, cv2.MORPH_OPEN, disc)
    made = _largest(opened > 0)
    return made if made.sum() >= 150 else None


def _largest(mask: Any, central: bool = False) -> Any:
    """The largest area of a mask, areas at the picture's rim passed over where `central`."""
    import cv2
    import numpy as np

    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return np.zeros_like(mask, dtype=bool)
    sizes = stats[1:, cv2.CC_STAT_AREA].astype(float)
    if central:
        x, y, w, h = (stats[1:, i] for i in range(4))
        at_rim = (x <= 1) | (y <= 1) | (x + w >= mask.shape[1] - 1) | (y + h >= mask.shape[0] - 1)
        sizes = np.where(at_rim, sizes * 0.05, sizes)
        # a garden is no thread: its area is a good share of the box about it
        sizes *= np.clip(sizes / (w * h), 0.05, 1.0)
    return labels == 1 + int(np.argmax(sizes))


def read_outline(path: str | Path, picture: Picture) -> NDArray[np.float64]:
    """A corrected outline (n, 2), px of the working picture, from a file with `outline_px` or a bare list of points.

    The result of a measurement is such a file. Raises InputError.
    """
    import numpy as np

    name = str(path)
    allowed = '{"outline_px": [[x, y], ...]}, at least 3 points, in pixels of the picture'
    try:
        told: Any = json.loads(Path(path).read_text("utf-8"))
    except OSError as error:
        raise InputError("cannot be read", file=name, found=error.strerror or str(error)) from None
    except UnicodeDecodeError:
        raise InputError("is not text in UTF-8", file=name, allowed=allowed) from None
    except (ValueError, RecursionError) as error:
        line = getattr(error, "lineno", 0)
        raise InputError("is not JSON", file=name, line=line, found=str(error)[:80], allowed=allowed) from None
    if isinstance(told, dict):
        told = told.get("outline_px")
    shaped = (
        isinstance(told, list)
        and 3 <= len(told) <= 20000
        and all(isinstance(p, list) and len(p) == 2 and all(_number(v) for v in p) for p in told)
    )
    if not shaped:
        raise InputError("holds no outline", file=name, field="outline_px", allowed=allowed)
    points = np.asarray(told, dtype=float)
    size = np.array([picture.width, picture.height])
    if (points < -1).any() or (points > size + 1).any():
        found = next(f"{x:g}, {y:g}" for x, y in points if not (-1 <= x <= size[0] + 1 and -1 <= y <= size[1] + 1))
        allowed = f"0 to {size[0]} across, 0 to {size[1]} down"
        raise InputError(
            "a point lies outside the picture", file=name, field="outline_px", found=found, allowed=allowed
        )
    return np.asarray((points + 0.5) / picture.shrink - 0.5)


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6
