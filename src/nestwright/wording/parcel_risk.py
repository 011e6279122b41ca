"""The risk of a parcel in words: chances with their range, and what is done otherwise."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.wording.figures import significant

if TYPE_CHECKING:
    from nestwright.parcel.changes import Change
    from nestwright.parcel.risk import Chance

__all__ = ["CAUTION", "WORDS", "alone_text", "chance_text", "change_text", "percent"]

WORDS = {
    "as_it_is": "as it is",
    "packs": "{number:.0f} packs",
    "no_pack": "no pack",
    "pack_side": "pack at the side",
    "pack_top": "pack on top",
    "pack_wrapped": "pack wrapped in filler",
    "insulation": "{mm:.0f} mm more foam",
    "taped": "seam taped",
    "more_holes": "{count:.0f} holes of {mm:.3g} mm",
    "fewer_holes": "{count:.0f} holes of {mm:.3g} mm",
    "less_water": "{g:.3g} g of water in the cotton",
    "more_water": "{g:.3g} g of water in the cotton",
    "pick_up": "fetched at the depot: the last {hours:.0f} h fall away",
    "day": "{days:.0f} days later",
}
CAUTION = (
    "The chances rest on judgements (data/parcel_risk.toml, data/parcel.toml): read differences before the chances "
    "themselves. Nothing here is a permission: plant-pest and live-animal rules differ by place and carrier; ask both. "
    "A heat pack burns oxygen and is hot: never in a sealed bag, never against the cup."
)


def chance_text(one: Chance) -> str:
    """A chance with its range, "12 % (5 to 21)"; a chance that no draw shows is told as under its bound."""
    # no second digit where the draws do not tell the first
    digits = 2 if one.error < one.mean / 10 else 1
    if one.mean < one.error / 2:
        return f"under {percent(max(one.high, one.error), 1)} %"
    mean, low, high = (percent(x, digits) for x in (one.mean, one.low, one.high))
    return f"{mean} %" if low == high else f"{mean} % ({low} to {high})"


def alone_text(share: float) -> str:
    """A chance of one journey, whose smallness is not known."""
    return "under 1 %" if share < 0.01 else f"{percent(share)} %"


def percent(share: float, digits: int = 2) -> str:
    told = 100 * share
    return significant(told, digits) if told < 99.5 else "over 99"


def change_text(one: Change) -> str:
    """What is done otherwise, in words."""
    if one.parts:
        return ", and ".join(change_text(part) for part in one.parts)
    if one.key == "day" and one.figures["days"] == 1:
        return "a day later"
    if one.key == "packs" and one.figures["number"] == 1:
        return "one pack"
    return WORDS[one.key].format(**one.figures)
