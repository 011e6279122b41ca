"""Values of garden and assembly that rest on judgement, in plain words."""

from __future__ import annotations

__all__ = ["VALUES", "value_in_words"]

VALUES = {
    "assembly.bench_resistance": "how well the bench insulates",
    "assembly.floor_resistance": "how well the floor insulates",
    "assembly.still_air_nusselt": "still air at the walls",
    "assembly.film_limit_side": "water that clings to a side wall",
    "assembly.film_limit_top": "water that hangs under a lid",
    "assembly.film_limit_base": "water that lies on a base",
    "assembly.film_patch": "film below which a wet wall dries in patches",
    "assembly.water_patch": "water below which a tray or block dries in patches",
    "assembly.fog_rate": "how fast fog settles",
    "assembly.drip_rate": "how fast drops run off",
    "assembly.water_conductance": "heat through standing water and soaked blocks",
    "assembly.grid_cover": "share of the grid's holes that the garden covers",
    "assembly.exchange_onset": "when air begins to turn over in an opening",
    "assembly.half_oxygen": "oxygen at which breathing halves",
    "assembly.sensor_capacity": "how slowly a sensor follows",
    "assembly.garden_fails_at": "heat at which the garden fails",
    "assembly.garden_fails_over": "how suddenly the garden fails in heat",
    "garden.respiration_co2": "breathing of the garden",
    "garden.respiration_q10": "how breathing grows with warmth",
    "garden.water_activity": "how damp the garden is",
    "garden.shape_factor": "surface of a garden for its volume",
    "garden.bulk_density": "mass of a garden for its volume",
    "garden.water_share": "share of water in the garden",
    "garden.leaf_water": "water that leaves bring in",
}


def value_in_words(name: str) -> str:
    """A value's name in plain words; without underscores and the table that it stands in, where there are none."""
    return VALUES.get(name) or name.rpartition(".")[2].replace("_", " ")
