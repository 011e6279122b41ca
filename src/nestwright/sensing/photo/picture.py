"""A photograph as it is measured: upright, eight bits, red green blue, not larger than it need be."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nestwright.errors import InputError
from nestwright.sensing.photo.location import date_taken
from nestwright.sensing.photo.values import photo_values

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

__all__ = ["FORMATS", "LONGEST", "Picture", "picture_of", "read_picture"]

FORMATS = ("JPEG", "PNG", "WEBP", "TIFF", "BMP")
LONGEST = 2400
"""Long side, px, beyond which a picture is made smaller: 0.1 mm at a hand's breadth."""
LEAST = 120
"""Short side, px, below which nothing can be measured."""
MOST_BYTES = 400_000_000


@dataclass(frozen=True)
class Picture:
    """pixels: (height, width, 3) uint8 sRGB, upright. shrink: pixels of the file per pixel here.

    width, height: of the file, upright. focal_35: focal length as of 35 mm film, mm, or 0 where the file has none.
    taken: local time as in the file ("2026-05-01T10:00:00"), or "". coloured: False for a grey picture.
    """

    pixels: NDArray[np.uint8]
    shrink: float
    width: int
    height: int
    focal_35: float
    taken: str
    coloured: bool
    name: str


def read_picture(path: str | Path) -> Picture:
    """Read a photograph.

    Orientation is applied, colours are turned to sRGB, transparency is laid on white, sixteen bits become eight, and
    a long side of more than `LONGEST` is reduced.

    Raises
    ------
    InputError
        When the file cannot be read, is no picture, is damaged or cut off, moves, is too small or too large.
    """
    name = str(path)
    try:
        if Path(path).stat().st_size > MOST_BYTES:
            raise InputError("is too large for a photograph", file=name, allowed=f"up to {MOST_BYTES // 10**6} MB")
        data = Path(path).read_bytes()
    except OSError as error:
        raise InputError("cannot be read", file=name, found=error.strerror or str(error)) from None
    return picture_of(data, name)


def picture_of(data: bytes, name: str = "") -> Picture:
    """The photograph in the bytes of a file; as `read_picture`. Raises InputError."""
    from PIL import Image

    most = photo_values()["most_megapixels"].value
    if not data:
        raise InputError("is empty", file=name, allowed=_allowed())
    try:
        with warnings.catch_warnings():
            # the limit is our own, below
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data)) as image:
                _check(image, name, most)
                return _read(image, name)
    except InputError:
        raise
    except Image.UnidentifiedImageError:
        raise InputError("is no picture that can be read", file=name, allowed=_allowed()) from None
    except Image.DecompressionBombError:
        raise InputError("has too many pixels", file=name, allowed=f"up to {most:g} million") from None
    except Exception as error:  # decoders raise anything on damaged data: OSError, SyntaxError, struct.error, ...
        reason = " ".join(str(error).split())[:80] or type(error).__name__
        raise InputError("the picture is damaged or cut off", file=name, found=reason) from None


def _allowed() -> str:
    return "JPEG, PNG, WebP, TIFF or BMP"


def _check(image: Image.Image, name: str, most: float) -> None:
    # telephones write JPEG with more pictures behind the first, which pillow calls MPO
    if image.format not in (*FORMATS, "MPO"):
        raise InputError("is of a kind that is not measured", file=name, found=str(image.format), allowed=_allowed())
    frames = getattr(image, "n_frames", 1)
    if frames > 1 and image.format != "MPO":
        raise InputError("has more than one picture in it", file=name, found=f"{frames} pictures", allowed="one")
    width, height = image.size
    if width * height > most * 1e6:
        found = f"{width} x {height}"
        raise InputError("has too many pixels", file=name, found=found, allowed=f"up to {most:g} million")
    if min(width, height) < LEAST:
        found = f"{width} x {height}"
        raise InputError("is too small to measure", file=name, found=found, allowed=f"at least {LEAST} pixels each way")


def _read(image: Image.Image, name: str) -> Picture:
    import numpy as np
    from PIL import Image, ImageOps

    taken, focal = date_taken(image), _focal(image)
    size, profile = image.size, image.info.get("icc_profile")
    # JPEG can be decoded at a half, a quarter, an eighth, which keeps a hundred megapixels small
    if max(size) > LONGEST:
        part = LONGEST / max(size)
        image.draft(None, (int(size[0] * part), int(size[1] * part)))
    image.load()
    upright: Any = ImageOps.exif_transpose(image)
    if upright.mode.startswith(("I", "F")):
        upright = _eight_bits(upright)
    coloured = upright.mode not in ("L", "LA", "1")
    if max(upright.size) > LONGEST and upright.mode not in ("P", "1", "PA"):
        part = LONGEST / max(upright.size)
        upright = upright.resize([max(1, round(side * part)) for side in upright.size], Image.Resampling.BOX)
    upright = _opaque(_srgb(upright, profile))
    turned = (upright.width > upright.height) != (size[0] > size[1])
    width, height = size[::-1] if turned else size
    if max(upright.size) > LONGEST:
        part = LONGEST / max(upright.size)
        upright = upright.resize([max(1, round(side * part)) for side in upright.size], Image.Resampling.BOX)
    pixels = np.ascontiguousarray(np.asarray(upright, dtype=np.uint8))
    return Picture(pixels, width / upright.width, width, height, focal, taken, coloured, name)


def _eight_bits(image: Image.Image) -> Image.Image:
    """Grey of sixteen bits, whole numbers or fractions as grey of eight."""
    import numpy as np
    from PIL import Image

    values = np.nan_to_num(np.asarray(image, dtype=float), posinf=0.0, neginf=0.0)
    top = float(values.max(initial=0.0))
    full = 1.0 if top <= 1.0 else 255.0 if top <= 255.0 else 65535.0 if top <= 65535.0 else top
    return Image.fromarray(np.clip(np.round(values / full * 255.0), 0, 255).astype(np.uint8))


def _srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    """In sRGB, by the profile that the file brings; a profile that cannot be read is passed over."""
    from PIL import ImageCms

    if profile and image.mode in ("RGB", "RGBA", "CMYK", "L"):
        try:
            own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            mode = "RGBA" if image.mode == "RGBA" else "RGB"
            made = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"), outputMode=mode)
            return made if made is not None else image
        except (ImageCms.PyCMSError, OSError, ValueError):
            return image
    return image


def _opaque(image: Image.Image) -> Image.Image:
    """Red, green, blue; what is transparent lies on white."""
    from PIL import Image

    if image.mode in ("RGBA", "LA", "PA", "La", "RGBa") or "transparency" in image.info:
        over = image.convert("RGBA")
        white = Image.new("RGBA", over.size, (255, 255, 255, 255))
        return Image.alpha_composite(white, over).convert("RGB")
    return image.convert("RGB")


def _focal(image: Image.Image) -> float:
    """Focal length as of 35 mm film, mm, 0 where the file has none that can be."""
    try:
        told = image.getexif().get_ifd(0x8769).get(0xA405, 0)
        focal = float(told)
    except Exception:  # an entry of any type can stand there, or a damaged block
        return 0.0
    return focal if 5.0 <= focal <= 600.0 else 0.0
