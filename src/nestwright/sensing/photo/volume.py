"""Volume from one silhouette or two, and how far it may be off."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from nestwright.sensing.photo.profile import Profile, Silhouette, revolve
from nestwright.sensing.photo.values import photo_values

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["NINE_IN_TEN", "Bell", "Measured", "measure_one", "measure_two"]

NINE_IN_TEN = 1.645
"""Standard deviations of a normal distribution that hold nine in ten to both sides."""


@dataclass(frozen=True)
class Bell:
    """The inside of a bell, or of a chamber: widest across and height, mm; inf where it sets no limit."""

    diameter: float
    height: float = math.inf
    dome: bool = False

    @property
    def volume(self) -> float:
        """mm3"""
        return math.pi / 4 * self.diameter**2 * self.height * (2 / 3 if self.dome else 1.0)

    def squares(self, above: NDArray[np.float64]) -> NDArray[np.float64]:
        """Largest square of the radius at heights above its foot, mm2."""
        import numpy as np

        whole = np.full(len(above), (self.diameter / 2) ** 2)
        if self.dome:
            whole = whole * np.clip(1 - (np.maximum(above, 0) / self.height) ** 2, 0, None)
        return np.where(above <= self.height, whole, 0.0)


@dataclass(frozen=True)
class Measured:
    """A volume (mm3) with the standard deviations of its logarithm by source, and the body behind it.

    clipped: share of the volume that lay outside the bell.
    """

    volume: float
    parts: dict[str, float]
    profile: Profile
    clipped: float

    @property
    def spread(self) -> float:
        """Standard deviation of the logarithm of the volume."""
        return math.sqrt(sum(p**2 for p in self.parts.values()))


def clip(profile: Profile, bell: Bell | None) -> Profile:
    """The body inside a bell that stands on the same floor and about the same axis."""
    import numpy as np

    if bell is None:
        return profile
    fine = np.linspace(profile.heights[0], profile.heights[-1], 241)
    q = np.interp(fine, profile.heights, profile.squares)
    return Profile(fine, np.minimum(q, bell.squares(fine - fine[0])), profile.misfit)


def excess() -> float:
    """How much larger than a lumpy body the body of revolution about it is, as a share."""
    return photo_values()["silhouette_excess"].value


def measure_one(silhouette: Silhouette, bell: Bell | None) -> Measured:
    """Volume from one view: the garden is as deep as it is wide, both halves averaged."""
    whole = revolve(silhouette)
    inside = clip(whole, bell)
    parts = {"asymmetry": asymmetry(silhouette), "depth": depth_spread(inside, bell)}
    volume = inside.volume / (1 + excess())
    return Measured(volume, parts, inside, 1 - inside.volume / max(whole.volume, 1e-9))


def depth_spread(profile: Profile, bell: Bell | None) -> float:
    """Spread of the unknown depth: that of gardens, but no deeper than the bell where the garden fills it."""
    usual = photo_values()["depth_one_view"].value
    if bell is None:
        return usual
    room = max(0.0, math.log(max(bell.diameter, profile.width) / profile.width))
    # a garden that fills its bell from side to side can only be shallower
    return usual * math.sqrt((1 + min(1.0, room / usual) ** 2) / 2)


def asymmetry(silhouette: Silhouette) -> float:
    """Weighed difference between the volumes of both halves, relative to their mean."""
    left, right = float((silhouette.left**2).sum()), float((silhouette.right**2).sum())
    return photo_values()["asymmetry_weight"].value * abs(left - right) / (left + right)


def measure_two(one: Silhouette, two: Silhouette, bell: Bell | None) -> Measured:
    """Volume from two views at right angles: cross-sections are ellipses with both half widths.

    The heights of both are scaled on one another, since foot and top are the same garden's.
    """
    import numpy as np

    first, second = revolve(one), revolve(two)
    share = np.linspace(0, 1, 241)
    bodies = [np.interp(share, np.linspace(0, 1, len(p.squares)), p.squares).clip(0, None) for p in (first, second)]
    q = np.sqrt(bodies[0] * bodies[1])
    height = math.sqrt(first.height * second.height)
    whole = Profile(share * height, q, max(first.misfit, second.misfit))
    inside = clip(whole, bell)
    # two heights of one garden that differ tell of an error beyond all that is counted
    unlike = abs(math.log(first.height / second.height)) / 2
    parts = {
        "asymmetry": math.hypot(asymmetry(one), asymmetry(two)) / 2,
        "depth": photo_values()["depth_two_views"].value,
        "heights": unlike,
    }
    return Measured(inside.volume / (1 + excess()), parts, inside, 1 - inside.volume / max(whole.volume, 1e-9))
