"""Values of the growth model and of the plan in plain words, with the unit that a screen shows them in.

One place for what `forecast`, `plan`, `rescue` and `diagnose` call them.
"""

from __future__ import annotations

__all__ = ["COMMON", "in_words", "on_screen"]

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


def in_words(name: str) -> str:
    """A value's name in plain words; the name itself, without its underscores, where there are none."""
    from nestwright.cli.species import GROWTH

    told = COMMON.get(name) or GROWTH.get(name)
    return told[0] if told else name.replace("_", " ")


def on_screen(name: str, unit: str) -> tuple[str, float]:
    """Unit on the screen and screen figure per stored one of a value that is stored in `unit`.

    A stage length told as a share of so many days, "of 39 d", is shown in days.
    """
    from nestwright.cli.species import GROWTH

    if name == "development" and unit.startswith("of ") and unit.endswith(" d"):
        return "days", float(unit[3:-2])
    told = COMMON.get(name) or GROWTH.get(name)
    if told:
        return told[1], float(told[2])
    return ("" if unit == "1" else unit), 1.0
