"""Invented parcels for the tests, from a text with a few places to fill."""

from nestwright.document import load_document
from nestwright.parcel.file import parcel_from

TEXT = """
name = "Test"
species = "Atta cephalotes"
dispatch = 2027-01-13T16:00:00
packed_at = "22 degC"
[box]
width = "200 mm"
depth = "150 mm"
height = "150 mm"
layers = ["4 mm corrugated board", "30 mm EPS"]
seam_gap = "1 mm"
[filler]
material = "crumpled paper"
share = "70 %"
[cup]
volume = "250 mL"
holes = { count = 12, width = "1 mm" }
garden = "60 mL"
workers = 60
cotton = "8 g"
[[pack]]
kind = "heat"
place = "side"
iron = "40 g"
duration = "40 h"
[[leg]]
name = "van"
hours = 24
outside = "5 degC, 70 %"
"""


def made(*changes):
    """The parcel of TEXT with (old, new) pairs of text changed."""
    text = TEXT
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return parcel_from(load_document(text, "parcel.toml"))
