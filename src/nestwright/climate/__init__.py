"""The climate of a habitat: rooms, the proof, the window, sizes.

`prove`, `prove_year`, `window`, `size` and `read_room` are taken from their modules when first asked for, so that
reading a room does not load the solver.
"""

from __future__ import annotations

from typing import Any

_PLACES = {
    "prove": "proof",
    "prove_year": "proof",
    "window": "room_window",
    "size": "sizing",
    "parse_free": "sizing",
    "read_room": "rooms",
}
__all__ = ["parse_free", "prove", "prove_year", "read_room", "size", "window"]


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_PLACES[name]}"), name)
