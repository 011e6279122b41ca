"""Other ways to pack and send a parcel: each as a parcel of its own, with what it costs more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import combinations
from typing import NamedTuple

from nestwright.data import read_values
from nestwright.parcel.model import Box, Holes, Pack, Parcel

__all__ = ["COSTS", "Change", "changes_of", "costs_of", "pairs_of"]

COSTS = ("pack", "insulation", "tape", "pick_up", "day", "garden", "colony")
"""What costs can be told for; `garden` and `colony` are what their loss costs."""
FOAM = "EPS"
SUBJECTS = {
    "packs": "number", "no_pack": "number", "pack_side": "place", "pack_top": "place", "pack_wrapped": "place",
    "insulation": "wall", "taped": "vents", "more_holes": "vents", "fewer_holes": "vents", "less_water": "water",
    "more_water": "water", "pick_up": "way", "day": "day",
}  # fmt: skip
"""What a change is about: two of one subject do not go together."""


class Change(NamedTuple):
    """A key for its sentence, figures of it, the cost beyond the parcel as it is, and the parcel; of a pair its two
    `parts`."""

    key: str
    figures: dict[str, float]
    cost: float
    parcel: Parcel
    parts: tuple[Change, ...] = ()

    @property
    def name(self) -> str:
        """Key and figures as one word, different for every change of a parcel."""
        own = "_".join([self.key, *(f"{x:g}" for x in self.figures.values())])
        return "+".join(one.name for one in self.parts) or own


def costs_of(told: Mapping[str, float]) -> dict[str, float]:
    """Costs by name, those told and for the others the values of data/parcel_risk.toml."""
    v = read_values("parcel_risk.toml")
    usual = {k: v[f"worth_{k}" if k in ("garden", "colony") else f"cost_{k}"].value for k in COSTS}
    return usual | dict(told)


def changes_of(parcel: Parcel, costs: Mapping[str, float]) -> list[Change]:
    """What might be done otherwise with box, packs, water and the last leg; the first is the parcel as it is.

    Nothing is proposed that a parcel file refuses: a heat pack in a tight box is not.
    """
    found = [Change("as_it_is", {}, 0.0, parcel), *_packs(parcel, costs)]
    box = parcel.box
    for mm in (10, 20, 40):
        thicker = replace(box, layers=(*box.layers, (mm / 1000, FOAM)))
        found.append(Change("insulation", {"mm": mm}, costs["insulation"] * mm / 10, replace(parcel, box=thicker)))
    found += [Change(key, figures, cost, replace(parcel, box=one)) for key, figures, cost, one in _vents(parcel, costs)]
    for key, factor in (("less_water", 0.5), ("more_water", 2.0)):
        cotton = parcel.cup.cotton * factor
        if cotton > 0 and parcel.cup.garden + cotton / 1000 < 0.95 * parcel.cup.volume:
            wetter = replace(parcel.cup, cotton=cotton)
            found.append(Change(key, {"g": 1000 * cotton}, 0.0, replace(parcel, cup=wetter)))
    if len(parcel.legs) > 1:
        figures = {"hours": parcel.legs[-1].hours}
        found.append(Change("pick_up", figures, costs["pick_up"], replace(parcel, legs=parcel.legs[:-1])))
    return found


def pairs_of(changes: Sequence[Change], costs: Mapping[str, float]) -> list[Change]:
    """Every two of these changes that go together, the second made on the parcel of the first; another day comes first,
    for it is no change of the box."""
    ordered = sorted(changes, key=lambda one: one.key != "day")
    found = []
    for one, other in combinations(ordered, 2):
        if SUBJECTS[one.key] == SUBJECTS[other.key]:
            continue
        both = next((c for c in changes_of(one.parcel, costs) if c.name == other.name), None)
        if both is not None:
            found.append(Change("pair", {}, one.cost + both.cost, both.parcel, (one, other)))
    return found


def _fit(parcel: Parcel) -> bool:
    """Whether the packs have room beside the cup, a litre for each kg."""
    share = read_values("parcel.toml")["mix_iron_share"].value
    taken = sum(k.number * max(k.gel, k.iron / share) for k in parcel.packs)
    return taken <= 1000 * (parcel.box.volume - parcel.cup.volume)


def _packs(parcel: Parcel, costs: Mapping[str, float]) -> list[Change]:
    found = []
    for k, pack in enumerate(parcel.packs[:1]):

        def other(one: Pack, k: int = k) -> Parcel:
            return replace(parcel, packs=(*parcel.packs[:k], one, *parcel.packs[k + 1 :]))

        n = pack.number
        for more in (1, 2):
            one = replace(pack, number=n + more)
            if _fit(other(one)):
                found.append(Change("packs", {"number": n + more}, costs["pack"] * more, other(one)))
        if n > 1:
            one = replace(pack, number=n - 1)
            found.append(Change("packs", {"number": n - 1}, -costs["pack"], other(one)))
        found.append(Change("no_pack", {}, -costs["pack"] * n, replace(parcel, packs=parcel.packs[1:])))
        for place in ("side", "top", "wrapped"):
            if place != pack.place and (place != "wrapped" or parcel.filler is not None):
                found.append(Change(f"pack_{place}", {}, 0.0, other(replace(pack, place=place))))
    return found


def _vents(parcel: Parcel, costs: Mapping[str, float]) -> list[tuple[str, dict[str, float], float, Box]]:
    box = parcel.box
    burns = any(pack.kind == "heat" for pack in parcel.packs)
    found: list[tuple[str, dict[str, float], float, Box]] = []
    if box.seam_gap > 0 and (box.holes is not None or not burns):
        found.append(("taped", {}, costs["tape"], replace(box, seam_gap=0.0)))
    more = Holes(4, 0.004) if box.holes is None else replace(box.holes, count=2 * box.holes.count)
    found.append(("more_holes", {"count": more.count, "mm": 1000 * more.width}, 0.0, replace(box, holes=more)))
    if box.holes is not None and box.holes.count > 1:
        fewer = replace(box.holes, count=box.holes.count // 2)
        found.append(("fewer_holes", {"count": fewer.count, "mm": 1000 * fewer.width}, 0.0, replace(box, holes=fewer)))
    return found
