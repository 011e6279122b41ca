"""A garden measured from its photograph: printed marker sheet, outline, volume and colours, each with its error."""

from nestwright.sensing.photo.location import date_taken, strip_location
from nestwright.sensing.photo.measure import Asked, measure_photo
from nestwright.sensing.photo.outline import read_outline
from nestwright.sensing.photo.picture import Picture, picture_of, read_picture
from nestwright.sensing.photo.result import GardenPhoto
from nestwright.sensing.photo.sheet import PAPERS, paper_of, sheet_pdf, sheet_png
from nestwright.sensing.photo.volume import Bell

__all__ = [
    "PAPERS",
    "Asked",
    "Bell",
    "GardenPhoto",
    "Picture",
    "date_taken",
    "measure_photo",
    "paper_of",
    "picture_of",
    "read_outline",
    "read_picture",
    "sheet_pdf",
    "sheet_png",
    "strip_location",
]
