"""A paper: a template of our own and data as JSON, set by typst to PDF. Nothing of a user's text ever becomes markup.

Fonts are those that typst carries, so that a paper is the same on every machine; the same data give the same bytes.
Papers are PDF/A-2b and tagged for readers of the screen (PDF/UA-1) where typst can make them so.
"""

from __future__ import annotations

import json
import re
import unicodedata
from datetime import date
from importlib import resources
from typing import Any

__all__ = ["MISSING", "STANDARDS", "readable", "set_paper", "shown_svg"]

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


def set_paper(template: str, data: dict[str, Any], made: date) -> bytes:
    """Set a template of `papers/templates`, without its ending, with data; PDF, dated with the day `made`.

    Every text in `data` is made readable first, but for those under a key `svg`. Pictures are SVG under such keys, with
    what they show in words beside them under `alt`.
    """
    import typst

    folder = resources.files(__name__.rpartition(".")[0]) / "templates"
    source = "".join((folder / f"{name}.typ").read_text("utf-8") for name in ("house", template))
    given = {"data": json.dumps(_cleaned(data | {"made": made.isoformat()}), ensure_ascii=False, sort_keys=True)}
    while True:
        try:
            return bytes(
                typst.compile(
                    source.encode(), format="pdf", ignore_system_fonts=True, sys_inputs=given, pdf_standards=STANDARDS,
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
        return shown_svg(value) if key == "svg" else readable(value)
    if isinstance(value, dict):
        return {k: _cleaned(v, k) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(v, key) for v in value]
    return value
