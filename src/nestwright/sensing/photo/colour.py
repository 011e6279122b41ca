"""Colours under the grey patch: shares of white, grey, brown and green, by region of the garden."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from nestwright.sensing.photo.sheet import LINE, PATCH
from nestwright.sensing.photo.values import photo_values

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestwright.sensing.photo.pose import Camera
    from nestwright.sensing.photo.profile import Silhouette

__all__ = ["ColourShares", "Light", "colour_shares", "lab", "light_of", "linear_of", "shares_of"]

NAMES = ("white", "grey", "brown", "green")
TO_XYZ = ((0.4124564, 0.3575761, 0.1804375), (0.2126729, 0.7151522, 0.0721750), (0.0193339, 0.1191920, 0.9503041))
"""IEC 61966-2-1: linear sRGB to XYZ of its white, D65."""
REGIONS = ("whole", "top", "middle", "bottom")


@dataclass(frozen=True)
class ColourShares:
    """Shares of a region's pixels, 0 to 1, and the error (nine in ten) of each; `other` is none of the four."""

    region: str
    white: float
    grey: float
    brown: float
    green: float
    other: float
    error: dict[str, float]

    def to_dict(self) -> dict[str, Any]:
        """The result as data."""
        return asdict(self)


@dataclass(frozen=True)
class Light:
    """Gains (3,) of linear red, green, blue that make the grey patch neutral and as light as it is.

    known: whether a patch was seen. spread: standard deviations of the logarithms of colour and of lightness.
    """

    gains: tuple[float, float, float]
    known: bool
    spread: tuple[float, float]


def linear_of(pixels: NDArray[Any]) -> NDArray[np.float64]:
    """sRGB of 8 bits as linear light, 0 to 1 (IEC 61966-2-1)."""
    import numpy as np

    levels = np.arange(256) / 255.0
    table = np.where(levels <= 0.04045, levels / 12.92, ((levels + 0.055) / 1.055) ** 2.4)
    return np.asarray(table[pixels])


