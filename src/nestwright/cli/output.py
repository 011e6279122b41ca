"""How commands print: one look of table, figures with the digits they have, results as JSON."""

from __future__ import annotations

import json
import math
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from nestwright.climate.digits import decimals_within

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

__all__ = [
    "CAUTIONS",
    "JSON_DIGITS",
    "as_json",
    "console",
    "decimals_within",
    "figure",
    "heading",
    "plain",
    "print_json",
    "share_text",
    "significant",
    "table",
]

JSON_DIGITS = 6
"""Significant digits in JSON: more than any figure has, few enough to read."""

CAUTIONS = {
    "heater": "Heat and mains near water: low voltage or a residual current device, a fuse, a cut-out of its own "
    "against overheating, no joint where it can get wet.",
    "law": "Escape and plant pests: leafcutters are pests outside their home range, and keeping, sending or selling "
    "them needs permission in many places. Local rules and licensed practice come before anything printed here.",
}


def console() -> Console:
    """Standard output; plain text without colour when it is not a terminal."""
    from rich.console import Console

    # into a pipe a fixed width, so that what is printed can be compared; COLUMNS sets it as on a terminal
    told = os.environ.get("COLUMNS", "")
    width = int(told) if told.isdigit() and 20 <= int(told) <= 1000 else 110
    return Console(highlight=False, soft_wrap=False, width=None if sys.stdout.isatty() else width)


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, left: Sequence[int] = (0,)) -> Table:
    """A table without lines; columns are set right, those in `left` are set left."""
    from rich.table import Table
    from rich.text import Text

    made = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
    for number, name in enumerate(columns):
        made.add_column(name, justify="left" if number in left else "right", overflow="fold")
    for row in rows:
        made.add_row(*map(Text, row))
    return made


def plain(text: str) -> str:
    """Text of the user's own, so that square brackets in it are printed and not taken for markup."""
    from rich.markup import escape

    return escape(text)


def heading(text: str) -> str:
    return f"\n[bold]{text}[/bold]"


def figure(value: float | None, decimals: int, *, sign: bool = False, none: str = "none") -> str:
    """A number with fixed decimals, without a minus before zero; `none` where there is no number."""
    if value is None or not math.isfinite(value):
        return none
    rounded = round(value, decimals) + 0.0
    return f"{rounded:+.{decimals}f}" if sign and rounded else f"{rounded:.{decimals}f}"


def significant(value: float | None, digits: int = 2, *, none: str = "none") -> str:
    """A number with so many significant digits, never in powers of ten between 0.001 and 100000."""
    if value is None or not math.isfinite(value):
        return none
    if value == 0:
        return "0"
    decimals = digits - 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, decimals):.{max(0, decimals)}f}" if decimals <= digits + 3 else f"{value:.{digits - 1}e}"


def share_text(percent: float | None) -> str:
    """A share of hours in words that never round up to all nor down to none; "" for no share."""
    if percent is None:
        return ""
    if percent in (0, 100):
        return "all" if percent else "none"
    return "under 0.1 %" if percent < 0.1 else "over 99.9 %" if percent > 99.9 else f"{figure(percent, 1)} %"


def as_json(result: Any) -> Any:
    """The same structure with numbers at `JSON_DIGITS` significant digits and null for what is not finite."""
    if isinstance(result, dict):
        return {str(key): as_json(value) for key, value in result.items()}
    if isinstance(result, list | tuple):
        return [as_json(value) for value in result]
    if isinstance(result, bool) or result is None or isinstance(result, int | str):
        return result
    if hasattr(result, "item"):
        return as_json(result.item())
    if isinstance(result, float):
        return float(f"{result:.{JSON_DIGITS}g}") if math.isfinite(result) else None
    raise TypeError(f"no JSON for {type(result).__name__}")


def print_json(result: Any) -> None:
    """Print a result's `to_dict()` (or the dict itself) as JSON, one document."""
    document = result.to_dict() if hasattr(result, "to_dict") else result
    print(json.dumps(as_json(document), indent=2, ensure_ascii=False))
