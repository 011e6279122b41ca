"""Names and figures of results as a paper shows them: limits, materials, parts, events, in the paper's language."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable, Sequence
from functools import cache
from html import escape, unescape

from nestwright.papers.marks import N_
from nestwright.papers.words import decimal

__all__ = ["catalogued", "counted", "drawn", "figures", "limit_name", "limit_table", "measured", "named"]

Say = Callable[[str], str]
QUANTITIES = (
    N_("temperature"), N_("humidity"), N_("CO2"), N_("O2"), N_("drip on the garden"), N_("garden's water"),
)  # fmt: skip
HEAD = (
    N_("limit"), N_("band"), N_("value"), N_("interval"), N_("margin"), N_("verdict"), N_("hours held"),
)  # fmt: skip
CELLS = (
    N_("holds"), N_("holds, not sure"), N_("fails"), N_("fails, not sure"), N_("at its edge"), N_("just outside"),
    N_("none"), N_("all"),
)  # fmt: skip
NOTES = (
    N_("chambers show the mean over the run, limits their worst hour"),
    N_("the room falls below 0 degC: ice is not modelled, so nothing said of that time can be trusted"),
    N_("no release of tracer shows in the readings: openings are told by humidity alone"),
    N_("no humidity was read: the block is not told"),
)
DRAWN = (
    N_("{name}, revision {revision}"), N_("Vertical cut, true to scale; sizes in mm are inner sizes."),
    N_("Vertical cut, true to scale but for tubes cut short; sizes in mm are inner sizes."), N_("chamber"),
    N_("inner size, mm"), N_("opening"), N_("between"), N_("inside"), N_("room"), N_("water"), N_("heater"),
    N_("block, {amount} of water in {place}"), N_("pool, {amount} of water in {place}"),
    N_("reservoir, {amount} of water in {place}"), N_("heater, {power}, side of {place}"),
    N_("heater, {power}, top of {place}"), N_("heater, {power}, base of {place}"),
    N_("heater, {power}, in the air of {place}"), N_("heater, {power}, in the water of {place}"),
    N_("heater, {power}, in the block of {place}"), N_("sensor in {place}"), N_("{amount} in {place}"),
    N_("{size} over all"), N_("Ø {width} to {top} × {height}"),
)  # fmt: skip
"""What stands in a cross-section of a design, besides names."""
_SPOKEN = re.compile(r"(<(?:text|title)\b[^>]*>)([^<]+)(?=<)")
RANGE = re.compile(r"(-?[\d.]+) to (-?[\d.]+)(.*)")
BOUND = re.compile(r"(at least|at most|under|over) (-?[\d.]+.*)")


def named(texts: Iterable[str], _: Say) -> str:
    """Several names with commas between."""
    return ", ".join(_(one) for one in texts)


def measured(what: str, _: Say) -> str:
    """What was measured on a build; a name of the keeper's own stays."""
    from nestwright.workshop.refills import FILLED, LASTS

    return _(what) if what in (FILLED, LASTS) else what


def counted(text: str, _: Say) -> str:
    """A count or an amount as the record tells it: "about 60", "50 to 80"."""
    if text.startswith("about "):
        return _("about {number}").format(number=text[6:])
    between = RANGE.fullmatch(text)
    return text if between is None else _("{low} to {high}").format(low=between[1], high=between[2]) + between[3]


def limit_name(name: str, _: Say) -> str:
    """A limit by its place, which keeps its name, and its quantity: "pot/bell: humidity"."""
    place, mark, quantity = name.rpartition(": ")
    return f"{place}{mark}{_(quantity)}"


def figures(text: str, language: str) -> str:
    """A text of figures and units with the decimal sign of the language."""
    return re.sub(r"(?<![\w.-])[+−-]?\d+\.\d+(?![\w.])", lambda found: decimal(found[0], language), text)


def limit_table(
    head: Sequence[str], rows: Sequence[Sequence[str]], language: str, _: Say
) -> tuple[list[str], list[list[str]]]:
    """Column names and rows of a proof's limits, whose first column names them."""
    return [_(one) for one in head], [
        [limit_name(row[0], _), *(_cell(one, language, _) for one in row[1:])] for row in rows
    ]


def drawn(svg: str, names: Collection[str], language: str, _: Say) -> str:
    """A cross-section in the language of its paper; `names` of its parts stay."""
    from nestwright.data import load_materials

    if language == "en":
        return svg
    known = [one for one in (*DRAWN, *load_materials(), "garden") if one not in names]

    def anew(found: re.Match[str]) -> str:
        return found[1] + escape(_said(unescape(found[2]), known, language, _), quote=False)

    return _SPOKEN.sub(anew, svg)


def _said(text: str, known: Sequence[str], language: str, _: Say) -> str:
    if text in known:
        return _(text)
    for phrase in (one for one in known if "{" in one):
        match = re.fullmatch(re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+)", re.escape(phrase)), text)
        if match is not None and (phrase != "{amount} in {place}" or text[:1].isdigit()):
            return figures(_(phrase).format(**match.groupdict()), language)
    return figures(re.sub(r"\broom\b", _("room"), text), language) if "–" in text else figures(text, language)


def _cell(text: str, language: str, _: Say) -> str:
    if (between := RANGE.fullmatch(text)) is not None:
        text = _("{low} to {high}").format(low=between[1], high=between[2]) + _unit(between[3], _)
    elif (bound := BOUND.fullmatch(text)) is not None:
        words = {
            "at least": _("at least {value}"), "at most": _("at most {value}"), "under": _("under {value}"),
            "over": _("over {value}"),
        }  # fmt: skip
        text = words[bound[1]].format(value=_unit(bound[2], _))
    elif re.match(r"[+−-]?\d", text):
        text = _unit(text, _)
    else:
        return _(text) if text else ""
    return figures(text, language)


def _unit(text: str, _: Say) -> str:
    return re.sub(r"g/day$", _("g/day"), text)


@cache
def catalogued() -> tuple[str, ...]:
    """Names that come to a paper from other tables of the program, for the catalogues of languages."""
    from typing import get_args

    from nestwright.colony.form import EVENTS
    from nestwright.data import load_materials, load_species, parcel_materials, species_names
    from nestwright.habitat.model import Role
    from nestwright.workshop.refills import FILLED, LASTS
    from nestwright.workshop.visits import COUNTED, HEALTH

    cards = [load_species(name) for name in species_names()]
    why = [limit.source for card in cards for limit in card.limits if limit.mark == "judgement"]
    shapes = ("bell", "cylinder", "box", "cone")
    told = (
        *load_materials(),
        *parcel_materials(),
        *get_args(Role),
        *EVENTS,
        *COUNTED,
        *HEALTH,
        FILLED,
        LASTS,
        *shapes,
        *why,
    )
    return tuple(dict.fromkeys(told))
