"""A parcel's journey in words and tables, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nestwright.cli.output import CAUTIONS, console, figure, heading, plain, significant, table
from nestwright.wording.passage import ANTS, CAUSES, DECIMALS, PACK_CAUTION, UNITS, VALUES, words_of

if TYPE_CHECKING:
    from nestwright.parcel.results import Passage

__all__ = ["print_passage"]


def print_passage(passage: Passage) -> None:
    """Print a journey: verdict, course by leg, limits, loss, what it rests on, cautions."""
    out = console()
    late = f", {figure(passage.delay, 0)} h late" if passage.delay else ""
    out.print(
        f"[bold]{plain(passage.name)}[/bold], {plain(passage.species)}: "
        f"{figure(passage.hours, 0)} h from {passage.dispatch[:16].replace('T', ' ')}{late}"
    )
    out.print()
    _verdict(passage)
    _course(passage)
    out.print(heading("Limits of the garden"))
    rows = []
    for x in passage.limits:
        told = x.to_dict()
        digits = DECIMALS[x.quantity]
        rows.append(
            [
                words_of(x),
                f"{figure(told['worst'], digits)} {UNITS[x.quantity]}",
                f"{figure(x.margin, 1, sign=True)} ({figure(x.margin_low, 1)} to {figure(x.margin_high, 1)})",
                ("holds" if x.margin >= 0 else "fails") + ("" if x.sure else ", not sure"),
                "" if x.first is None else f"after {significant(x.first)} h, {significant(x.hours_outside)} h in all",
            ]
        )
    out.print(table(["limit", "worst", "margin in steps", "verdict", "outside"], rows, left=(0, 3, 4)))
    _loss(passage)
    out.print(heading("What it rests on"))
    for name, steps in passage.rests_on[:6]:
        out.print(f"{VALUES.get(name, name)}: moves the first limit by {significant(steps)} steps")
    assumed = [VALUES.get(x, x) for x in passage.judgements if x not in dict(passage.rests_on)]
    if assumed:
        out.print(f"Not told in the file: {', '.join(assumed)}")
    out.print(
        f"Halving the steps moved the cup by at most {significant(max(passage.step_error, 0.01), 1)} K. Rates of harm "
        "and most values of boxes and packs are judgement; that of the journey itself was set by the one published "
        "journey."
    )
    out.print(heading("Cautions"))
    out.print(PACK_CAUTION)
    out.print(CAUTIONS["law"])


def _verdict(passage: Passage) -> None:
    out, first = console(), passage.first_limit
    sure = "" if first.sure else " (not sure: what is not known could turn it)"
    if first.first is None:
        out.print(f"[bold]Every limit holds on the way.[/bold] Nearest: {words_of(first)}{sure}.")
    else:
        out.print(f"[bold]A limit goes after {significant(first.first)} h[/bold]: {words_of(first)}{sure}.")
    if passage.starved is not None:
        out.print(
            f"The packs take the oxygen: after {significant(passage.starved)} h the box holds half of what it had."
        )
    if passage.heat_ends is not None:
        why = (
            "the packs are spent" if passage.starved is None
            else "the packs get no more air; they may heat again when the box is opened"
        )  # fmt: skip
        out.print(f"After {significant(passage.heat_ends)} h {why}.")


def _course(passage: Passage) -> None:
    import numpy as np

    c, out = passage.course, console()
    out.print(heading("On the way"))
    rows = []
    hours = c.time / 3600
    for name, begin, end in passage.legs:
        here = (hours >= begin - 1e-9) & (hours <= end + 1e-9)

        def span(values: np.ndarray, decimals: int, here: np.ndarray = here) -> str:
            low, high = figure(float(values[here].min()), decimals), figure(float(values[here].max()), decimals)
            return low if low == high else f"{low} to {high}"

        rows.append(
            [
                plain(name),
                f"{figure(begin, 0)} to {figure(end, 0)} h",
                span(c.outside - 273.15, 0),
                span(c.cup - 273.15, 1),
                span(c.humidity * 100, 0),
                span(c.co2 * 100, 1),
                span(c.o2 * 100, 1),
                span(c.power, 1),
            ]
        )
    out.print(
        table(["leg", "", "outside °C", "garden °C", "humidity %", "CO2 %", "O2 %", "packs W"], rows, left=(0, 1))
    )
    out.print(f"Water on the wall of the cup: at most {significant(passage.condensed * 1e3)} g")


def _loss(passage: Passage) -> None:
    loss, out = passage.loss, console()
    out.print(heading("What the journey does"))
    low, middle, high = (figure(100 * x, 0) for x in (loss.share_low, loss.share, loss.share_high))
    out.print(f"Share of the garden lost: {middle} % ({low} to {high} %, by the range of the card's rates)")
    out.print(f"Chance that the garden is lost: {_chance(loss.garden)}; that the ants are: {_chance(loss.colony)}")
    if loss.ants_cause:
        out.print(f"What the ants suffer from most: {ANTS[loss.ants_cause]}")
    parts = [f"{CAUSES[name]} {figure(100 * share, 0)} %" for name, share in loss.by_cause if share >= 0.01]
    out.print(f"Of the garden's harm: {', '.join(parts)}")
    out.print(
        "This is one journey with every value in its middle. Over many parcels, with leaks, packs, air and delay "
        "drawn, the chances are others, most of all the ants': --risk."
    )


def _chance(value: float) -> str:
    return "under 1 %" if value < 0.01 else "over 99 %" if value > 0.99 else f"about {figure(100 * value, 0)} %"
