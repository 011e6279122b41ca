"""Figures as a printer sets them: a real minus, units that stay with their number, and raised powers."""

from __future__ import annotations

import re

__all__ = ["typeset", "unbroken"]

_MINUS = re.compile(r"(?<![\w.-])-(?=\d)")
_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|°F|K|[mM]B|m?L|fl oz|k?g|mg|oz|mm|cm|in(?! )|W|ppm)(?![A-Za-z]))")
_WORD = re.compile(r"(?<=\d) (?=(?:h|min|d|days?)(?![A-Za-z]))|(?<=\)) (?=(?:%|°C|°F|K|m?L|g|mm)(?![A-Za-z]))")
_RANGE = re.compile(r"\((?=[-+\u2212\d])[^()]{1,22}\)")
_POWER = re.compile(r"\b([mc]?m)([23])\b")
_IN_PAGE = re.compile(
    r"(?P<left><(?P<tag>textarea|option|title|script|svg|pre)\b.*?</(?P=tag)>|<[^>]*>)"
    r"|(?<![\w-])(?P<day>\d{4}-\d\d-\d\d(?: \d\d:\d\d)?|\d\d-\d\d|\d{1,2}\. [A-Z][a-zä]{2,8}\.? \d{4})(?![\w-])"
    r"|(?<![\w.,-])(?P<figure>[-+\u2212]?\d[\d.,]* (?:%|°C|°F|K|m?L|mm|g|kg|ppm|h)(?:/\w+)?)(?!\w)"
    r"|`(?P<typed>[^`<>]{1,200})`",
    re.DOTALL,
)
THIN = "\u202f"
"""Narrow and without a break (SI Brochure, 9th edition, 5.4.3: a space between number and unit)."""


def typeset(text: object) -> str:
    r"""A figure with its unit, or a line of them, for reading only: what a person may copy into a field stays as it is.

    Examples
    --------
    >>> typeset("-0.1 K, 140 cm2") == "\N{MINUS SIGN}0.1\N{NARROW NO-BREAK SPACE}K, 140\N{NARROW NO-BREAK SPACE}cm²"
    True
    >>> typeset("2026-03-03")
    '2026-03-03'
    """
    told = _MINUS.sub("\u2212", str(text))
    told = _WORD.sub("\u00a0", told)
    told = _UNIT.sub(THIN, told.replace("degC", "°C").replace("degF", "°F"))
    told = _RANGE.sub(lambda m: m[0].replace(" ", "\u00a0"), told)
    return _POWER.sub(lambda m: m[1] + ("\u00b2" if m[2] == "2" else "\u00b3"), told)


def unbroken(html: str) -> str:
    r"""A page on which no line ends within a day, which browsers break at its hyphens, or before a unit, and on which a
    command that a sentence names stands apart from its words.

    Examples
    --------
    >>> unbroken('<p title="2026-03-03">on 2026-03-03')
    '<p title="2026-03-03">on <span class="nobreak">2026-03-03</span>'
    """
    return _IN_PAGE.sub(_kept, html)


def _kept(found: re.Match[str]) -> str:
    if told := found["day"] or found["figure"]:
        return f'<span class="nobreak">{told}</span>'
    return f"<code>{found['typed']}</code>" if found["typed"] else found[0]
