"""A machine of a workshop, or a bench at which a person works."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.parts.nesting import Bed
    from nestwright.parts.tolerances import Offset

__all__ = ["Machine"]


@dataclass(frozen=True)
class Machine:
    """`bed` width and depth m with `height` m (0: no limit), None where any size goes; `hours` a day; `offset` as it
    was measured with a test piece."""

    name: str
    way: str
    hours: float
    bed: Bed | None = None
    height: float = 0.0
    offset: Offset | None = None
