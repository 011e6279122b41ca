"""What to do with a parcel that has come, in sentences; the page sets the same ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestwright.parcel.receiving import Journey, Receiving, Step

__all__ = ["CAUTION", "COUNT_HERE", "STEPS", "VERDICTS", "journey_line", "step_text", "verdict_text", "warming_text"]

CAUTION = (
    "Most of these steps are a keeper's practice, not trials. Escape and "
    "plant pests: open it where nothing can get away; permits of both places hold for the parcel as for "
    "the colony. Local rules come first."
)


VERDICTS = {
    "sound": "The garden counts as sound.",
    "watch": "The garden may be harmed and not show it yet: watch it.",
    "damaged": "Part of the garden is harmed: save what lives.",
    "lost": "The garden counts as lost. The colony need not be: queen and workers can take on new garden.",
    "unknown": "Nothing is told of the garden yet.",
}
STEPS = {
    "closed_room": "Open it in a closed room over a white tray with smooth walls, upright as it came, without shaking; "
    "ants may sit in filler and lid.",
    "packs_out": "First lift the lid and take the heat or cold packs out: a heat pack burns the box's oxygen and is "
    "hot, up to 60 degC and more. Let the box stand open a hand's width for a quarter of an hour.",
    "dark": "Keep it dim and still for {hours:.0f} h: no sun, no lamp on it, no knocking.",
    "feel_box": "It is not known how warm it is inside: put a thermometer to the cup. If it is more than {step_K:.0f} "
    "K off the garden's band of {low_degC:.0f} to {high_degC:.0f} degC, go there by {step_K:.0f} K at a time and hold "
    "each for {hold_h:.0f} h.",
    "warm": "Warm it slowly, from {from_degC:.0f} to {to_degC:.0f} degC in {hours:.0f} h and the hours of the "
    "last step: in the closed cup, never on a heater or in the sun.",
    "cool": "Cool it slowly, from {from_degC:.0f} to {to_degC:.0f} degC: in the shade with the lid open a hand's "
    "width, never in a refrigerator.",
    "no_steps": "It is {now_degC:.0f} degC inside: near enough to the garden's band, no steps are needed.",
    "water": "Water before food: a drop on damp cotton beside the garden, not on it.",
    "damp_cover": "It was dry: lay damp cotton or a damp grid beside the garden and close the bell over both; give "
    "water on cotton, none on the garden.",
    "drops_off": "It is wet: take drops off with paper, lay dry paper under it, and let air in until the walls are "
    "clear.",
    "no_worker": "No worker was seen alive. Cold ants lie still: look again after {hours:.0f} h within the garden's "
    "band before anything is given up. If none moves then, write the colony down as lost, and freeze what is left for "
    "two days before it is thrown away; garden that lives can help another colony.",
    "count": "Count workers alive and dead, look at the garden, and tell it: `nestwright parcels arrived NAME "
    '--garden "30 mL" --health grey --workers 50 --dead 4`; then ask again.',
    "garden_sound": "Set the garden under its bell on the grid with the ants, whole.",
    "garden_watch": "Set the garden under its bell on the grid, whole, and look at it each day for {days:.0f} days: "
    "brown, or carried out in crumbs, means that it fails.",
    "garden_damaged": "Take off what is brown, wet or foreign, set what is white or grey under a small bell (the "
    "start), and have donor garden ready.",
    "garden_lost": "Take the dead garden out, leave queen, workers and brood together, damp and dark, and give donor "
    "garden as the rescue says.",
    "garden_unknown": "Set what there is under its bell with the ants and look again within the hour.",
    "donor_ready": "After such a journey have donor garden of a sound colony ready, without its workers.",
    "leaves": "First leaves after {hours:.0f} h: {grams:.1f} g, tender, unsprayed; take away what is not taken in a "
    "day.",
    "look": "Look after {hours:.0f} h, then each day for {days:.0f} days, and write it down as visits.",
    "apart": "Keep it apart from other colonies for {weeks:.0f} weeks, with tools of its own.",
}
COUNT_HERE = (
    "Count workers alive and dead, look at the garden, and record both on this page; then read these steps again."
)
"""The step `count` where a form stands beside it."""


def step_text(step: Step) -> str:
    """One step in a sentence."""
    return STEPS[step.key].format(**step.figures)


def verdict_text(result: Receiving) -> str:
    """What the garden counts as, and why."""
    if result.found.workers == 0:
        return "No worker was seen alive: if that stays so, the colony is lost."
    said = VERDICTS[result.garden]
    if result.garden == "unknown" and result.expected in ("watch", "lost"):
        said += f" After such a journey expect it to be {'lost' if result.expected == 'lost' else 'harmed'}."
    return said


def journey_line(one: Journey) -> str:
    """What it went through, in one line."""
    if one.hours is None:
        return "What it went through is not known: no logger travelled in it and no parcel file was told."
    if one.now is None:
        return f"It was {one.hours:.0f} h on its way; how warm it was inside is not known."
    told = {"logger": "By the logger inside", "computed": "As computed, not measured"}.get(one.known_by, "")
    parts = [f"{told}: {one.hours:.0f} h"]
    if one.lowest is not None and one.highest is not None and one.now is not None:
        parts.append(f"{one.lowest:.0f} to {one.highest:.0f} degC, last {one.now:.0f} degC")
    for hours, words in (
        (one.hours_cold, "below the garden's band"),
        (one.hours_hot, "above it"),
        (one.hours_dry, "too dry"),
    ):
        if hours:
            parts.append(f"{'under 1' if hours < 1 else f'{hours:.0f}'} h {words}")
    return ", ".join(parts)


def warming_text(result: Receiving) -> list[str]:
    """The steps of warming or cooling, one line each."""
    return [f"{'now' if h == 0 else f'after {h:g} h'}: {t:.0f} degC" for h, t in result.warming]
