"""The papers of one parcel: how to pack it, the label of its box, and a card for whoever opens it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.papers.parcel_pictures import cup_size, keep_dry, section_svg, temperatures, this_way_up
from nestwright.press.setting import readable, set_paper

if TYPE_CHECKING:
    from nestwright.parcel.model import Layers, Pack, Parcel
    from nestwright.parcel.results import LimitPassed, Passage

__all__ = ["parcel_papers"]

UNTOLD = "not told"
PLACES = {"side": "at the wall beside the cup", "top": "under the lid", "wrapped": "around the cup, in paper"}
PACKING_CAUTIONS = (
    "Heat packs burn skin and animals that touch them: paper or foam between pack and cup.",
    "Heat packs use the oxygen of the box: never in a sealed bag, never in a box without an opening.",
    "Rules for live animals, plant pests and packs differ by place and carrier: ask the authority and the carrier "
    "before sending. Nothing printed here is a permission.",
)
PASSED = "On paper a limit of the garden is passed on this way: change box, pack or day before anything is sent."
RECEIVING = (
    "Open the box indoors and at once, over a tray with a rim: nothing that lives in it may get out.",
    "Take the packs out first. They may be hot; do not lay them on skin, cloth or plastic.",
    "Leave the box open a hand's width for a quarter of an hour, so that air comes in. A pack that ran out of air in a "
    "closed box may grow hot again when it is opened.",
    "Do not warm the cup by lamp, radiator or water. Let it stand in the room, in the dark, with its own lid on.",
    "Look before opening the cup: is the garden whole, wet, brown? Write it down, with a photograph and the hour.",
    "Put garden and ants into the damp, dry-run habitat; the first few leaves after about six hours.",
    "If much is dead or something got out, tell the sender today, and the authority where your rules ask for it.",
)


def parcel_papers(parcel: Parcel, passage: Passage) -> bytes:
    """Three pages as PDF/A-2b: packing instruction, label of the box, card inside. Dated with the day of dispatch.

    Parameters
    ----------
    parcel : the parcel as its file tells it.
    passage : what `nestwright.parcel.carry.carry` said of it; every figure of the journey is taken from there.

    Notes
    -----
    What a file leaves open is shown as "not told". The drawing takes the cup as wide as high, and packs by place only.
    The marks are our own drawings of what ISO 780 describes (from memory, not held against its text); whether a
    carrier asks for others is the carrier's to say.
    """
    low, high = (_limit(passage, end) for end in ("low", "high"))
    band = [UNTOLD if x is None else f"{x.to_dict()['limit']:.3g} °C" for x in (low, high)]
    dispatch = parcel.dispatch.strftime("%Y-%m-%d %H:%M")
    due = parcel.promised.strftime("%Y-%m-%d %H:%M") if parcel.promised else UNTOLD
    data = {
        "lang": "en",
        "title": f"Papers of the parcel {readable(parcel.name, 60)}",
        "footer": "Made from the parcel's file. It is no permission to send.",
        "name": parcel.name,
        "species": parcel.card.name,
        "steps": _steps(parcel),
        "section": {
            "svg": section_svg(parcel),
            "alt": "Section of the box with its layers, filler, packs and the cup",
            "note": f"To scale; the cup is drawn {1e3 * cup_size(parcel.cup.volume):.0f} mm wide and high, from its "
            "volume. A coloured bar for each pack shows where it goes, not its size.",
        },
        "journey": _journey(passage),
        "cautions": [*([] if passage.holds else [PASSED]), *PACKING_CAUTIONS],
        "rules": PACKING_CAUTIONS[-1],
        "marks": [
            {"svg": this_way_up(), "alt": "Two arrows upward", "words": "This way up"},
            {"svg": keep_dry(), "alt": "Umbrella under drops", "words": "Keep dry"},
            {"svg": temperatures(*band), "alt": "Thermometer", "words": f"Garden: {band[0]} to {band[1]}"},
        ],
        "label": [
            ["Content", f"live ants and fungus garden, {parcel.card.name}"],
            ["Workers", f"{parcel.cup.workers:.0f}"],
            ["Garden", f"{1e6 * parcel.cup.garden:.0f} mL"],
            ["Packs", _packs(parcel.packs)],
            ["Dispatched", dispatch],
            ["Due", due],
            ["Sender, receiver, permit", "write by hand: ____________________________"],
        ],
        "first": list(RECEIVING),
        "known": [["Dispatched", dispatch], ["Due", due], ["Packs", _packs(parcel.packs)], *_journey(passage)],
    }
    return set_paper("parcel", data, parcel.dispatch.date())


def _limit(passage: Passage, end: str) -> LimitPassed | None:
    return next((x for x in passage.limits if x.quantity == "temperature" and x.end == end), None)


def _layers(layers: Layers) -> str:
    return ", ".join(f"{1e3 * d:g} mm {material}" for d, material in layers) or UNTOLD


def _packs(packs: tuple[Pack, ...]) -> str:
    return ", ".join(f"{pack.number} {pack.kind} {'pack' if pack.number == 1 else 'packs'}" for pack in packs) or "none"


def _steps(parcel: Parcel) -> list[str]:
    box, cup = parcel.box, parcel.cup
    sizes = " x ".join(f"{1e3 * x:.0f}" for x in (box.width, box.depth, box.height))
    openings = [f"{box.holes.count} holes of {1e3 * box.holes.width:g} mm"] if box.holes else []
    openings += [f"a seam of {1e3 * box.seam_gap:g} mm along the lid, not taped"] if box.seam_gap > 0 else []
    lid = f"a lid with {cup.holes.count} holes of {1e3 * cup.holes.width:g} mm" if cup.holes else "a lid without holes"
    steps = [
        f"Box: {sizes} mm inside; layers from outside: {_layers(box.layers)}.",
        f"Openings of the box: {' and '.join(openings) if openings else 'none'}.",
        f"Cup of {1e6 * cup.volume:.0f} mL with {lid}: {1e6 * cup.garden:.0f} mL of garden, {cup.workers:.0f} workers, "
        f"damp cotton with {1e3 * cup.cotton:.0f} g of water.",
    ]
    for pack in parcel.packs:
        kind = f"{pack.number} {pack.kind} {'pack' if pack.number == 1 else 'packs'}"
        start = f", begun at {pack.starts_at - 273.15:.0f} °C" if pack.kind == "cold" else ""
        steps.append(f"{kind} {PLACES[pack.place]}{start}.")
    if parcel.filler:
        filler = f"{parcel.filler.material}, {100 * parcel.filler.share:.0f} % of the room that is left"
        steps.append(f"Cup into the middle, filler around it: {filler}.")
    else:
        steps.append("Cup into the middle; no filler is told: fix it so that it cannot slide to the pack.")
    return [*steps, f"Close at {parcel.packed_at - 273.15:.0f} °C, put the card in, label the outside."]


def _journey(passage: Passage) -> list[list[str]]:
    first, loss = passage.first_limit, passage.loss
    cup = passage.course.cup - 273.15
    lost, least, most = (f"{100 * x:.0f}" for x in (loss.share, loss.share_low, loss.share_high))
    went = "every limit holds on paper" if passage.holds else "a limit is passed on paper"
    spent = "not before the end" if passage.heat_ends is None else f"after about {passage.heat_ends:.0f} h"
    if passage.heat_ends is not None and passage.starved is not None:
        spent += ": the box is out of air, and they may heat again when it is opened"
    return [
        ["On the way", f"{passage.hours + passage.delay:.0f} h"],
        ["Limits of the garden", went + ("" if first.sure else "; not sure")],
        ["Garden between", f"{cup.min():.1f} and {cup.max():.1f} °C, computed"],
        ["Packs are spent", spent],
        [
            "Garden lost, computed",
            f"{lost} % ({least} to {most} %, rates are judgement)",
        ],
    ]
