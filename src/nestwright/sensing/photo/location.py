"""What a photograph tells beside the picture: the date is kept, the place is dropped.

Telephones write where a picture was taken into EXIF, XMP, IPTC and the maker's own notes, and some append a film with
the same. All of it is cut from the file without touching the picture's own data.
"""

from __future__ import annotations

import io
import re
import zlib
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError

if TYPE_CHECKING:
    from PIL import Image

__all__ = ["date_taken", "strip_location"]

_EXIF_IFD, _GPS_IFD, _MAKER_NOTE, _USER_COMMENT = 0x8769, 0x8825, 0x927C, 0x9286
_DATE = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d):(\d\d):(\d\d)")
_DROPPED = {0xED: "IPTC", 0xFE: "comment"}
_PNG = b"\x89PNG\r\n\x1a\n"
_PNG_TEXT = (b"tEXt", b"zTXt", b"iTXt")


def date_taken(image: Image.Image) -> str:
    """Local time at which a picture was taken, as its EXIF says, in the form of ISO 8601; "" where it does not."""
    try:
        exif = image.getexif()
        told = exif.get_ifd(_EXIF_IFD).get(0x9003) or exif.get(0x0132) or ""
        match = _DATE.search(str(told))
    except Exception:  # a damaged block raises anything
        return ""
    if match is None:
        return ""
    year, month, day, hour, minute, second = match.groups()
    from datetime import datetime

    try:
        when = datetime(int(year), int(month), int(day), int(hour), int(minute), int(second))
    except ValueError:
        return ""
    return when.isoformat()


def strip_location(data: bytes) -> bytes:
    """The bytes of a photograph without its place.

    GPS and the maker's notes are cut from EXIF; XMP, IPTC, comments and whatever stands behind the picture's end are
    dropped. The picture itself, its orientation, profile and date taken stay as they are.

    Parameters
    ----------
    data : bytes
        A whole file: JPEG, PNG, WebP, TIFF or BMP.

    Returns
    -------
    bytes
        A file of the same kind.

    Raises
    ------
    InputError
        When it is none of these or is damaged.

    References
    ----------
    CIPA DC-008 (Exif 3.0), tags 0x8825, 0x927C; ITU-T T.81 annex B; PNG (W3C, third edition) section 11; RFC 9649.
    """
    try:
        if data[:3] == b"\xff\xd8\xff":
            return _jpeg(data)
        if data[:8] == _PNG:
            return _png(data)
        if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
            return _webp(data)
        if data[:4] in (b"II*\0", b"MM\0*"):
            return _tiff(data)
        if data[:2] == b"BM":
            return data
    except InputError:
        raise
    except Exception as error:  # decoders raise anything on damaged data
        reason = " ".join(str(error).split())[:80] or type(error).__name__
        raise InputError("the picture is damaged or cut off", found=reason) from None
    raise InputError("is no picture whose place can be dropped", allowed="JPEG, PNG, WebP, TIFF or BMP")


def _clean(block: bytes) -> bytes:
    """An EXIF block, with or without its head, rewritten without place and maker's notes; with no head."""
    from PIL import Image

    exif = Image.Exif()
    exif.load(block)
    made = Image.Exif()
    for tag, value in exif.items():
        if tag not in (_GPS_IFD, _EXIF_IFD):
            made[tag] = value
    inner = {t: v for t, v in exif.get_ifd(_EXIF_IFD).items() if t not in (_MAKER_NOTE, _USER_COMMENT)}
    if inner:
        made.get_ifd(_EXIF_IFD).update(inner)
        made[_EXIF_IFD] = dict(inner)
    written = made.tobytes()
    return written[6:] if written.startswith(b"Exif\0\0") else written


def _cleaned(block: bytes) -> bytes:
    """As `_clean`; nothing where the block cannot be read, since what is not understood may tell a place."""
    import warnings

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _clean(block)
    except Exception:
        return b""


