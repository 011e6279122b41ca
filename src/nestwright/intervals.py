"""What every stated range means: 8 in 10."""

from __future__ import annotations

__all__ = ["EIGHT_IN_TEN"]

EIGHT_IN_TEN = 1.2815515655446004
"""Standard errors on either side of the middle that 8 in 10 lie within: the standard normal's quantile of 0.9."""
