"""What a photograph of a garden tells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from nestwright.sensing.photo.colour import ColourShares

__all__ = ["GardenPhoto"]


@dataclass(frozen=True)
class GardenPhoto:
    """A garden measured from one view or two.

    volume, low, high: mL, the range holds nine in ten. error_relative: half of the range over the volume.
    parts: the same for each source of error. height, width: mm; area: cm2 of the silhouette; scale: mm per pixel of
    the picture at the garden; tilt, distance: of the camera, deg and mm. outline: pixels of the picture; outline_mm: in
    the upright plane through the garden's middle, from the middle of its foot. fill: volume over the bell's
    inner volume, or None. taken: date and time as the picture has it, or "". views: 1 or 2; the fields are of
    the first picture.
    """

    volume_ml: float
    low: float
    high: float
    error_relative: float
    parts: dict[str, float]
    height_mm: float
    width_mm: float
    area_cm2: float
    scale_mm_per_px: float
    tilt_deg: float
    distance_mm: float
    markers: int
    outline_px: tuple[tuple[float, float], ...]
    outline_mm: tuple[tuple[float, float], ...]
    colours: tuple[ColourShares, ...]
    patch: bool
    fill: float | None
    views: int
    taken: str
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """The result as data."""
        return {
            "volume_mL": self.volume_ml,
            "low_mL": self.low,
            "high_mL": self.high,
            "error_relative": self.error_relative,
            "error_parts": dict(self.parts),
            "height_mm": self.height_mm,
            "width_mm": self.width_mm,
            "area_cm2": self.area_cm2,
            "scale_mm_per_px": self.scale_mm_per_px,
            "tilt_deg": self.tilt_deg,
            "distance_mm": self.distance_mm,
            "markers": self.markers,
            "fill": self.fill,
            "views": self.views,
            "taken": self.taken,
            "patch": self.patch,
            "colours": [shares.to_dict() for shares in self.colours],
            "outline_px": [list(point) for point in self.outline_px],
            "outline_mm": [list(point) for point in self.outline_mm],
            "notes": list(self.notes),
        }
