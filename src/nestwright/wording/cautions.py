"""The usual cautions, each told once and shown wherever it matters."""

from __future__ import annotations

__all__ = ["CAUTIONS"]

CAUTIONS = {
    "heater": "Heat and mains near water: low voltage or a residual current device, a fuse, a cut-out of its own "
    "against overheating, no joint where it can get wet.",
    "law": "Escape and plant pests: leafcutters are pests outside their home range, and keeping, sending or selling "
    "them needs permission in many places. Local rules and licensed practice come before anything printed here.",
}
