"""The marker sheet as it is printed: sizes, markers, line, patch and panel are where the measurement takes them."""

import re
import zlib

import cv2
import numpy as np
import pytest

from nestwright.errors import InputError
from nestwright.sensing.photo import PAPERS, paper_of, sheet_pdf, sheet_png
from nestwright.sensing.photo.sheet import GREY, LINE, MARKER, PANEL, PANEL_COLOUR, PATCH, marker_corners
from nestwright.sensing.photo.values import photo_values

DPI = 200
SIZES = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""ISO 216 and ANSI/ASME Y14.1, long side across, mm."""


@pytest.fixture(scope="module", params=PAPERS)
def printed(request):
    picture = cv2.imdecode(np.frombuffer(sheet_png(PAPERS[request.param], DPI), np.uint8), cv2.IMREAD_COLOR)
    return request.param, picture[..., ::-1]


def pixel(name, x, y):
    w, h = SIZES[name]
    return (x + w / 2) * DPI / 25.4, (h / 2 - y) * DPI / 25.4


def test_paper_of_its_true_size(printed):
    name, picture = printed
    width, height = SIZES[name]
    assert picture.shape[1] == pytest.approx(width * DPI / 25.4, abs=1.5)
    assert picture.shape[0] == pytest.approx(height * DPI / 25.4, abs=1.5)
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", sheet_pdf(PAPERS[name]))
    assert [float(v) for v in box.groups()] == pytest.approx([width * 72 / 25.4, height * 72 / 25.4], abs=0.01)


def test_markers_where_the_measurement_takes_them(printed):
    name, picture = printed
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    found, numbers, _ = cv2.aruco.ArucoDetector(book).detectMarkers(np.ascontiguousarray(picture[..., ::-1]))
    known = {n: xy for n, (paper, xy) in marker_corners().items() if paper is PAPERS[name]}
    assert sorted(np.ravel(numbers)) == sorted(known)
    for corners, number in zip(found, np.ravel(numbers), strict=True):
        expected = [pixel(name, x, y) for x, y in known[int(number)]]
        assert np.abs(corners.reshape(4, 2) - expected).max() < 1.6  # of 252 px
        side = np.linalg.norm(corners.reshape(4, 2)[0] - corners.reshape(4, 2)[1]) * 25.4 / DPI
        assert side == pytest.approx(MARKER, abs=0.3)


def test_the_control_line_is_100_mm(printed):
    name, picture = printed
    _, y = pixel(name, 0, 76.2)
    dark = np.nonzero(picture[round(y), :, :].max(axis=1) < 100)[0]
    assert len(dark) * 25.4 / DPI == pytest.approx(LINE, abs=0.5)


def test_patch_and_panel(printed):
    name, picture = printed
    for (left, bottom, right, top), colour in ((PATCH, (GREY,) * 3), (PANEL, PANEL_COLOUR)):
        x1, y1 = pixel(name, left + 1, top - 1)
        x2, y2 = pixel(name, right - 1, bottom + 1)
        inside = picture[round(y1) : round(y2), round(x1) : round(x2)]
        assert np.abs(inside.astype(int) - colour).max() <= 1
    linear = ((GREY / 255 + 0.055) / 1.055) ** 2.4  # IEC 61966-2-1
    assert linear == pytest.approx(photo_values()["card_reflectance"].value, abs=0.005)


def test_nothing_within_5_mm_of_the_paper_s_edge(printed):
    """Printers leave a margin; 5 mm is common practice, no source."""
    _, picture = printed
    rim = round(5 * DPI / 25.4)
    inner = picture[rim:-rim, rim:-rim]
    assert picture.astype(int).sum() - inner.astype(int).sum() == 255 * (picture.size - inner.size)


def test_the_same_bytes_every_time_and_fonts_inside():
    from nestwright.sensing.photo.sheet import _compiled

    one = sheet_pdf(PAPERS["a4"])
    _compiled.cache_clear()
    assert sheet_pdf(PAPERS["a4"]) == one
    text = one
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", one, re.S):
        try:
            text += zlib.decompress(stream)
        except zlib.error:
            continue
    fonts = set(re.findall(rb"/BaseFont\s*/[A-Z]{6}\+([\w-]+)", text))
    assert fonts, "fonts are embedded as subsets, which have a tag of six letters"
    assert re.search(rb"/FontFile[23]", text)
    assert b"/Subtype /Image" not in text, "drawn in vectors"


def test_an_unknown_paper_is_refused():
    with pytest.raises(InputError, match="did you mean 'letter'"):
        paper_of("leter")


def test_values_are_complete():
    for name, value in photo_values().items():
        assert value.low <= value.value <= value.high, name
        assert value.mark in {"published", "secondary", "derived", "judgement"}
        assert len(value.source) > 5
        assert value.unit
        assert value.mark != "judgement" or value.low < value.high
