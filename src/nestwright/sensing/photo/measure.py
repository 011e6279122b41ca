"""A garden measured from its photograph: marker sheet or known length, outline, body, volume, colours."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from nestwright.errors import InputError
from nestwright.sensing.photo.colour import colour_shares, light_of
from nestwright.sensing.photo.outline import propose_outline
from nestwright.sensing.photo.pose import Camera, camera_from_clicks, camera_from_sheet
from nestwright.sensing.photo.profile import Silhouette, revolve, silhouette_of
from nestwright.sensing.photo.result import GardenPhoto
from nestwright.sensing.photo.sheet import LINE, PANEL
from nestwright.sensing.photo.values import photo_values
from nestwright.sensing.photo.volume import NINE_IN_TEN, Bell, Measured, measure_one, measure_two

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from nestwright.sensing.photo.picture import Picture

__all__ = ["Asked", "measure_photo"]


@dataclass(frozen=True)
class Asked:
    """What is known beside the picture; lengths mm, points in pixels of the file.

    behind: from the sheet to the middle of the garden, None takes it from the bell or the garden's width.
    scale: x1, y1, x2, y2 and the length between. tilt: deg, used without a sheet only. line: what the control line
    measures. around: x1, y1, x2, y2 of a box with the garden in it. grey: a point on a grey card. outline: points
    (n, 2) of the working picture, in place of a proposal.
    """

    bell: Bell | None = None
    behind: float | None = None
    scale: tuple[float, float, float, float, float] | None = None
    tilt: float | None = None
    line: float = LINE
    around: tuple[float, float, float, float] | None = None
    grey: tuple[float, float] | None = None
    outline: NDArray[np.float64] | None = None


@dataclass(frozen=True)
class _Seen:
    """One picture as far as its silhouette. behind_error: mm. tilt_known: by the sheet, or stated.
    edge: standard deviation of where the edge lies, shares of the garden's width."""

    picture: Picture
    camera: Camera
    outline: NDArray[np.float64]
    silhouette: Silhouette
    behind: float
    behind_error: float
    tilt_known: bool
    edge: float
    notes: tuple[str, ...]


def measure_photo(
    picture: Picture, asked: Asked, second: Picture | None = None, asked_second: Asked | None = None
) -> GardenPhoto:
    """Volume, size and colours of a garden.

    Parameters
    ----------
    picture, second : Picture
        One view, or two from about right angles to one another.
    asked, asked_second : Asked
        What is known of each; the second takes that of the first but for points in the picture.

    Raises
    ------
    InputError
        When there is no scale, no garden, or they do not go together.
    """
    one = _see(picture, asked)
    bell = asked.bell
    seen = [one]
    if second is None:
        measured = measure_one(one.silhouette, bell)
    else:
        known = asked_second or replace(asked, scale=None, around=None, grey=None, outline=None)
        seen.append(_see(second, known))
        measured = measure_two(one.silhouette, seen[1].silhouette, bell)
    parts = dict(measured.parts)
    parts |= _errors(seen, measured)
    spread = math.sqrt(sum(p**2 for p in parts.values()))
    volume = measured.volume / 1000.0
    low, high = volume * math.exp(-NINE_IN_TEN * spread), volume * math.exp(NINE_IN_TEN * spread)
    light = light_of(picture.pixels, one.camera, asked.line, _inner(asked.grey, picture))
    colours = colour_shares(picture.pixels, one.outline, one.silhouette, light) if picture.coloured else ()
    view = one.silhouette.view
    foot = float(measured.profile.heights[0]) if second is None else float(revolve(one.silhouette).heights[0])
    flat = view.plane(one.outline) - [0.0, foot]
    middle = foot + measured.profile.height / 2
    outline_px = (one.outline + 0.5) * picture.shrink - 0.5
    whole = bell.volume if bell is not None and math.isfinite(bell.height) else None
    return GardenPhoto(
        volume_ml=volume,
        low=low,
        high=high,
        error_relative=(high - low) / (2 * volume),
        parts={name: NINE_IN_TEN * part for name, part in parts.items()},
        height_mm=measured.profile.height,
        width_mm=measured.profile.width,
        area_cm2=one.silhouette.area / 100.0,
        scale_mm_per_px=_scale(one) / picture.shrink,
        tilt_deg=view.tilt(middle),
        distance_mm=math.hypot(view.distance, view.height - middle),
        markers=one.camera.markers,
        outline_px=tuple((round(float(x), 2), round(float(y), 2)) for x, y in outline_px),
        outline_mm=tuple((round(float(x), 2), round(float(y), 2)) for x, y in flat),
        colours=colours,
        patch=light.known,
        fill=None if whole is None else measured.volume / whole,
        views=len(seen),
        taken=picture.taken,
        notes=tuple(
            dict.fromkeys([note for s in seen for note in s.notes] + _notes(measured, asked, light.known, picture))
        ),
    )


