"""Pictures in the reader's language: the words of a chart's declaration or of a drawing, said anew.

Pictures are declared once, in English (`nestwright.charts`); what stands in one is made of the same clauses as what
stands beside it. Names stay, as do fields and expressions; a value that a scale names is changed in both places.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from functools import cache
from math import ceil, floor, log10
from typing import Any

from nestwright.web.sentences import retold
from nestwright.web.shown import Shown
from nestwright.web.told_units import in_units, scales
from nestwright.web.words import ENGLISH

__all__ = ["Declared", "drawn_in", "narrowed", "pictured_in"]

_SPOKEN = ("title", "text", "domain", "sort")
"""Keys of a declaration under which a text is one for people, or the name of a value."""
_TOLD = (*_SPOKEN, "subtitle", "values", "datasets")
"""Keys under which a text may have figures with their units."""
_TICKS = 6
"""About so many on an axis that does not say how many."""
_ROW = ("values", "datasets")
_TEXT = re.compile(r"(<(text|title)\b[^>]*>)([^<]+)(</\2>)")
_DATE = re.compile(r"\d{4}-\d{2}-\d{2}T")


@dataclass(frozen=True)
class Declared:
    """A chart's declaration that was made already."""

    told: dict[str, Any]

    def to_dict(self, *, validate: bool = False) -> dict[str, Any]:
        return self.told


def pictured_in(chart: Any, show: Shown, width: int = 640) -> Any:
    """A chart in the reader's language and units, with numbers and months as the language sets them; itself where it
    is as it was declared. Lines under its title fill `width` px."""
    english = show.choice.language == ENGLISH
    metric = show.choice.temperature == "degC" and show.choice.sizes == "metric"
    if isinstance(chart, str) or (english and metric):
        return drawn_in(chart, show) if isinstance(chart, str) else chart
    told: dict[str, Any] = chart.to_dict(validate=False)
    if not metric:
        told = _measured(told, "", show)
    if not english:
        told = _said(told, "", show, width)
        told |= {"config": (told.get("config") or {}) | {"locale": _locale(show.choice.language)}}
    return Declared(told if metric else _axes_measured(told, "", show))


def _measured(node: Any, key: str, show: Shown) -> Any:
    """A declaration whose words have their figures in the reader's units."""
    if isinstance(node, list | tuple):
        return [_measured(one, key, show) for one in node]
    if isinstance(node, str):
        return in_units(node, show) if key in _TOLD else node
    if not isinstance(node, dict):
        return node
    return {one: _measured(value, key if key in _ROW else one, show) for one, value in node.items()}


def _axes_measured(node: Any, key: str, show: Shown) -> Any:
    """A declaration whose axes are in the reader's units: the picture stays as it is, at its ticks stand others."""
    if isinstance(node, list | tuple):
        return [_axes_measured(one, key, show) for one in node]
    if not isinstance(node, dict):
        return node
    made = {one: value if one in _ROW else _axes_measured(value, one, show) for one, value in node.items()}
    return _axis_measured(made, show) if key in ("x", "y") else made


def _axis_measured(place: dict[str, Any], show: Shown) -> dict[str, Any]:
    """An axis in the reader's unit, with ticks that are round in it where it is known from where to where it goes."""
    if place.get("axis", {}) is None:
        return place
    axis = dict(place.get("axis") or {})
    title = str((axis if "title" in axis else place).get("title"))
    if title.endswith("°C") and show.choice.temperature == "degF":
        name, expression, factor, shift = title.replace("°C", "°F"), "datum.value * 1.8 + 32", 1.8, 32.0
    elif told := scales(title, show):
        name, expression, factor, shift = told[0], f"datum.value / {told[1]}", 1 / told[1], 0.0
    else:
        return place
    (axis if "title" in axis else place)["title"] = name
    axis["labelExpr"] = f"format({expression}, ',.4~r')"
    scale = place.get("scale") or {}
    ends = scale.get("domain")
    if isinstance(ends, list | tuple) and len(ends) == 2 and all(isinstance(one, int | float) for one in ends):
        low, high = (factor * one + shift for one in ends)
        most = len(axis.get("values") or ()) or axis.get("tickCount", _TICKS)
        ticks = (_decades if scale.get("type") == "symlog" else _round)(low, high, most)
        axis["values"] = [(one - shift) / factor for one in ticks]
    return place | {"axis": axis}


def _round(low: float, high: float, most: int) -> list[float]:
    """Between two values those that are round, about so many."""
    least = max(high - low, 1e-9) / (most + 1)
    step = next(one for one in (k * 10.0 ** floor(log10(least)) for k in (1, 2, 5, 10)) if one >= least)
    return [k * step for k in range(ceil(low / step), floor(high / step) + 1)]


