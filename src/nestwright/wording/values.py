"""Values of the growth model and of the plan in plain words, with the unit that a screen shows them in.

One place for what `forecast`, `plan`, `rescue` and `diagnose` call them.
"""

from __future__ import annotations

__all__ = ["COMMON", "GROWTH", "in_words", "on_screen"]

COMMON = {
    "development": ("time from egg to worker", "of the card's", 1.0),
    "start_garden": ("garden on the first day", "mL", 1.0),
    "start_workers": ("workers on the first day", "", 1.0),
    "start_brood": ("brood on the first day", "", 1.0),
    "queen": ("laying of the queen (1: fully)", "", 1.0),
    "harm_scale": ("harm of a bad climate, against the card's", "times", 1.0),
    "onset": ("day on which the fault began", "", 1.0),
    "size": ("how large the fault is", "", 1.0),
    "noise": ("chance ups and downs of the garden", "% in a day", 100.0),
    "error_scale": ("errors of the readings, against those assumed", "times", 1.0),
    "worker_noise": ("ups and downs of the workers, against the garden's", "times", 1.0),
    "demographic": ("chance in births and deaths", "times", 1.0),
    "leaf_dry_share": ("dry share of fresh leaf", "%", 100.0),
    "leaf_dry_area": ("dry matter of a cm2 of leaf", "mg", 1000.0),
    "waste_dry_share": ("dry share of waste", "%", 100.0),
    "larvae_per_worker": ("larvae one worker can nurse", "", 1.0),
    "larvae_queen": ("larvae a queen alone can nurse", "", 1.0),
    "nurse_carry": ("leaf an inside worker brings, of a forager's", "%", 100.0),
    "worker_harm_share": ("share of a harm that befalls workers", "%", 100.0),
    "harm_half": ("harm that halves the growth", "% a day", 100.0),
    "space_power": ("how late the wall is felt", "", 1.0),
    "sap_share": ("food that workers drink from leaves", "%", 100.0),
    "handling_days": ("days that a change counts", "days", 1.0),
    "lid_days": ("further days with the lid off", "days", 1.0),
    "full_weight": ("days that a day at fill 100 % counts", "days", 1.0),
    "empty_weight": ("days that a day at fill 0 % counts", "days", 1.0),
    "crush_days": ("days that it counts when the garden does not fit", "days", 1.0),
    "bell_usable": ("usable share of a bell", "%", 100.0),
    "bell_wall": ("wall of a bell", "mm", 1000.0),
    "bell_aspect": ("height of a bell per width", "", 1.0),
    "play": ("play between a bell and what it passes", "mm", 1000.0),
}
"""What no species card holds: name in plain words, unit on the screen, screen figure per stored one."""

GROWTH = {
    "egg_days": ("egg stage", "days", 1),
    "larva_days": ("larva stage", "days", 1),
    "pupa_days": ("pupa stage", "days", 1),
    "reference_temperature": ("temperature these hold at", "degC", 1),
    "development_q10": ("speed of brood at 10 K more", "times", 1),
    "brood_survival": ("eggs that at best become workers", "%", 100),
    "laying_founding": ("eggs of a queen alone", "a day", 1),
    "laying_per_worker": ("further eggs per worker", "a day", 1),
    "laying_max": ("eggs of a queen at most", "a day", 1),
    "worker_days": ("life of a worker", "days", 1),
    "nurse_days": ("inside part of a worker's life", "days", 1),
    "carry": ("dry leaf a forager brings", "mg a day", 1e3),
    "uptake": ("dry leaf taken up at most per dry garden", "% a day", 100),
    "substrate_days": ("leaf in the garden until spent", "days", 1),
    "respired": ("dry garden breathed away by the fungus", "% a day", 100),
    "dry_density": ("dry mass of a mL of garden", "mg", 1e3),
    "larva_food": ("dry food of a larva", "mg a day", 1e3),
    "worker_food": ("dry food of a worker", "mg a day", 1e3),
    "food_yield": ("food per dry garden at its best age", "% a day", 100),
    "tended_per_worker": ("garden one worker can tend", "mL", 1),
    "queen_tends": ("garden a queen alone can tend", "mL", 1),
    "queen_brings": ("dry matter a founding queen adds", "mg a day", 1e3),
    "untended_loss": ("untended garden lost", "% a day", 100),
    "hunger_death": ("workers that die of hunger", "% a day", 100),
    "orphan_death": ("more workers that die without a queen", "% a day", 100),
    "heat_harm": ("garden and brood lost to heat", "% a day per K above the band", 100),
    "cold_harm": ("garden and brood lost to cold", "% a day per K below the band", 100),
    "dry_harm": ("garden and brood lost to dry air", "% a day per 1 % RH below the limit", 1),
    "wet_harm": ("garden and brood lost to drip", "% a day per g a day", 100),
    "co2_harm": ("garden and brood lost to CO2", "% a day per 1 % CO2 above the limit", 1),
    "fill_low": ("least fill of a bell", "%", 100),
    "fill_high": ("most fill of a bell", "%", 100),
    "garden_per_worker": ("usual garden per worker", "mL", 1),
    "brood_per_worker": ("usual brood per worker", "", 1),
}
"""Growth values in plain words: name, unit on the screen, screen figure per stored one."""


def in_words(name: str) -> str:
    """A value's name in plain words; the name itself, without its underscores, where there are none."""
    told = COMMON.get(name) or GROWTH.get(name)
    return told[0] if told else name.replace("_", " ")


def on_screen(name: str, unit: str) -> tuple[str, float]:
    """Unit on the screen and screen figure per stored one of a value that is stored in `unit`.

    A stage length told as a share of so many days, "of 39 d", is shown in days.
    """
    if name == "development" and unit.startswith("of ") and unit.endswith(" d"):
        return "days", float(unit[3:-2])
    told = COMMON.get(name) or GROWTH.get(name)
    if told:
        return told[1], float(told[2])
    return ("" if unit == "1" else unit), 1.0
