"""A paper: a template of our own and data as JSON, set by typst to PDF. Nothing of a user's text ever becomes markup.

Fonts are those that typst carries, so that a paper is the same on every machine; the same data give the same bytes.
Papers are tagged for readers of the screen (PDF/UA-1), and those that carry a day are PDF/A-2b.
"""

from __future__ import annotations

import json
import re
import unicodedata
from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from importlib import resources
from typing import Any, Literal

__all__ = ["MISSING", "STANDARDS", "Photograph", "readable", "set_paper", "shown_svg"]

STANDARDS: list[Any] = ["a-2b", "ua-1"]
MISSING = "\N{REPLACEMENT CHARACTER}"
MOST = 400
"""Letters of one text of a user's own; a paper is not where a longer one is read."""
_PRINTED = re.compile(r"[\x20-\x7e\u00a0-\u052f\u0590-\u05ff\u1e00-\u1fff\u2000-\u22ff]")
_ORDERING = re.compile(r"[\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff]")
_UNSHOWN = re.compile(r'the text `"(.+?)"` could not be displayed')
_FAMILY = re.compile(r'font-family="[^"]*"')


def readable(text: object, most: int = MOST) -> str:
    """A text as a paper can show it: one line, nothing that steers, "?" for what the fonts lack."""
    kept = []
    for c in str(text)[: 4 * most]:
        if _ORDERING.match(c):
            continue
        kept.append(" " if unicodedata.category(c)[0] in "CZ" else c if _PRINTED.match(c) else "?")
    line = " ".join("".join(kept).split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "\N{HORIZONTAL ELLIPSIS}"


def shown_svg(svg: str) -> str:
    """A picture whose letters are set in the paper's own font, as others are not there."""
    return _FAMILY.sub('font-family="Libertinus Serif"', svg)


@dataclass(frozen=True)
class Photograph:
    """A picture of pixels for a paper: the bytes of a JPEG file, and its size in pixels."""

    jpeg: bytes
    width: int
    height: int

    def svg(self) -> str:
        """The picture in a frame of SVG: typst takes pixels from files only, and SVG from data."""
        size = f'width="{self.width}" height="{self.height}"'
        data = f"data:image/jpeg;base64,{b64encode(self.jpeg).decode()}"
        space = f'xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self.width} {self.height}"'
        return f'<svg {space} {size}><image {size} href="{data}"/></svg>'


def set_paper(
    template: str,
    data: dict[str, Any],
    made: date | None,
    *,
    form: Literal["pdf", "png"] = "pdf",
    dots_per_inch: float = 150.0,
) -> bytes:
    """Set a template of `press/templates`, without its ending, with data; dated with the day `made`, or undated.

    Parameters
    ----------
    data :
        Every text is made readable first, but for pictures: SVG under a key `svg`, whose letters are set in the paper's
        own font; SVG under `drawn`, which names a font that typst carries; and each `Photograph`. What a picture shows
        stands in words beside it under `alt`.
    form :
        A picture, `png`, is of the first page, with `dots_per_inch`.
    """
    import typst

    folder = resources.files(__name__.rpartition(".")[0]) / "templates"
    source = "".join((folder / f"{name}.typ").read_text("utf-8") for name in ("house", template)).encode()
    day = None if made is None else made.isoformat()
    given = {"data": json.dumps(_cleaned(data | {"made": day}), ensure_ascii=False, sort_keys=True)}
    # a paper for keeping has a day, by its standard
    standards = STANDARDS if day else STANDARDS[1:]
    while True:
        try:
            if form == "png":
                return bytes(
                    typst.compile(source, format="png", ppi=dots_per_inch, ignore_system_fonts=True, sys_inputs=given)
                )
            return bytes(
                typst.compile(
                    source, format="pdf", ignore_system_fonts=True, sys_inputs=given, pdf_standards=standards,
                    timestamp=0,
                )
            )  # fmt: skip
        except typst.TypstError as error:
            unshown = _UNSHOWN.search(str(error))
            if unshown is None or "?" in unshown[1]:
                raise
            # a letter of a block that is printed which the font lacks all the same
            for letter in set(unshown[1]):
                given["data"] = given["data"].replace(letter, "?")


def _cleaned(value: Any, key: str = "") -> Any:
    if isinstance(value, str):
        return shown_svg(value) if key == "svg" else value if key == "drawn" else readable(value)
    if isinstance(value, Photograph):
        return value.svg()
    if isinstance(value, dict):
        return {k: _cleaned(v, k) for k, v in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, bytes):
        return [_cleaned(v, key) for v in value]
    return value