def _inner(point: tuple[float, float] | None, picture: Picture) -> tuple[float, float] | None:
    """A point of the file in the working picture."""
    if point is None:
        return None
    if not (0 <= point[0] <= picture.width and 0 <= point[1] <= picture.height):
        allowed = f"0 to {picture.width} across, 0 to {picture.height} down"
        raise InputError(
            "lies outside the picture", field="--grey", found=f"{point[0]:g},{point[1]:g}", allowed=allowed
        )
    return ((point[0] + 0.5) / picture.shrink - 0.5, (point[1] + 0.5) / picture.shrink - 0.5)


def _see(picture: Picture, asked: Asked) -> _Seen:
    """Camera, outline and silhouette of one picture."""
    values = photo_values()
    notes: list[str] = []
    if asked.scale is not None:
        camera: Camera | None = camera_from_clicks(picture, asked.scale[:4], asked.scale[4], asked.tilt)
        if asked.tilt is None:
            notes.append(
                f"how far the camera looked down is not known; {values['tilt_unknown'].value:g} deg is assumed"
            )
    else:
        camera = camera_from_sheet(picture, asked.line)
    if camera is None:
        raise InputError(
            "there is no scale: no marker of the sheet is seen",
            file=picture.name,
            allowed="the marker sheet in the picture, or --scale x1,y1,x2,y2,LENGTH",
        )
    if asked.outline is not None:
        outline = asked.outline
    else:
        light = light_of(picture.pixels, camera, asked.line, _inner(asked.grey, picture))
        around = asked.around
        if around is not None:
            a, b = (_inner_free(around[i : i + 2], picture) for i in (0, 2))
            around = (*a, *b)
        outline = propose_outline(picture, camera, light, around, asked.line)
        notes.append("the outline is a proposal: look at it with --picture, correct it with --outline")
    by_sheet = camera.paper is not None
    edge = values["edge_width" if asked.outline is not None or _on_panel(camera, outline) else "edge_unsure"].value
    if edge > values["edge_width"].value:
        notes.append("the garden is not before the blue panel: its outline is less sure")
    if not by_sheet:
        return _Seen(
            picture,
            camera,
            outline,
            silhouette_of(camera, outline, 0.0),
            0.0,
            0.0,
            asked.tilt is not None,
            edge,
            tuple(notes),
        )
    behind, error = asked.behind, values["behind_error"].value
    if behind is None:
        behind, error, note = _behind(camera, outline, asked)
        notes.append(note)
    least = values["behind_least"].value
    silhouette = silhouette_of(camera, outline, behind)
    error = math.hypot(least, error * behind)
    return _Seen(picture, camera, outline, silhouette, behind, error, True, edge, tuple(notes))


def _inner_free(point: tuple[float, ...], picture: Picture) -> tuple[float, float]:
    x, y = point
    return ((x + 0.5) / picture.shrink - 0.5, (y + 0.5) / picture.shrink - 0.5)


def _on_panel(camera: Camera, outline: NDArray[np.float64]) -> bool:
    """Whether a good part of an outline is seen against the blue panel."""
    import numpy as np

    if camera.paper is None:
        return False
    place, rays = camera.place, camera.rays(outline)
    x, y = (place + rays * (-place[2] / rays[:, 2])[:, None])[:, :2].T
    left, bottom, right, top = PANEL
    return bool(np.mean((x > left) & (x < right) & (y > bottom) & (y < top)) > 0.15)


