"""The papers of one parcel: how to pack it, the label of its box, and a card for whoever opens it."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from nestwright.papers.marks import N_
from nestwright.papers.names import figures
from nestwright.papers.parcel_pictures import cup_size, keep_dry, section_svg, temperatures, this_way_up
from nestwright.papers.words import words_of
from nestwright.press.setting import readable, set_paper

if TYPE_CHECKING:
    from nestwright.parcel.model import Layers, Pack, Parcel
    from nestwright.parcel.results import LimitPassed, Passage

__all__ = ["parcel_papers"]

UNTOLD = N_("not told")
PLACES = {
    "side": N_("at the wall beside the cup"),
    "top": N_("under the lid"),
    "wrapped": N_("around the cup, in paper"),
}
PACKING_CAUTIONS = (
    N_("Heat packs burn skin and animals that touch them: paper or foam between pack and cup."),
    N_("Heat packs use the oxygen of the box: never in a sealed bag, never in a box without an opening."),
    N_(
        "Rules for live animals, plant pests and packs differ by place and carrier: ask the authority and the carrier "
        "before sending. Nothing printed here is a permission."
    ),
)
PASSED = N_("On paper a limit of the garden is passed on this way: change box, pack or day before anything is sent.")
RECEIVING = (
    N_("Open the box indoors and at once, over a tray with a rim: nothing that lives in it may get out."),
    N_("Take the packs out first. They may be hot; do not lay them on skin, cloth or plastic."),
    N_(
        "Leave the box open a hand's width for a quarter of an hour, so that air comes in. A pack that ran out of air "
        "in a closed box may grow hot again when it is opened."
    ),
    N_("Do not warm the cup by lamp, radiator or water. Let it stand in the room, in the dark, with its own lid on."),
    N_("Look before opening the cup: is the garden whole, wet, brown? Write it down, with a photograph and the hour."),
    N_("Put garden and ants into the damp, dry-run habitat; the first few leaves after about six hours."),
    N_("If much is dead or something got out, tell the sender today, and the authority where your rules ask for it."),
)
KINDS = {
    ("heat", True): N_("{n} heat pack"),
    ("heat", False): N_("{n} heat packs"),
    ("cold", True): N_("{n} cold pack"),
    ("cold", False): N_("{n} cold packs"),
}
Say = Callable[[str], str]


def parcel_papers(parcel: Parcel, passage: Passage, language: str = "en") -> bytes:
    """Three pages as PDF/A-2b: packing instruction, label of the box, card inside. Dated with the day of dispatch.

    Parameters
    ----------
    parcel : the parcel as its file tells it.
    passage : what `nestwright.parcel.carry.carry` said of it; every figure of the journey is taken from there.
    language : of the paper's own words; a material that the program does not know stays as the file tells it.

    Raises InputError for a language that is not there.

    Notes
    -----
    What a file leaves open is shown as "not told". The drawing takes the cup as wide as high, and packs by place only.
    The marks are our own drawings of what ISO 780 describes (from memory, not held against its text); whether a
    carrier asks for others is the carrier's to say.
    """
    _ = words_of(language).gettext
    low, high = (_limit(passage, end) for end in ("low", "high"))
    band = [_(UNTOLD) if x is None else figures(f"{x.to_dict()['limit']:.3g} °C", language) for x in (low, high)]
    dispatch = parcel.dispatch.strftime("%Y-%m-%d %H:%M")
    due = parcel.promised.strftime("%Y-%m-%d %H:%M") if parcel.promised else _(UNTOLD)
    packs = ", ".join(_pack(pack, _) for pack in parcel.packs) or _("none")
    known = [[_("Dispatched"), dispatch], [_("Due"), due], [_("Packs"), packs]]
    journey = [[what, figures(told, language)] for what, told in _journey(passage, _)]
    data = {
        "lang": language,
        "title": _("Papers of the parcel {name}").format(name=readable(parcel.name, 60)),
        "footer": _("Made from the parcel's file. It is no permission to send."),
        "name": parcel.name,
        "species": parcel.card.name,
        "words": {
            "packing": _("Packing instruction"), "order": _("In this order"),
            "journey": _("What the journey does, computed"), "cautions": _("Cautions"), "live": _("Live animals"),
            "open": _("Open at once"), "first": _("First"), "known": _("What is known of this parcel"),
        },
        "steps": [figures(one, language) for one in _steps(parcel, _)],
        "section": {
            "svg": section_svg(parcel, _("cup"), _("filler")),
            "alt": _("Section of the box with its layers, filler, packs and the cup"),
            "note": _(
                "To scale; the cup is drawn {mm} mm wide and high, from its volume. A coloured bar for each pack shows "
                "where it goes, not its size."
            ).format(mm=f"{1e3 * cup_size(parcel.cup.volume):.0f}"),
        },
        "journey": journey,
        "cautions": [_(one) for one in ([] if passage.holds else [PASSED])] + [_(one) for one in PACKING_CAUTIONS],
        "rules": _(PACKING_CAUTIONS[-1]),
        "marks": [
            {"svg": this_way_up(), "alt": _("Two arrows upward"), "words": _("This way up")},
            {"svg": keep_dry(), "alt": _("Umbrella under drops"), "words": _("Keep dry")},
            {"svg": temperatures(*band), "alt": _("Thermometer"),
             "words": _("Garden: {low} to {high}").format(low=band[0], high=band[1])},
        ],
        "label": [
            [_("Content"), _("live ants and fungus garden, {species}").format(species=parcel.card.name)],
            [_("Workers"), f"{parcel.cup.workers:.0f}"],
            [_("Garden"), f"{1e6 * parcel.cup.garden:.0f} mL"],
            [_("Packs"), packs], [_("Dispatched"), dispatch], [_("Due"), due],
            [_("Sender, receiver, permit"), _("write by hand: {line}").format(line=28 * "_")],
        ],
        "first": [_(one) for one in RECEIVING],
        "known": [*known, *journey],
        "last": _(
            "These are usual cautions. Local rules on live animals and plant pests, and licensed practice, come first. "
            "Ask before anything goes on from here."
        ),
    }  # fmt: skip
    return set_paper("parcel", data, parcel.dispatch.date())


def _limit(passage: Passage, end: str) -> LimitPassed | None:
    return next((x for x in passage.limits if x.quantity == "temperature" and x.end == end), None)


def _layers(layers: Layers, _: Say) -> str:
    return ", ".join(f"{1e3 * d:g} mm {_(material)}" for d, material in layers) or _(UNTOLD)


def _pack(pack: Pack, _: Say) -> str:
    return _(KINDS[pack.kind, pack.number == 1]).format(n=pack.number)


def _steps(parcel: Parcel, _: Say) -> list[str]:
    box, cup = parcel.box, parcel.cup
    sizes = " x ".join(f"{1e3 * x:.0f}" for x in (box.width, box.depth, box.height))
    openings = []
    if box.holes:
        openings.append(_("{n} holes of {mm} mm").format(n=box.holes.count, mm=f"{1e3 * box.holes.width:g}"))
    if box.seam_gap > 0:
        seam = _("a seam of {mm} mm along the lid, not taped")
        openings.append(seam.format(mm=f"{1e3 * box.seam_gap:g}"))
    lid = _("a lid without holes")
    if cup.holes:
        holes = _("a lid with {n} holes of {mm} mm")
        lid = holes.format(n=cup.holes.count, mm=f"{1e3 * cup.holes.width:g}")
    steps = [
        _("Box: {sizes} mm inside; layers from outside: {layers}.").format(sizes=sizes, layers=_layers(box.layers, _)),
        _("Openings of the box: {openings}.").format(openings=_(" and ").join(openings) or _("none")),
        _(
            "Cup of {volume} mL with {lid}: {garden} mL of garden, {workers} workers, damp cotton with {water} g of "
            "water."
        ).format(
            volume=f"{1e6 * cup.volume:.0f}", lid=lid, garden=f"{1e6 * cup.garden:.0f}", workers=f"{cup.workers:.0f}",
            water=f"{1e3 * cup.cotton:.0f}",
        ),
    ]  # fmt: skip
    for pack in parcel.packs:
        start = ""
        if pack.kind == "cold":
            start = _(", begun at {t} °C").format(t=f"{pack.starts_at - 273.15:.0f}")
        steps.append(f"{_pack(pack, _)} {_(PLACES[pack.place])}{start}.")
    if parcel.filler:
        filler = _("Cup into the middle, filler around it: {material}, {share} % of the room that is left.")
        steps.append(filler.format(material=_(parcel.filler.material), share=f"{100 * parcel.filler.share:.0f}"))
    else:
        steps.append(_("Cup into the middle; no filler is told: fix it so that it cannot slide to the pack."))
    close = _("Close at {t} °C, put the card in, label the outside.")
    return [*steps, close.format(t=f"{parcel.packed_at - 273.15:.0f}")]


def _journey(passage: Passage, _: Say) -> list[list[str]]:
    first, loss = passage.first_limit, passage.loss
    cup = passage.course.cup - 273.15
    lost, least, most = (f"{100 * x:.0f}" for x in (loss.share, loss.share_low, loss.share_high))
    went = _("every limit holds on paper") if passage.holds else _("a limit is passed on paper")
    spent = _("not before the end")
    if passage.heat_ends is not None:
        spent = _("after about {h} h").format(h=f"{passage.heat_ends:.0f}")
        if passage.starved is not None:
            spent += _(": the box is out of air, and they may heat again when it is opened")
    between = _("{low} and {high} °C, computed").format(low=f"{cup.min():.1f}", high=f"{cup.max():.1f}")
    share = _("{share} % ({low} to {high} %, rates are judgement)").format(share=lost, low=least, high=most)
    return [
        [_("On the way"), f"{passage.hours + passage.delay:.0f} h"],
        [_("Limits of the garden"), went + ("" if first.sure else _("; not sure"))],
        [_("Garden between"), between],
        [_("Packs are spent"), spent],
        [_("Share of the garden lost, computed"), share],
    ]
