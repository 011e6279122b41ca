"""How a part is made when its builder does not say: by form and material. Common practice, no source."""

from __future__ import annotations

from typing import Literal

from nestwright.parts.model import Way

__all__ = ["Form", "default_way"]

Form = Literal["plate", "tube", "cone", "cup", "panels", "block", "jacket", "small"]
"""A flat piece; a round wall; a conical wall; a body closed on one side; a box of panels; a cast body; wrapping; a
small fitting."""

_PRINTED = ("PLA", "PETG", "ABS")
_CAST = ("plaster", "aerated concrete", "porous ceramic")
_SOFT = ("cork", "polyethylene foam", "EPS", "XPS", "polyurethane foam", "rubber", "silicone")
_LASER = ("acrylic", "polycarbonate", "plywood", "pine")
_METAL = ("aluminium", "stainless steel")


def default_way(form: Form, material: str) -> Way:
    """The usual way of making a form of a material. PVC is never laser cut: it gives off chlorine."""
    if material in _PRINTED:
        return "printed"
    if material in _CAST:
        return "cast"
    if form == "jacket" or (material in _SOFT and form in ("plate", "panels")):
        return "cut"
    if form in ("plate", "panels"):
        return "laser" if material in _LASER else "milled" if material == "PVC" or material in _METAL else "cut"
    if form == "tube":
        return "cut"
    if material == "glass":
        return "bought"
    if form in ("cone", "cup"):
        return "turned"
    return "bought" if material == "silicone" else "printed"
