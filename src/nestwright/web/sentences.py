"""What the record says in English, clause by clause, in the reader's language.

Alarms keep their sentences as they were raised; a page knows the clauses that they are made of and says them anew. A
sentence with a clause that is not known stays as it is: half a sentence in each language is worse than either.
"""

from __future__ import annotations

import re
from functools import cache

from markupsafe import Markup, escape

from nestwright.web.shown import Shown
from nestwright.web.words import ENGLISH, words_of

__all__ = ["CLAUSES", "said"]

CLAUSES = (
    "look at it",
    "cool the room or shade it, turn down the heat",
    "look to the heater and the room",
    "look for dry water, an open lid or too much vent",
    "look for drops",
    "open a vent",
    "import the readings of {}",
    "look to its power and network",
    "find the cause, then see whether donor garden would save it",
    "find the cause",
    "look again and see what is wrong",
    "set the next bell, or open the chamber",
    "begin the next bell",
    "begin the next chamber",
    "give more leaves",
    "visit it",
    "look for queen and eggs",
    "take the waste away",
    "fill its water",
    "calibrate it over saturated salts",
    "mend it before anything gets out",
    "ask the carrier where it is",
    "be there to receive it",
    "temperature {}, above the limit {} for {}",
    "temperature {}, below the limit {} for {}",
    "relative humidity {}, above the limit {} for {}",
    "relative humidity {}, below the limit {} for {}",
    "CO2 {}, above the limit {} for {}",
    "never calibrated: the range is that of a sensor as sold",
    "no readings for {}",
    "its files are brought in by hand",
    "no reading for {}, usually one every {}",
    "chance {} to lose its workers or its garden within {} as things are",
    "its garden shrinks: {} today, {} in {} as things are",
    "its garden looked {} when last seen, {} ago ({})",
    "fill {}, above the band's {}: growth is held back",
    "fill {}",
    "this one is full on {}",
    "how long the next bell takes you is not told",
    "how long the next chamber takes you is not told",
    "the next bell takes {} and this one is full on {}",
    "the next chamber takes {} and this one is full on {}",
    "it takes {} of leaves a day and was given {} a day over {}",
    "visited today",
    "last visit {} ago ({})",
    "no visit since it came, {} ago",
    "usually every {}",
    "due after {}",
    "it was given donor garden: look after {}",
    "no brood at the last {} looks, last seen {} ago ({})",
    "no brood at the last {} looks, never seen in {}",
    "waste last taken {} ago, usually every {}",
    "about {} by now",
    "its last refill is not recorded",
    "last filled {} ago ({})",
    "its water lasts {}",
    "was never calibrated: what it is off by is not known",
    "calibrated {} ago ({}), due on {}",
    "failed: {}",
    "{} lives in it",
    "its record ends {} ago, on {}: no forecast from that",
    "sent {} ago ({})",
    "sent {} ago ({}) by {}",
    "sent {} ago ({}), longer than a live parcel should take",
    "sent {} ago ({}) by {}, longer than a live parcel should take",
)
"""The clauses of alarms and tasks (`nestwright.workshop.alarm_rules`), what changes in them as {}."""
_DAY = re.compile(r"\b\d{4}-\d{2}-\d{2}\b")


@cache
def _forms() -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(re.escape(one).replace(r"\{\}", "(.+?)")), one) for one in CLAUSES)


def said(text: str, show: Shown, *, capital: bool = False) -> Markup:
    """A sentence of the record in the reader's language; as it is, and marked as English, where it is not made of known
    clauses. `capital`: with a large first letter."""
    clauses = [None if show.choice.language == ENGLISH else _clause(show, one) for one in text.split("; ")]
    told = text if None in clauses else "; ".join(one for one in clauses if one)
    if capital:
        told = told[:1].upper() + told[1:]
    return escape(told) if None not in clauses else Markup('<span lang="en">{}</span>').format(told)


def _clause(show: Shown, text: str) -> str | None:
    _ = words_of(show.choice.language).gettext
    for form, clause in _forms():
        match = form.fullmatch(text)
        told = _(clause)
        if match and told != clause:
            return told.format(*(_figure(show, one) for one in match.groups()))
    return None


def _figure(show: Shown, text: str) -> str:
    """What changes in a clause: days, spans and figures with their range, or a name, which stays."""
    _ = words_of(show.choice.language).gettext
    if text == "not certainly within the days looked at":
        return _("not certainly within the days looked at")
    if not re.match(r"over |under |not certainly |[-+~]?\d", text):
        return text
    text = re.sub(r"\bnot certainly within the days looked at\b", _("not certainly within the days looked at"), text)
    days = _DAY.findall(text)
    plain = _DAY.sub("\0", text)
    for word, told in (("1 day", _("1 day")), ("days", _("days")), ("over", _("over")), ("later", _("later"))):
        plain = re.sub(rf"\b{word}\b", lambda _found, told=told: told, plain)  # type: ignore[misc]
    plain = show.figures(plain)
    for one in days:
        plain = plain.replace("\0", show.day(one), 1)
    return plain
