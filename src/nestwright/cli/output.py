"""How commands print: one look of table, figures with the digits they have, results as JSON."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from nestwright.climate.digits import decimals_within
from nestwright.wording.cautions import CAUTIONS
from nestwright.wording.figures import JSON_DIGITS, as_json, figure, share_text, significant

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


def console() -> Console:
    """Standard output; plain text without colour when it is not a terminal."""
    from rich.console import Console

    # into a pipe a fixed width, so that what is printed can be compared; COLUMNS sets it as on a terminal
    told = os.environ.get("COLUMNS", "")
    width = int(told) if told.isdigit() and 20 <= int(told) <= 1000 else 110
    return Console(highlight=False, soft_wrap=False, width=None if sys.stdout.isatty() else width)


def table(columns: Sequence[str], rows: Iterable[Sequence[str]], *, left: Sequence[int] = (0,)) -> Table:
    """A table without lines; columns of figures are set right, those of text in `left` are set left."""
    from rich.text import Text

    from nestwright.cli.fitted import FittedTable

    made = FittedTable(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="dim")
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


def print_json(result: Any) -> None:
    """Print a result's `to_dict()` (or the dict itself) as JSON, one document."""
    document = result.to_dict() if hasattr(result, "to_dict") else result
    print(json.dumps(as_json(document), indent=2, ensure_ascii=False))
