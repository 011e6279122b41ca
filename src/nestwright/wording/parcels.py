"""What was predicted of parcels beside what was found, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nestwright.wording.figures import significant

if TYPE_CHECKING:
    from collections.abc import Mapping

    from nestwright.parcel.held import Held, Predicted
    from nestwright.workshop.parcels import KeptParcel

__all__ = ["VERDICTS", "each_parcel", "percent", "predicted_lines", "risk_text"]

VERDICTS = {
    "too few": "too few parcels to say whether the risk keeps its word",
    "kept": "as many as predicted",
    "too low": "more than predicted: take the risk as told too low",
    "too high": "fewer than predicted: take the risk as told too high",
}
MOST = 20
"""Parcels that are told one by one."""


def percent(share: float) -> str:
    """A chance with two digits at most, never nought."""
    return "under 0.1 %" if share < 0.001 else f"{significant(100 * share, 2 if share < 0.995 else 3)} %"


def each_parcel(held: Mapping[str, Held]) -> list[tuple[str, Predicted | None, Predicted | None]]:
    """Parcels one by one: name, and what was predicted and came of garden and of colony, None where it is not told."""
    names: dict[str, dict[str, Predicted]] = {one.name: {} for some in held.values() for one in some.parcels}
    for what, some in held.items():
        for one in some.parcels:
            names[one.name][what] = one
    return [(name, told.get("garden"), told.get("colony")) for name, told in names.items()][:MOST]


def predicted_lines(one: KeptParcel) -> list[str]:
    """What was computed of a parcel when it was sent, for the promised way; nothing where nothing was."""
    from nestwright.workshop.parcel_predictions import other_dispatch

    told = one.to_dict()["predicted"]
    if not told:
        return []
    way, loss = told["journey"], told["loss"]
    held = f"{way['lowest_degC']:.0f} to {way['highest_degC']:.0f} degC inside"
    lost = [f"{what} lost {percent(loss[f'chance_{what}_lost'])}" for what in ("garden", "colony")]
    lines = [f"Computed at dispatch, for the promised way: {held}; {', '.join(lost)} (rests on judgement)"]
    if told.get("risk"):
        over = [f"{what} lost {risk_text(told, what)}" for what in ("garden", "colony")]
        lines.append(f"Its risk at dispatch, with delay, leaks, packs and air drawn: {', '.join(over)}")
    if moved := other_dispatch(one):
        lines.append(
            f"Both are for a dispatch on {moved}, as its file tells: the file's air does not reach {one.values['sent']}"
        )
    return lines


def risk_text(predicted: Mapping[str, Any], what: str) -> str:
    """The chance that the garden or the colony is lost, as it was kept at dispatch, with its range; of a parcel kept
    before risks were, that of its one journey."""
    from nestwright.parcel.risk import Chance
    from nestwright.wording.parcel_risk import chance_text

    if not predicted.get("risk"):
        return percent(predicted["loss"][f"chance_{what}_lost"])
    told = predicted["risk"][f"{what}_lost"]
    return chance_text(Chance(told["mean"], told["low"], told["high"], told["error"]))