def lab(linear: NDArray[np.float64]) -> NDArray[np.float64]:
    """CIELAB (..., 3) of linear sRGB (..., 3) under D65 (CIE 15, ISO/CIE 11664-4)."""
    import numpy as np

    to_xyz = np.asarray(TO_XYZ)
    xyz = linear @ to_xyz.T / to_xyz.sum(axis=1)
    f = np.where(xyz > (6 / 29) ** 3, np.cbrt(np.maximum(xyz, 0)), xyz / (3 * (6 / 29) ** 2) + 4 / 29)
    x, y, z = np.moveaxis(f, -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def light_of(
    pixels: NDArray[np.uint8],
    camera: Camera | None,
    line: float = LINE,
    point: tuple[float, float] | None = None,
) -> Light:
    """The light in a picture by the sheet's patch, or by a `point`, px, on a grey card; unknown without either."""
    import cv2
    import numpy as np

    values = photo_values()
    height, width = pixels.shape[:2]
    inside = np.zeros((height, width), np.uint8)
    if point is not None:
        cv2.circle(inside, (round(point[0]), round(point[1])), max(3, max(height, width) // 150), 255, -1)
    elif camera is not None and camera.paper is not None:
        left, bottom, right, top = PATCH
        x, y, part = (left + right) / 2, (bottom + top) / 2, 0.6
        half = np.array([(right - left) / 2, (top - bottom) / 2]) * part
        corners = np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]) * half + [x, y]
        seen = camera.project(np.c_[corners * line / LINE, np.zeros(4)])
        if seen.min() < 0 or seen[:, 0].max() > width - 1 or seen[:, 1].max() > height - 1:
            return _unknown()
        cv2.fillConvexPoly(inside, np.round(seen).astype(np.int32), 255)
    found = pixels[inside > 0]
    # burnt out, black, or hidden by something that is no even grey: no measure of the light
    if len(found) < 20 or (found >= 254).mean() > 0.02 or np.median(found) < 8:
        return _unknown()
    seen_light = np.median(linear_of(found), axis=0)
    if float(linear_of(found).mean(axis=1).std()) > 0.35 * float(seen_light.mean()):
        return _unknown()
    if seen_light.min() <= 0 or seen_light.max() / seen_light.min() > 12:
        return _unknown()
    gains = values["card_reflectance"].value / seen_light
    return Light(
        (float(gains[0]), float(gains[1]), float(gains[2])),
        True,
        (values["gain_error"].value, values["exposure_error"].value),
    )


def _unknown() -> Light:
    values = photo_values()
    return Light((1.0, 1.0, 1.0), False, (2 * values["gain_error"].high, 2 * values["exposure_error"].high))


def shares_of(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Shares (5,) of white, grey, brown, green and other among CIELAB values (n, 3)."""
    import numpy as np

    p = photo_values()
    lightness, a, b = values.T
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a))
    pale = chroma < p["pale_chroma"].value
    white = pale & (lightness >= p["white_lightness"].value)
    brown = ~pale & (hue >= p["brown_from"].value) & (hue < p["green_from"].value)
    green = ~pale & ((hue >= p["green_from"].value) & (hue < p["green_to"].value))
    green |= ~pale & (hue + 360 < p["green_to"].value)
    parts = [white, pale & ~white, brown, green]
    found = np.array([part.mean() for part in parts])
    return np.append(found, max(0.0, 1.0 - float(found.sum())))


def colour_shares(
    pixels: NDArray[np.uint8], outline: NDArray[np.float64], silhouette: Silhouette, light: Light
) -> tuple[ColourShares, ...]:
    """Shares of colour of the whole garden and of its top, middle and bottom third.

    The error moves the gains of red and blue and the light, each by its own standard deviation.
    """
    import cv2
    import numpy as np

    inside = np.zeros(pixels.shape[:2], np.uint8)
    cv2.fillPoly(inside, [np.round(outline).astype(np.int32)], 255)
    # the rim mixes garden with what is behind it
    kernel = np.ones((3, 3), np.uint8)
    inner = cv2.erode(inside, kernel)
    rows, columns = np.nonzero(inner if inner.any() else inside)
    linear = linear_of(pixels[rows, columns])
    heights = silhouette.view.plane(np.c_[columns, rows].astype(float))[:, 1]
    low, high = float(heights.min()), float(heights.max())
    third = np.clip(((heights - low) / max(high - low, 1e-9) * 3).astype(int), 0, 2)
    kept = {"whole": np.ones(len(rows), bool), "top": third == 2, "middle": third == 1, "bottom": third == 0}
    if len(rows) > 60000:
        # a share of 60,000 pixels is exact to a fraction of a percent
        step = np.zeros(len(rows), bool)
        step[:: len(rows) // 60000 + 1] = True
        kept = {name: mask & step for name, mask in kept.items()}
    gains = np.asarray(light.gains)
    tone, level = light.spread
    moves = [np.array(m) for m in ((tone, 0, 0), (-tone, 0, 0), (0, 0, tone), (0, 0, -tone))]
    moves += [np.array((level,) * 3), np.array((-level,) * 3)]
    made = []
    for name in REGIONS:
        own = linear[kept[name]]
        if not len(own):
            continue
        middle = shares_of(lab(own * gains))
        off = [shares_of(lab(own * gains * np.exp(move))) - middle for move in moves]
        pairs = [np.maximum(np.abs(off[i]), np.abs(off[i + 1])) for i in range(0, 6, 2)]
        # 1.645: nine in ten of a normal error
        error = 1.645 * np.sqrt(sum(p**2 for p in pairs) + photo_values()["share_error"].value ** 2)
        told = {n: float(min(1.0, e)) for n, e in zip((*NAMES, "other"), error, strict=True)}
        white, grey, brown, green, other = (float(x) for x in middle)
        made.append(ColourShares(name, white, grey, brown, green, other, told))
    return tuple(made)


def balanced(pixels: NDArray[np.uint8], light: Light) -> NDArray[np.float64]:
    """CIELAB of a picture under its light."""
    import numpy as np

    gains = np.asarray(light.gains)
    if not light.known:
        # grey on the whole: enough to tell blue paper from a garden
        mean = linear_of(pixels[::4, ::4]).reshape(-1, 3).mean(axis=0)
        gains = 0.2 / np.maximum(mean, 1e-4)
    return lab(np.minimum(linear_of(pixels) * gains, 4.0))
