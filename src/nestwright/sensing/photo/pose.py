"""Where the camera stood: from the marker sheet, or as far as two clicks on a known length tell.

Everything later works in one frame: x to the right, y up, z towards the viewer, mm, with the garden's middle axis
upright at z = 0. A `View` turns pixels into points of the plane z = 0 that faces the camera.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.sensing.photo.colour import linear_of
from nestwright.sensing.photo.corners import refine
from nestwright.sensing.photo.sheet import DICTIONARY, LINE, Paper, marker_corners
from nestwright.sensing.photo.values import photo_values

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestwright.sensing.photo.picture import Picture

__all__ = ["Camera", "View", "camera_from_clicks", "camera_from_sheet", "facing"]

DIAGONAL_35 = math.hypot(36.0, 24.0)
"""Diagonal of a picture on 35 mm film, mm, to which equal focal lengths refer (CIPA DCG-001)."""
LEAST_MARKER = 12.0
"""Side of a marker, px, below which its corners are too coarse."""


@dataclass(frozen=True)
class Camera:
    """Camera and its place in the frame of the sheet.

    focal: px of the working picture. rotation (3, 3) and shift (3,) mm turn a point of the sheet into the camera's
    frame. middle: principal point, px. markers: how many were used. residual: root mean square of their corners, px.
    scale_error: relative standard deviation of lengths on the sheet. paper: None without a sheet.
    """

    focal: float
    middle: tuple[float, float]
    rotation: NDArray[np.float64]
    shift: NDArray[np.float64]
    markers: int
    residual: float
    scale_error: float
    paper: Paper | None

    @property
    def place(self) -> NDArray[np.float64]:
        """Where the camera stood, in the frame of the sheet, mm."""
        return -self.rotation.T @ self.shift

    def project(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 3) of the sheet's frame, mm, in pixels (n, 2)."""
        import numpy as np

        inside = points @ self.rotation.T + self.shift
        return np.asarray(self.focal * inside[:, :2] / inside[:, 2:3] + np.asarray(self.middle))

    def rays(self, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
        """Directions (n, 3) of pixels (n, 2) in the frame of the sheet."""
        import numpy as np

        bent = np.c_[(pixels - np.asarray(self.middle)) / self.focal, np.ones(len(pixels))]
        return np.asarray(bent @ self.rotation)


@dataclass(frozen=True)
class View:
    """A camera with the garden's axis: `axis` (x, z) in the sheet's frame, mm.

    distance: from the axis to the camera, level, mm. height: of the camera over the middle of the sheet, mm.
    """

    camera: Camera
    axis: tuple[float, float]
    distance: float
    height: float
    level: NDArray[np.float64]

    def plane(self, pixels: NDArray[np.float64]) -> NDArray[np.float64]:
        """Pixels (n, 2) as points (n, 2), mm, of the upright plane through the axis that faces the camera."""
        import numpy as np

        place, rays = self.camera.place, self.camera.rays(pixels)
        towards = np.array([self.level[0], 0.0, self.level[1]])
        across = np.array([self.level[1], 0.0, -self.level[0]])
        on_axis = np.array([self.axis[0], 0.0, self.axis[1]])
        along = ((on_axis - place) @ towards) / (rays @ towards)
        points = place + rays * along[:, None] - on_axis
        return np.c_[points @ across, points[:, 1]]

    def pixels(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 2), mm, of that plane in pixels (n, 2)."""
        import numpy as np

        across = np.array([self.level[1], 0.0, -self.level[0]])
        on_axis = np.array([self.axis[0], 0.0, self.axis[1]])
        return self.camera.project(on_axis + points[:, :1] * across + points[:, 1:] * np.array([0.0, 1.0, 0.0]))

    def tilt(self, y: float) -> float:
        """How far the camera looks down on height y of the axis, deg."""
        return math.degrees(math.atan2(self.height - y, self.distance))


def facing(camera: Camera, outline: NDArray[np.float64], behind: float) -> View:
    """The view of a garden whose middle stands `behind` mm before the sheet, found from its outline (n, 2), px."""
    import numpy as np

    place = camera.place
    # where the level through the outline's middle meets the plane before the sheet
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    ray = camera.rays(middle[None])[0]
    if ray[2] >= -1e-9:
        raise InputError("the garden's outline lies where the sheet's plane is not seen", field="outline")
    x = float(place[0] + ray[0] * (behind - place[2]) / ray[2])
    towards = np.array([place[0] - x, place[2] - behind])
    distance = float(np.hypot(*towards))
    if place[2] <= behind or distance < 1.0:
        raise InputError("the camera would stand behind the garden", field="--behind", found=f"{behind:.3g} mm")
    return View(camera, (x, behind), distance, float(place[1]), towards / distance)


def camera_from_sheet(picture: Picture, line: float = LINE) -> Camera | None:
    """The camera by the marker sheet in a picture; None where no marker is seen.

    The focal length comes from the file or is assumed, and is drawn towards what the markers' perspective says, each
    with its own weight. `line`: what the control line measures on the print, mm.

    Raises
    ------
    InputError
        When markers of two papers are seen, or they are too small, or fit no pose.
    """
    import cv2
    import numpy as np

    grey = cv2.cvtColor(picture.pixels, cv2.COLOR_RGB2GRAY)
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))
    options = cv2.aruco.DetectorParameters()
    options.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    light = linear_of(grey).astype(np.float32)
    found, numbers, _ = cv2.aruco.ArucoDetector(book, options).detectMarkers(grey)
    known = marker_corners()
    seen = [
        (int(n), refine(light, np.asarray(c, dtype=float).reshape(4, 2)))
        for c, n in zip(found, [] if numbers is None else np.ravel(numbers), strict=True)
        if int(n) in known
    ]
    # what is not on the sheet can look like a marker once, hardly twice
    counts = {p: sum(known[n][0] is p for n, _ in seen) for p in {known[n][0] for n, _ in seen}}
    if not counts:
        return None
    paper = max(counts, key=lambda p: counts[p])
    if len(counts) > 1 and min(counts.values()) > 1:
        raise InputError("markers of two sheets are in the picture", file=picture.name, allowed="one sheet")
    seen = [(n, c) for n, c in seen if known[n][0] is paper]
    if len({n for n, _ in seen}) < len(seen):
        raise InputError("the same marker is in the picture twice", file=picture.name, allowed="one sheet")
    side = min(float(np.linalg.norm(np.diff(c[[0, 1, 2, 3, 0]], axis=0), axis=1).min()) for _, c in seen)
    if side < LEAST_MARKER:
        allowed = f"at least {LEAST_MARKER:g} pixels"
        raise InputError("the markers are too small", file=picture.name, found=f"{side:.0f} pixels", allowed=allowed)
    flat = np.array([xy for n, _ in seen for xy in known[n][1]]) * (line / LINE)
    points = np.c_[flat, np.zeros(len(flat))]
    pixels = np.concatenate([c for _, c in seen])
    # the middle of the first pixel is 0, 0 here and in OpenCV
    middle = ((picture.pixels.shape[1] - 1) / 2, (picture.pixels.shape[0] - 1) / 2)
    focal, spread = assumed_focal(picture)
    best: tuple[float, float, Any, Any] | None = None
    for step in np.linspace(-2.5, 2.5, 21):
        trial = focal * math.exp(spread * step)
        solved = _pose(points, pixels, trial, middle)
        if solved is None:
            continue
        rotation, shift, residual = solved
        # corners are found to about 0.15 px; squares over that beside the square of the step
        cost = (residual / 0.15) ** 2 * len(pixels) + step**2
        if best is None or cost < best[0]:
            best = (cost, trial, rotation, shift)
    if best is None:
        raise InputError("the markers fit no place of the camera", file=picture.name)
    _, focal, rotation, shift = best
    found_at = Camera(focal, middle, rotation, shift, len(seen), 0.0, 0.0, paper)
    residual = float(np.sqrt(np.mean(np.sum((found_at.project(points) - pixels) ** 2, axis=1))))
    if residual > 0.02 * float(np.ptp(pixels, axis=0).max()):
        found_text = f"corners {residual:.1f} pixels off"
        raise InputError("the markers do not lie flat as on the sheet", file=picture.name, found=found_text)
    reach = float(np.ptp(pixels, axis=0).max())
    scale_error = math.hypot(photo_values()["print_scale"].value, max(residual, 0.2) / reach)
    return Camera(focal, middle, rotation, shift, len(seen), residual, scale_error, paper)


def assumed_focal(picture: Picture) -> tuple[float, float]:
    """Focal length in px of the working picture and the standard deviation of its logarithm."""
    values = photo_values()
    diagonal = math.hypot(*picture.pixels.shape[:2])
    told = picture.focal_35
    spread = values["focal_spread_exif" if told else "focal_spread"].value
    return (told or values["focal_35"].value) / DIAGONAL_35 * diagonal, spread


def _pose(points: Any, pixels: Any, focal: float, middle: tuple[float, float]) -> tuple[Any, Any, float] | None:
    """Rotation, shift and residual (px) of the better of both poses of a flat sheet, seen from its printed side."""
    import cv2
    import numpy as np

    matrix = np.array([[focal, 0.0, middle[0]], [0.0, focal, middle[1]], [0.0, 0.0, 1.0]])
    count, turns, shifts, _ = cv2.solvePnPGeneric(points, pixels, matrix, None, flags=cv2.SOLVEPNP_IPPE)
    best = None
    for turn, shift in zip(turns[:count], shifts[:count], strict=True):
        turn, shift = cv2.solvePnPRefineLM(points, pixels, matrix, None, turn, shift)
        rotation = cv2.Rodrigues(turn)[0]
        if not np.isfinite(rotation).all() or (-rotation.T @ shift.ravel())[2] <= 0:
            continue
        seen = points @ rotation.T + shift.ravel()
        residual = float(np.sqrt(np.mean(np.sum((focal * seen[:, :2] / seen[:, 2:] + middle - pixels) ** 2, axis=1))))
        if best is None or residual < best[2]:
            best = (rotation, shift.ravel(), residual)
    return best


def camera_from_clicks(
    picture: Picture, clicks: tuple[float, float, float, float], length: float, tilt: float | None = None
) -> Camera:
    """The camera as far as two clicks on a known length beside the garden tell.

    Parameters
    ----------
    picture : Picture
    clicks : x1, y1, x2, y2 in pixels of the file.
    length : mm, across the line of sight, as far away as the garden's middle.
    tilt : deg that the camera looked down; None takes the usual one.

    Raises
    ------
    InputError
        When the clicks lie outside the picture or on one another.
    """
    import numpy as np

    x1, y1, x2, y2 = clicks
    size = f"0 to {picture.width} across, 0 to {picture.height} down"
    for x, y in ((x1, y1), (x2, y2)):
        if not (0 <= x <= picture.width and 0 <= y <= picture.height):
            raise InputError("lies outside the picture", field="--scale", found=f"{x:g},{y:g}", allowed=size)
    apart = math.hypot(x2 - x1, y2 - y1) / picture.shrink
    if apart < 20:
        raise InputError("the two points lie too close", field="--scale", found=f"{apart:.3g} pixels", allowed="20 up")
    values = photo_values()
    focal, _ = assumed_focal(picture)
    height, width = picture.pixels.shape[:2]
    middle = ((width - 1) / 2, (height - 1) / 2)
    angle = math.radians(values["tilt_unknown"].value if tilt is None else tilt)
    # the clicks lie at the depth at which their length looks as large; the frame's origin is on the line of sight there
    across = math.hypot(x2 - x1, (y2 - y1) / max(math.cos(angle), 0.5)) / picture.shrink
    distance = focal * length / across
    c, s = math.cos(angle), math.sin(angle)
    rotation = np.array([[1.0, 0.0, 0.0], [0.0, -c, s], [0.0, -s, -c]])
    # camera axes: x right, y down, z forward; looking down by the angle
    shift = np.array([0.0, 0.0, distance])
    error = values["click_error"].value * math.sqrt(2.0) * max(width, height) / 1000.0 / apart
    return Camera(focal, middle, rotation, shift, 0, 0.0, math.hypot(error, values["print_scale"].value), None)
