"""Work in pieces: the same results in this process, in others, or on a cluster."""

from nestwright.pieces.each import Place, each, working_at
from nestwright.pieces.local import Processes, Threads

__all__ = ["Place", "Processes", "Threads", "each", "working_at"]