def _decades(low: float, high: float, most: int) -> list[float]:
    """Round values of a scale that goes by factors: so many at most, but one a decade at least."""
    decades = range(floor(log10(max(low, 1e-4 * high))), floor(log10(high)) + 1)
    for heads in ((1, 2, 5), (1, 3), (1,)):
        ticks = [one for one in (h * 10.0**d for d in decades for h in heads) if low <= one <= high]
        if len(ticks) <= most:
            break
    return [0.0, *ticks] if low <= 0 else ticks


def narrowed(chart: Declared, width: int, whole: int = 640) -> Declared:
    """A chart that is declared `whole` px wide, `width` px wide: each panel and each line under the title shorter, and
    the entries of a legend below each other, which beside each other would make it as wide again."""
    from nestwright.charts.lettering import wrapped

    def less(node: Any) -> Any:
        if isinstance(node, list | tuple):
            return [less(one) for one in node]
        if not isinstance(node, dict):
            return node
        made = {key: value if key in _ROW else less(value) for key, value in node.items()}
        if isinstance(made.get("width"), int | float) and made["width"] > whole / 2:
            made["width"] -= whole - width
        if isinstance(made.get("legend"), dict) and made["legend"].get("orient") in ("top", "bottom"):
            made["legend"] = made["legend"] | {"columns": 1}
        return made

    told = less(chart.told)
    head = told.get("title")
    if isinstance(head, dict):
        lines = head.get("subtitle") or []
        under = " ".join([lines] if isinstance(lines, str) else lines)
        text = head.get("text") or ""
        text = text if isinstance(text, str) else " ".join(text)
        head = head | {
            "text": wrapped(text, width - 20, 17),
            "fontSize": 16,
            "subtitle": wrapped(under, width - 20, 14),
        }
        told = told | {"title": head}
    return Declared(told)


def drawn_in(svg: str, show: Shown) -> str:
    """A drawing, as SVG, in the reader's language."""
    if show.choice.language == ENGLISH:
        return svg

    def anew(found: re.Match[str]) -> str:
        text = html.unescape(found[3])
        told = retold(text, show)
        if told == text:
            told = show.figures(re.sub(r"\broom\b", retold("room", show), text) if "→" in text else text)
        return found[1] + html.escape(told, quote=False) + found[4]

    return _TEXT.sub(anew, svg)


def _said(node: Any, key: str, show: Shown, width: int) -> Any:
    if isinstance(node, dict):
        if key == "title" and "text" in node:
            return _head(node, show, width)
        return {
            one: _rows(value, show) if one in _ROW else _said(value, one, show, width) for one, value in node.items()
        }
    if isinstance(node, list | tuple):
        return [_said(one, key, show, width) for one in node]
    return retold(node, show) if isinstance(node, str) and key in _SPOKEN else node


def _rows(node: Any, show: Shown) -> Any:
    """Data: what is text in a row is the name of a value, or stands in the picture as it is."""
    if isinstance(node, dict):
        return {one: _rows(value, show) for one, value in node.items()}
    if isinstance(node, list | tuple):
        return [_rows(one, show) for one in node]
    return retold(node, show) if isinstance(node, str) and not _DATE.match(node) else node


def _head(node: dict[str, Any], show: Shown, width: int) -> dict[str, Any]:
    """A picture's title and what stands under it, in lines of the width that the picture has."""
    from nestwright.charts.lettering import wide, wrapped

    made = dict(node)
    for part, size in (("text", float(node.get("fontSize", 19)) * 1.04), ("subtitle", 14.0)):
        told = node.get(part)
        if told is None:
            continue
        lines = [told] if isinstance(told, str) else list(told)
        room = max([width - 40.0, *(wide(one, size) for one in lines)])
        whole = " ".join(lines)
        said = retold(whole, show)
        if said != whole:
            made[part] = wrapped(said.replace("..", "."), room, size)  # "27. Jan." ends a sentence
        else:
            # not all of it is known: what is, line by line
            made[part] = [retold(one, show) for one in lines] if len(lines) > 1 else told
    return made


@cache
def _locale(language: str) -> dict[str, Any]:
    """How Vega sets numbers and dates (d3-format, d3-time-format), from CLDR."""
    from babel import Locale
    from babel.numbers import get_decimal_symbol, get_group_symbol

    cldr = Locale.parse(language)
    # CLDR's week begins with Monday as 0, d3's with Sunday
    week = [6, 0, 1, 2, 3, 4, 5]
    days, months = cldr.days["format"], cldr.months["format"]
    return {
        "number": {
            "decimal": get_decimal_symbol(cldr), "thousands": get_group_symbol(cldr), "grouping": [3],
            "currency": ["", ""],
        },
        "time": {
            "dateTime": "%d. %B %Y, %H:%M", "date": "%d.%m.%Y", "time": "%H:%M", "periods": ["", ""],
            "days": [days["wide"][one] for one in week],
            "shortDays": [days["abbreviated"][one].rstrip(".") for one in week],
            "months": [months["wide"][one] for one in range(1, 13)],
            "shortMonths": [months["abbreviated"][one].rstrip(".") for one in range(1, 13)],
        },
    }  # fmt: skip
