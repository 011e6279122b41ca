"""Work in pieces: the same results in this process, in others, or on a cluster."""

from nestwright.pieces.each import Place, chosen, each, working_at
from nestwright.pieces.local import Processes, Threads, cores

__all__ = ["Place", "Processes", "Threads", "chosen", "cores", "each", "working_at"]
