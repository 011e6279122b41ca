"""The steady climate of a design as rows of the designer, in the reader's units and language."""

from __future__ import annotations

import math
from typing import Any

from nestwright.climate.results import DAY, LimitResult, Proof
from nestwright.web.climate_words import edge_text, limit_name, value_text
from nestwright.web.habitat_text import Slide
from nestwright.web.shown import FLUID_OUNCE, INCH, OUNCE, Shown
from nestwright.web.words import words_of
from nestwright.wording.proof import QUANTITY_DECIMALS, REFILL_YEARS, refill_days

__all__ = ["beside_units", "now_rows", "slide_name", "slide_words", "water_lines"]

BESIDE = {
    "mm": (1 / INCH, "in"),
    "cm": (10 / INCH, "in"),
    "mL": (1 / FLUID_OUNCE, "fl oz"),
    "L": (1000 / FLUID_OUNCE, "fl oz"),
    "g": (1 / OUNCE, "oz"),
    "cm2": (100 / INCH**2, "sq in"),
}
"""Unit in a habitat's file to what one of it is in the other system."""


def now_rows(show: Shown, proof: Proof, *, light: bool) -> list[dict[str, Any]]:
    """One row a limit, the least margin first; without an interval when `light`."""
    _ = words_of(show.choice.language).gettext
    rows = []
    for limit in sorted(proof.limits, key=lambda one: one.scaled_margin):
        places, quantity = QUANTITY_DECIMALS.get(limit.quantity, 2), limit.quantity
        low, high = (value_text(show, quantity, end, places) for end in (limit.low_value, limit.high_value))
        rows.append(
            {
                "name": limit_name(show, limit.name),
                "value": value_text(show, quantity, limit.value, places),
                "interval": "" if light else _("{} to {}").format(low, high),
                "margin": edge_text(show, quantity, limit.margin, places),
                "held": limit.held,
                "says": _says(show, limit, light=light),
            }
        )
    return rows


def _says(show: Shown, limit: LimitResult, *, light: bool) -> str:
    _ = words_of(show.choice.language).gettext
    if light or limit.sure:
        return _("holds") if limit.held else _("fails")
    return _("holds, but could fail") if limit.held else _("fails, but could hold")


def water_lines(show: Shown, proof: Proof) -> list[str]:
    """Sentences on water used, refilling, drip and heater."""
    _ = words_of(show.choice.language).gettext
    used, drip = proof.water_rate * 1000 * DAY, proof.drip_rate * 1000 * DAY
    if used >= 0:
        lines = [_("Water used: {} a day").format(show.mass(used))]
    else:
        lines = [_("Water used: none; the water bodies gain {} a day").format(show.mass(-used))]
    days = refill_days(proof.refill_time)
    if days is None:
        lines.append(_("Refill: never dry"))
    elif math.isinf(days):
        lines.append(_("Refill: not within {} years").format(REFILL_YEARS))
    else:
        lines.append(_("Refill: every {} days").format(show.number(days)))
    # as the command has it: less than a hundredth of a gram a day is no drip
    lines.append(
        _("Drip onto the garden: no")
        if drip < 0.01
        else _("Drip onto the garden: yes, {} a day").format(show.mass(drip))
    )
    if proof.heater_duty is None:
        lines.append(_("Heater: none"))
    else:
        power, duty = show.number(proof.heater_power), f"{show.decimal(proof.heater_duty * 100, 0)} %"
        lines.append(_("Heater: {} W on average, {} of its power").format(power, duty))
    return lines


def slide_words(show: Shown) -> dict[str, str]:
    """What is moved by hand, and of which kind of part, in the reader's language; names of parts stay."""
    _ = words_of(show.choice.language).gettext
    return {
        "count": _("count"), "diameter": _("diameter"), "free surface": _("free surface"), "power": _("power"),
        "rim gap": _("rim gap"), "lid gap": _("lid gap"), "volume": _("volume"), "height": _("height"),
        "width": _("width"), "workers": _("workers"), "vent": _("vent"), "passage": _("passage"), "grid": _("grid"),
        "water": _("water"), "heater": _("heater"), "bell": _("bell"), "garden": _("garden"), "chamber": _("chamber"),
    }  # fmt: skip


def slide_name(named: dict[str, str], slide: Slide) -> str:
    """What is moved with the part that it is a size of, in the words of `slide_words`."""
    kind, _, part = slide.part.partition(" ")
    return " ".join(x for x in (named.get(kind, kind), part, named.get(slide.name, slide.name)) if x)


def beside_units(show: Shown) -> dict[str, tuple[float, str]]:
    """What is told beside a value in its file's unit: factor and unit, for readers of the other system."""
    return BESIDE if show.choice.sizes == "imperial" else {}