def _behind(camera: Camera, outline: NDArray[np.float64], asked: Asked) -> tuple[float, float, str]:
    """Distance from the sheet to the garden's middle, its relative error and a note, where it was not stated."""
    import numpy as np

    values = photo_values()
    place, rays = camera.place, camera.rays(outline)
    on_sheet = place + rays * (-place[2] / rays[:, 2])[:, None]
    w, h = (np.array([camera.paper.width, camera.paper.height]) / 2) if camera.paper else (0.0, 0.0)
    over = (np.abs(on_sheet[:, 0]) < w) & (np.abs(on_sheet[:, 1]) < h)
    if over.mean() < 0.1:
        # beside the sheet nothing says that it is not as far away
        return 0.0, 0.0, "the garden is taken to stand as far away as the sheet; say with --behind if it does not"
    if asked.bell is not None:
        half = asked.bell.diameter / 2
        return (
            half,
            values["behind_error"].value,
            "the bell is taken to touch the sheet; say with --behind if it does not",
        )
    # half of the width that the outline has where it stands itself: w (d - b) / d = 2 b
    wide, far = float(np.ptp(on_sheet[:, 0])), float(place[2])
    half = wide * far / (2 * far + wide)
    return (
        half,
        values["behind_guess"].value,
        "the garden is taken to touch the sheet; say with --behind if it does not",
    )


def _scale(seen: _Seen) -> float:
    """mm per pixel of the working picture at the garden's middle."""
    import numpy as np

    middle = (seen.outline.min(axis=0) + seen.outline.max(axis=0)) / 2
    half = np.array([0.5, 0.0])
    ends = seen.silhouette.view.plane(np.array([middle - half, middle + half]))
    return float(np.hypot(*(ends[1] - ends[0])))


def _errors(seen: list[_Seen], measured: Measured) -> dict[str, float]:
    """Standard deviations of the logarithm of the volume from scale, place, outline, tilt and fit."""
    values = photo_values()
    # errors of two views are independent of one another but for the print, which is one
    both = math.sqrt(len(seen))
    parts: dict[str, float] = {}
    parts["scale"] = 3 * max(s.camera.scale_error for s in seen)
    parts["place"] = max(3 * s.behind_error / s.silhouette.view.distance for s in seen) / (
        both if len(seen) > 1 else 1.0
    )
    edge = []
    for s in seen:
        work = max(1.0, max(s.picture.pixels.shape[:2]) / 1000.0)
        off = math.hypot(values["edge_error"].value * work * _scale(s), s.edge * measured.profile.width)
        # an edge that lies further out on every side: twice on the width, squared, and on the height
        edge.append(4 * off / measured.profile.width + off / measured.profile.height)
    parts["outline"] = sum(edge) / len(edge) / both
    parts["tilt"] = max(_tilt_error(s) for s in seen)
    parts["shape"] = values["shape_fit"].value / both
    return parts


def _tilt_error(seen: _Seen) -> float:
    """What a camera that looks down by another angle makes of the volume."""
    values = photo_values()
    known = seen.tilt_known
    view = seen.silhouette.view
    usual = values["tilt_unknown"]
    off = values["tilt_error"].value if known else (usual.high - usual.low) / (2 * NINE_IN_TEN)
    middle = float(seen.silhouette.heights.mean())
    base = revolve(seen.silhouette).volume
    made = []
    for sign in (-1.0, 1.0):
        tilt = math.radians(view.tilt(middle) + sign * off)
        moved = replace(view, height=middle + view.distance * math.tan(tilt))
        made.append(revolve(replace(seen.silhouette, view=moved)).volume)
    return max(abs(math.log(v / base)) for v in made)


def _notes(measured: Measured, asked: Asked, patch: bool, picture: Picture) -> list[str]:
    notes = []
    if "heights" not in measured.parts:
        notes.append(
            "one view: the garden is taken to be as deep as wide, by judgement; a second picture from its side tells"
        )
    if measured.clipped > 0.02:
        notes.append(
            f"{100 * measured.clipped:.0f} % of the body lay outside the bell and is left out; check bell and scale"
        )
    if asked.bell is not None:
        notes.append("the bell is taken to be thin and to bend no light")
    if not picture.coloured:
        notes.append("a picture in grey tells no colours")
    elif not patch:
        notes.append("no grey patch is seen: colours are as the camera has them, with a wide error")
    return notes
