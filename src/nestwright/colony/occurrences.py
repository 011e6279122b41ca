"""From an event of the file, in its own words and measure, to an event of the record."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from nestwright.colony.form import EventForm
from nestwright.colony.model import Event, EventKind
from nestwright.colony.texts import Amount, Leaf
from nestwright.errors import InputError

__all__ = ["MEASURES", "event_of"]

MEASURES: dict[str, dict[str, EventKind]] = {
    "garden added": {"mL": "garden_added"},
    "garden taken": {"mL": "garden_taken", "share": "garden_share_lost"},
    "garden lost": {"mL": "garden_taken", "share": "garden_share_lost", "": "garden_share_lost"},
    "workers added": {"count": "workers_added"},
    "workers taken": {"count": "workers_taken"},
    "workers lost": {"count": "workers_taken"},
    "eggs added": {"count": "eggs_added"},
    "larvae added": {"count": "larvae_added"},
    "pupae added": {"count": "pupae_added"},
    "brood lost": {"share": "brood_share_lost", "": "brood_share_lost"},
    "queen lost": {"": "queen"},
    "queen laying": {"share": "queen", "": "queen"},
    "leaves given": {"g": "leaves", "cm2": "leaves"},
    "bell": {"mL": "room"},
}
"""Each event to the measures that its amount may have ("" = none needed) and what it then is in the record."""

_EXAMPLES = {"mL": "'20 mL'", "share": "'30 %'", "count": "25", "g": "'3 g'", "cm2": "'40 cm2'", "": "no amount"}


def event_of(
    form: EventForm, day: float, place: Callable[[str], dict[str, Any]], dry: Callable[[Leaf], float]
) -> Event | InputError:
    """The event of the record, or what is wrong with its amount. `dry` turns fresh leaves to g dry matter."""
    measures = MEASURES[form.what]
    unit = form.amount.unit if form.amount is not None else ""
    line = place("what")["line"]
    if unit not in measures:
        message = f"{form.what!r} needs an amount" if unit == "" else f"{form.what!r} is not told in this measure"
        found = "" if form.amount is None else _told(form.amount)
        allowed = " or ".join(_EXAMPLES[m] for m in measures)
        return InputError(message, found=found, allowed=allowed, **place("amount" if unit else "what"))
    if form.plant and form.what != "leaves given":
        return InputError("a plant without leaves", allowed="'leaves given' as what", **place("plant"))
    value = 1.0 if form.amount is None else form.amount.value
    if form.what == "queen lost":
        value = 0.0
    if form.what == "leaves given" and form.amount is not None:
        value = dry(Leaf(form.amount.value, "g" if form.amount.unit == "g" else "cm2"))
    return Event(day, measures[unit], value, form.plant, form.note, line)


def _told(amount: Amount) -> str:
    if amount.unit == "share":
        return f"{100 * amount.value:.6g} %"
    return f"{amount.value:.6g} {'' if amount.unit == 'count' else amount.unit}".strip()
