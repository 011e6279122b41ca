"""Photographs as files: every kind right or refused in one sentence, the place dropped, the date kept."""

import io
import struct
import zlib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from nestwright.errors import InputError
from nestwright.sensing.photo import date_taken, picture_of, read_picture, strip_location
from nestwright.sensing.photo.picture import LONGEST

SECRET = b"by the third oak"


def gradient(width=320, height=240):
    x, y = np.meshgrid(np.linspace(0, 255, width), np.linspace(0, 255, height))
    return Image.fromarray(np.dstack([x, y, 128 + 0 * x]).astype(np.uint8))


def exif(orientation=1):
    """EXIF with date, lens, place and a maker's note: tags of CIPA DC-008."""
    made = Image.Exif()
    made[0x0112], made[0x010F] = orientation, "Somebody"
    made.get_ifd(0x8769).update({0x9003: "2026:05:01 10:11:12", 0x927C: SECRET, 0xA405: 26})
    made.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 0.0)})
    return made


def saved(image, kind, **more):
    out = io.BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


WITH_PLACE = {
    "JPEG": saved(gradient(), "JPEG", exif=exif(), xmp=b"<x>exif:GPSLatitude " + SECRET + b"</x>") + b"film " + SECRET,
    "PNG": saved(gradient(), "PNG", exif=exif()),
    "WEBP": saved(gradient(), "WEBP", lossless=True, exif=exif(), xmp=b"<x>" + SECRET + b"</x>"),
}


@pytest.mark.parametrize("kind", WITH_PLACE)
def test_the_place_is_dropped_and_the_date_kept(kind):
    data = WITH_PLACE[kind]
    with Image.open(io.BytesIO(data)) as before, Image.open(io.BytesIO(strip_location(data))) as after:
        assert dict(before.getexif().get_ifd(0x8825)), "the test's own picture has a place"
        assert SECRET in data
        assert not dict(after.getexif().get_ifd(0x8825))
        assert date_taken(after) == "2026-05-01T10:11:12"
        assert after.getexif()[0x010F] == "Somebody"
        assert np.array_equal(np.asarray(before), np.asarray(after))
    assert SECRET not in strip_location(data)


def test_a_place_in_a_tiff_is_dropped():
    kept = Image.Exif()
    kept[0x0132] = "2026:05:01 10:11:12"
    kept.get_ifd(0x8825).update({1: "N", 2: (52.0, 31.0, 12.0)})
    data = saved(gradient(), "TIFF", tiffinfo=kept)
    with Image.open(io.BytesIO(strip_location(data))) as after:
        assert not dict(after.getexif().get_ifd(0x8825))
        assert date_taken(after) == "2026-05-01T10:11:12"
        assert np.array_equal(np.asarray(after), np.asarray(gradient()))


def test_stripping_twice_is_stripping_once():
    for data in WITH_PLACE.values():
        once = strip_location(data)
        assert strip_location(once) == once


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_damaged_pictures_are_refused_or_stripped(data):
    whole = WITH_PLACE[data.draw(st.sampled_from(list(WITH_PLACE)))]
    cut = bytearray(whole[: data.draw(st.integers(0, len(whole)))])
    for _ in range(data.draw(st.integers(0, 6))):
        if cut:
            cut[data.draw(st.integers(0, min(len(cut), 700) - 1))] = data.draw(st.integers(0, 255))
    for use in (strip_location, picture_of):
        try:
            made = use(bytes(cut))
        except InputError as error:
            told = str(error)
        else:
            told = "" if made else "\n"
        assert "\n" not in told


@pytest.mark.parametrize("orientation", range(1, 9))
def test_every_orientation_is_set_upright(orientation):
    """The eight values of EXIF tag 0x0112, against pillow's own transposition."""
    turned = gradient()
    back = {2: 0, 3: 3, 4: 1, 5: 5, 6: 2, 7: 6, 8: 4}
    if orientation != 1:
        turned = turned.transpose(Image.Transpose(back[orientation]))
    found = picture_of(saved(turned, "PNG", exif=exif(orientation)))
    assert found.pixels.shape == (240, 320, 3)
    assert (found.width, found.height) == (320, 240)
    assert np.array_equal(found.pixels, np.asarray(gradient()))
    assert found.focal_35 == 26
    assert found.taken == "2026-05-01T10:11:12"


def test_kinds_of_pixels():
    rgb = np.asarray(gradient())
    see = gradient().convert("RGBA")
    see.putalpha(255)
    assert np.array_equal(picture_of(saved(see, "PNG")).pixels, rgb)
    see.putalpha(0)
    assert (picture_of(saved(see, "PNG")).pixels == 255).all()
    cmyk = picture_of(saved(gradient().convert("CMYK"), "TIFF")).pixels
    assert np.abs(cmyk.astype(int) - rgb).max() <= 3
    deep = Image.fromarray(np.asarray(gradient())[..., 0].astype(np.uint16) * 257)
    grey = picture_of(saved(deep, "PNG"))
    assert np.abs(grey.pixels[..., 0].astype(int) - rgb[..., 0]).max() <= 1
    assert not grey.coloured
    assert not picture_of(saved(gradient().convert("L"), "PNG")).coloured
    assert picture_of(saved(gradient().convert("P"), "PNG")).pixels.shape == rgb.shape
    assert picture_of(saved(gradient().convert("1"), "PNG")).pixels.shape == rgb.shape


def test_a_large_picture_is_made_smaller():
    data = saved(Image.new("RGB", (6000, 4000), (10, 200, 30)), "JPEG")
    found = picture_of(data)
    assert max(found.pixels.shape) <= LONGEST
    assert (found.width, found.height) == (6000, 4000)
    assert found.shrink == pytest.approx(6000 / found.pixels.shape[1])


def forged(width, height):
    """A PNG that says it is huge and holds next to nothing."""

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0" * 1000)) + chunk(b"IEND", b"")
    )


FRAMES = [gradient(), gradient().rotate(90)]
REFUSED = {
    "nothing": (b"", "is empty"),
    "text": (b"garden, 40 mL\n" * 50, "is no picture"),
    "cut off": (WITH_PLACE["JPEG"][:4000], "damaged or cut off"),
    "cut off PNG": (WITH_PLACE["PNG"][: len(WITH_PLACE["PNG"]) // 2], "damaged or cut off"),
    "tiny": (saved(gradient(40, 30), "PNG"), "too small"),
    "bomb": (forged(60000, 60000), "too many pixels"),
    "too many": (forged(14000, 14000), "too many pixels"),
    "moving GIF": (saved(FRAMES[0], "GIF", save_all=True, append_images=FRAMES[1:]), "a kind that is not measured"),
    "moving WebP": (saved(FRAMES[0], "WEBP", save_all=True, append_images=FRAMES[1:]), "more than one picture"),
    "moving PNG": (saved(FRAMES[0], "PNG", save_all=True, append_images=FRAMES[1:]), "more than one picture"),
    "pages": (saved(FRAMES[0], "TIFF", save_all=True, append_images=FRAMES[1:]), "more than one picture"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_in_one_sentence(name):
    data, said = REFUSED[name]
    with pytest.raises(InputError) as caught:
        picture_of(data, "garden.jpg")
    assert said in str(caught.value)
    assert str(caught.value).startswith("garden.jpg: ")
    assert "\n" not in str(caught.value)


def test_no_file(tmp_path):
    for path in (tmp_path / "none.jpg", tmp_path):
        with pytest.raises(InputError, match="cannot be read"):
            read_picture(path)
    with pytest.raises(InputError, match="whose place"):
        strip_location(b"garden, 40 mL")
