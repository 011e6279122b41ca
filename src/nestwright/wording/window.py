"""A window in words: how much of its map holds, and from where to where."""

from __future__ import annotations

from nestwright.wording.figures import figure

__all__ = ["map_share", "span"]


def map_share(share: float) -> str:
    """A share, 0 to 1, that is never rounded to none, nor to all.

    Examples
    --------
    >>> map_share(0.002), map_share(0.0), map_share(0.364), map_share(0.996), map_share(1.0)
    ('under 1 %', '0 %', '36 %', 'over 99 %', '100 %')
    """
    if 0 < share < 0.01:
        return "under 1 %"
    return "over 99 %" if 0.99 < share < 1 else f"{figure(100 * share, 0)} %"


def span(low: float, high: float, decimals: int, unit: str) -> str:
    """From where to where, or about where it is when both ends read the same.

    Examples
    --------
    >>> span(20.21, 20.24, 1, "°C"), span(20.2, 24.0, 1, "°C")
    ('about 20.2 °C', '20.2 to 24.0 °C')
    """
    a, b = figure(low, decimals), figure(high, decimals)
    return f"about {a} {unit}" if a == b else f"{a} to {b} {unit}"
