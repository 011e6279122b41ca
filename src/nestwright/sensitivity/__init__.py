"""Which unknown a result hangs on most: shares of its variance, from designed runs or from draws that are there."""

from nestwright.sensitivity.designed import designed_rows, designed_shares
from nestwright.sensitivity.given import given_shares
from nestwright.sensitivity.results import Explained, Indices, Share, Unknown

__all__ = ["Explained", "Indices", "Share", "Unknown", "designed_rows", "designed_shares", "given_shares"]
