"""From a chart, or a finished SVG, to SVG, PNG or JSON."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from nestwright.errors import InputError
from nestwright.files import write_whole

__all__ = ["save", "to_json", "to_png", "to_svg", "to_vega"]

_PATH = re.compile(r'(<path[^>]* d=")([^"]{400,})"')
_INSTANT = re.compile(r"\bdatetime\((-?\d+)\)")
_NUMBER = re.compile(r"-?\d+\.\d+")


def to_json(chart: Any) -> str:
    """The chart's Vega-Lite specification, complete with its data."""
    return json.dumps(chart.to_dict(validate=False), ensure_ascii=False)


def to_vega(chart: Any) -> dict[str, Any]:
    """The chart as a Vega specification that draws the same where expressions are interpreted, not run as script.

    Vega takes `datetime(milliseconds)` as an instant, its interpreter (2.3.2) as a year: a date axis would be empty.
    """
    import vl_convert

    made: dict[str, Any] = _instants(vl_convert.vegalite_to_vega(chart.to_dict(validate=False)))
    return made


def _instants(node: Any) -> Any:
    if isinstance(node, list):
        return [_instants(one) if isinstance(one, dict | list) else one for one in node]
    return {
        key: _INSTANT.sub(r"toDate(\1)", value)
        if key == "signal" and isinstance(value, str)
        else _instants(value)
        if isinstance(value, dict | list)
        else value
        for key, value in node.items()
    }


def to_svg(chart: Any) -> str:
    """The chart as SVG; text that is SVG already is given back as it is."""
    if isinstance(chart, str):
        return chart
    import vl_convert

    return _PATH.sub(_rounded, vl_convert.vegalite_to_svg(chart.to_dict(validate=False)))


def to_png(chart: Any, scale: float = 2.0) -> bytes:
    """The chart as PNG, `scale` pixels to one of the SVG's."""
    import vl_convert

    return bytes(vl_convert.svg_to_png(to_svg(chart), scale=scale))


def save(chart: Any, path: str | Path) -> Path:
    """Write .svg, .png or .json, whole or not at all. Raises InputError for another ending."""
    target = Path(path)
    makers: dict[str, Callable[[Any], str | bytes]] = {".svg": to_svg, ".png": to_png, ".json": to_json}
    make = makers.get(target.suffix.lower())
    if make is None:
        raise InputError("a picture has one of these formats", found=str(path), allowed=", ".join(makers))
    write_whole(target, make(chart))
    return target


def _rounded(match: re.Match[str]) -> str:
    # A tenth of a pixel is more than is seen; long lines get a third of their length.
    return match[1] + _NUMBER.sub(lambda n: f"{float(n[0]):.1f}".removesuffix(".0"), match[2]) + '"'
