"""Bells and chambers that a garden could have next: which shape holds a volume, and whether it passes the opening."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from nestwright.colony.model import Colony
from nestwright.data import plan_values

__all__ = ["Room", "allowed", "bell", "chamber", "needs_lid", "present"]

SHARE = {"dome": 2.0 / 3.0, "cylinder": 1.0}
"""Volume of a half ellipsoid and of a cylinder relative to the cylinder around them."""


@dataclass(frozen=True)
class Room:
    """Space for the garden: a bell, or so many chambers. usable mL; outer diameter and height m, 0 where unknown.

    `lid`: the bell passes only with the lid off. `making`: days from
    the record's last day until it is there.
    """

    kind: Literal["bell", "chamber"]
    usable: float
    shape: str = ""
    diameter: float = 0.0
    height: float = 0.0
    lid: bool = False
    making: float = 0.0
    chambers: int = 0

    @property
    def name(self) -> str:
        """In a few words."""
        if self.kind == "bell":
            return self.shape or "bell"
        return "whole chamber" if self.chambers == 1 else f"{self.chambers} chambers"


def bell(colony: Colony, usable: float) -> Room | None:
    """A bell of this usable volume that stands under the ceiling and goes in, through the opening if that can be.

    A dome is tried before a cylinder, both before taking off the lid. Measures that are not stated set no limit.
    None where nothing fits.
    """
    values = plan_values()
    play = values["play"].value
    ceiling = math.inf if colony.headroom is None else colony.headroom - play
    off = math.inf if colony.lid is None else colony.lid - play
    through = off if colony.opening is None else colony.opening - play
    for widest, lid in ((through, False), (off, True)):
        for shape in SHARE:
            made = sized(shape, usable, widest, ceiling)
            if made is not None:
                return Room("bell", usable, shape, *made, lid, _there(colony, colony.making_time))
    return None


def sized(shape: str, usable: float, widest: float, highest: float) -> tuple[float, float] | None:
    """Outer diameter and height, m, of a bell of `usable` mL, in the usual proportion or as near to it as the limits
    let it be; None where they do not."""
    values = plan_values()
    wall, aspect = values["bell_wall"].value, values["bell_aspect"]
    # inner volume = share * pi / 4 * width^2 * height
    box = usable * 1e-6 / values["bell_usable"].value / SHARE[shape] * 4.0 / math.pi
    width = (box / aspect.value) ** (1.0 / 3.0)
    if width + 2 * wall > widest:
        width = widest - 2 * wall
    if width <= 0:
        return None
    height = box / width**2
    if height + wall > highest:
        height = highest - wall
        if height <= 0:
            return None
        width = math.sqrt(box / height)
    fits = width + 2 * wall <= widest * (1 + 1e-9) and height + wall <= highest * (1 + 1e-9)
    if not fits or not aspect.low <= height / width <= aspect.high:
        return None
    return width + 2 * wall, height + wall


def chamber(colony: Colony, count: int) -> Room | None:
    """So many chambers like the present one without a bell; None where its volume is not stated."""
    if not colony.chamber:
        return None
    making = _there(colony, None if count == 1 else colony.chamber_time)
    return Room("chamber", count * colony.chamber, making=making, chambers=count)


def _there(colony: Colony, making: float | None) -> float:
    """Days from the record's last day until a part is there that takes so long to make: tomorrow at the soonest."""
    return colony.gone_by + max(making or 0.0, 1.0) if colony.gone_by else making or 0.0


def present(colony: Colony, usable: float) -> Room:
    """What the garden has now: the last bell or chamber of the record, with the room that the fit ends with."""
    past = [h for h in colony.housing if h.day <= colony.days]
    if past and past[-1].kind == "bell":
        last = past[-1]
        opening = colony.opening
        stuck = opening is not None and last.diameter > opening
        return Room("bell", usable, "bell", last.diameter, last.height, stuck)
    count = max(1, round(usable / colony.chamber)) if colony.chamber else 1
    return Room("chamber", usable, chambers=count)


def allowed(before: Room, after: Room) -> bool:
    """Whether one can follow the other: chambers are added one at a time, the first when no bell stands."""
    if before.usable == after.usable:
        return False
    if after.kind == "bell":
        return before.chambers <= 1
    return after.chambers == before.chambers + 1


def needs_lid(before: Room, after: Room) -> bool:
    """Whether the lid must come off: for the new bell to go in, or for the old one to come out."""
    return after.lid or before.lid