def _jpeg(data: bytes) -> bytes:
    out, at = bytearray(b"\xff\xd8"), 2
    while True:
        if at + 2 > len(data) or data[at] != 0xFF:
            raise InputError("the picture is damaged or cut off", found=f"no marker at byte {at}")
        mark = data[at + 1]
        if mark == 0xFF:  # fill byte
            at += 1
            continue
        if mark == 0xD9:
            return bytes(out + b"\xff\xd9")
        if mark == 0x01 or 0xD0 <= mark <= 0xD7:
            out += data[at : at + 2]
            at += 2
            continue
        end = at + 2 + int.from_bytes(data[at + 2 : at + 4], "big")
        body = data[at + 4 : end]
        if end > len(data) or end < at + 4:
            raise InputError("the picture is damaged or cut off", found=f"a block of {end - at} bytes at {at}")
        if mark == 0xE1:
            if body.startswith(b"Exif\0"):
                clean = _cleaned(body)
                if clean:
                    whole = b"Exif\0\0" + clean
                    out += b"\xff\xe1" + (len(whole) + 2).to_bytes(2, "big") + whole
            # every other APP1 is XMP or its extension
        elif mark == 0xE2 and body.startswith(b"MPF\0"):
            pass  # points to pictures behind the end, which are cut off
        elif mark not in _DROPPED and not (0xE3 <= mark <= 0xEC or mark == 0xEF):
            out += data[at:end]
        at = end
        if mark == 0xDA:
            stop = _scan_end(data, at)
            out += data[at:stop]
            at = stop


def _scan_end(data: bytes, at: int) -> int:
    """Where the next marker after a scan stands: in it 0xFF is followed by 0 or a restart marker."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            raise InputError("the picture is damaged or cut off", found="no end of the picture")
        if data[at + 1] == 0 or 0xD0 <= data[at + 1] <= 0xD7:
            at += 2
        elif data[at + 1] == 0xFF:
            at += 1
        else:
            return at


def _png(data: bytes) -> bytes:
    out, at = bytearray(_PNG), 8
    while True:
        if at + 12 > len(data):
            raise InputError("the picture is damaged or cut off", found="no end of the picture")
        size, kind = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        end = at + 12 + size
        if end > len(data):
            raise InputError("the picture is damaged or cut off", found=f"a block of {size} bytes at {at}")
        if kind == b"eXIf":
            clean = _cleaned(data[at + 8 : end - 4])
            if clean:
                out += len(clean).to_bytes(4, "big") + kind + clean
                out += zlib.crc32(kind + clean).to_bytes(4, "big")
        elif kind not in _PNG_TEXT:
            out += data[at:end]
        if kind == b"IEND":
            return bytes(out)
        at = end


def _webp(data: bytes) -> bytes:
    out, at = bytearray(), 12
    while at + 8 <= len(data):
        kind, size = data[at : at + 4], int.from_bytes(data[at + 4 : at + 8], "little")
        end = at + 8 + size + size % 2
        if at + 8 + size > len(data):
            raise InputError("the picture is damaged or cut off", found=f"a block of {size} bytes at {at}")
        body = data[at + 8 : at + 8 + size]
        if kind == b"VP8X":
            body = bytes([body[0] & ~0x04]) + body[1:]  # no XMP any more
        clean = _cleaned(body) if kind == b"EXIF" else body
        if kind != b"XMP " and clean:
            out += kind + len(clean).to_bytes(4, "little") + clean + b"\0" * (len(clean) % 2)
        at = end
    return b"RIFF" + (len(out) + 4).to_bytes(4, "little") + b"WEBP" + bytes(out)


def _tiff(data: bytes) -> bytes:
    from PIL import Image

    with Image.open(io.BytesIO(data)) as image:
        frames = getattr(image, "n_frames", 1)
        if frames > 1:
            raise InputError("has more than one picture in it", found=f"{frames} pictures", allowed="one")
        image.load()
        exif = image.getexif()
        kept: Any = Image.Exif()
        for tag in (0x0112, 0x0132, 0x010F, 0x0110):
            if tag in exif:
                kept[tag] = exif[tag]
        taken = exif.get_ifd(_EXIF_IFD).get(0x9003)
        if taken and 0x0132 not in kept:
            kept[0x0132] = taken
        out = io.BytesIO()
        image.save(
            out, "TIFF", exif=kept, compression="tiff_lzw", icc_profile=image.info.get("icc_profile"), tiffinfo=kept
        )
    return out.getvalue()
