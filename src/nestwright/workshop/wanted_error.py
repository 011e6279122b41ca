"""How sure a sensor must be, as a person tells it."""

from __future__ import annotations

from nestwright.errors import InputError
from nestwright.units import UnitProblem, parse_quantity
from nestwright.workshop.readings import Channel
from nestwright.workshop.sensors import scale_of

__all__ = ["parse_wanted"]

_WORDS = {
    "relative_humidity": ("a humidity", "above 0 to 100 %, as '2 %'"),
    "temperature": ("a temperature", "above 0 to 50 K, as '0.3 K'"),
    "co2": ("carbon dioxide", "above 0, in ppm or %, as '50 ppm'"),
}


def parse_wanted(text: str, channel: Channel, field: str) -> float | None:
    """A wanted standard uncertainty, as "2 %" or "0.3 K", in the channel's unit; None for "none" or nothing.

    Raises InputError with what is allowed of this quantity, or for one that is not calibrated.
    """
    scale = scale_of(channel)
    if scale is None:
        raise InputError("is not calibrated here", field=field, found=channel.quantity, allowed=", ".join(_WORDS))
    if text.strip().casefold() in ("", "none"):
        return None
    said, example = _WORDS[scale.quantity]
    problem = f"cannot be the uncertainty of {said}"
    try:
        found = parse_quantity(text, "difference" if scale.quantity == "temperature" else "share")
    except UnitProblem as fault:
        # in the words of the sensor, not of the kind of unit
        found, problem = 0.0, fault.message if "unit is missing" in fault.message else problem
    if found <= 0:
        raise InputError(problem, field=field, found=repr(text[:40]), allowed=f"{example}; or none")
    return float(scale.spread(found))
