"""The example workshop that is shipped with the program."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path

__all__ = ["example_workshop"]


def example_workshop() -> Path:
    """The shipped example: `examples/workshop` of a checkout, or the copy inside the installed package."""
    package = Path(str(files("nestwright")))
    for place in (package.parents[1] / "examples" / "workshop", package / "data" / "workshop"):
        if (place / "habitats").is_dir():
            return place
    raise FileNotFoundError("the example workshop is missing from this installation")
