"""A parcel's journey in words: limits, causes of harm, and what its values are called."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.wording.figures import figure

if TYPE_CHECKING:
    from nestwright.parcel.results import LimitPassed

__all__ = ["ANTS", "CAUSES", "DECIMALS", "NAMES", "PACK_CAUTION", "UNITS", "VALUES", "words_of"]

PACK_CAUTION = (
    "Heat packs burn skin and animals that touch them, and take the oxygen of the box: paper or foam between pack and "
    "cup, never in a sealed bag, never in a box without an opening. Rules for live animals, plant pests and packs "
    "differ by place and carrier: ask the authority and the carrier first; nothing printed here is a permission."
)
NAMES = {"temperature": "temperature", "relative_humidity": "humidity", "co2": "CO2", "o2": "O2"}
UNITS = {"temperature": "°C", "relative_humidity": "%", "co2": "%", "o2": "%"}
DECIMALS = {"temperature": 1, "relative_humidity": 0, "co2": 1, "o2": 1}
CAUSES = {
    "cold": "cold",
    "heat": "heat",
    "dry": "dry air",
    "wet": "water on it",
    "air": "bad air (carbon dioxide, or no oxygen)",
    "journey": "the journey itself (dark, shaken)",
}
ANTS = {"cold": "cold", "heat": "heat", "oxygen": "no oxygen"}
VALUES = {
    "pack.power_factor": "heat of the pack",
    "pack.start_factor": "how fast the pack begins",
    "outside.offset": "outside air against what was said",
    "box.leak_factor": "leaks of the box",
    "box.conductance_factor": "conductance of the box",
    "cup.position": "the cup sliding to the pack",
    "parcel.outside_film": "air moving at the box",
    "parcel.contact": "contact of pack and wall",
    "parcel.pore_exchange": "air in the filler",
    "parcel.rust_share": "share of the iron that rusts",
    "garden.respiration_co2": "breathing of the garden",
    "garden.water_activity": "how damp the garden is",
    "assembly.still_air_nusselt": "still air at the walls",
    "cup.wall": "wall of the cup",
    "packed_at": "temperature when packed",
    "pack.latent": "latent heat of the gel, taken as of ice",
}


def words_of(limit: LimitPassed) -> str:
    """A limit as words: its quantity, end and place."""
    told = limit.to_dict()
    end = "at least" if limit.end == "low" else "at most"
    return f"{NAMES[limit.quantity]} {end} {figure(told['limit'], DECIMALS[limit.quantity])} {UNITS[limit.quantity]}"
