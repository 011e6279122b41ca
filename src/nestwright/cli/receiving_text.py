"""What to do with a parcel that has come, in sentences; the page sets the same ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.wording.receiving import CAUTION, journey_line, step_text, verdict_text, warming_text

if TYPE_CHECKING:
    from nestwright.parcel.receiving import Receiving

__all__ = ["print_receiving"]


def print_receiving(result: Receiving) -> None:
    """What it went through, what the garden counts as, and what to do, numbered."""
    import textwrap

    print(journey_line(result.journey))
    print(verdict_text(result) + "\n")
    for k, step in enumerate(result.steps, 1):
        print(textwrap.fill(step_text(step), 108, initial_indent=f"{k:>2}. ", subsequent_indent="    "))
        if step.key in ("warm", "cool"):
            print(textwrap.fill("; ".join(warming_text(result)), 108, initial_indent="    ", subsequent_indent="    "))
    print("\n" + textwrap.fill(CAUTION, 112))
