"""`nestwright species [NAME]`: what a species needs, each number with its range, source and mark."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.wording.values import GROWTH

if TYPE_CHECKING:
    from nestwright.data import SpeciesCard, Value

MARKS = {
    "published": "as in the source named",
    "secondary": "told by another work than the one that measured it",
    "derived": "worked out from published values",
    "judgement": "no published value: only judgement",
}
"""What each mark of a value means."""
PER_DAY = 86400.0


def species(
    name: Annotated[
        str | None, typer.Argument(help="Name of the species; without it the cards are listed.", show_default=False)
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the cards or the card as JSON, in SI.")] = False,
) -> None:
    """List the species cards, or show one: each limit and each value of the garden with range, source and mark.

    Says which numbers are only judgement.
    """
    from nestwright.cli.output import print_json
    from nestwright.data import load_species, species_names

    if name is None:
        cards = [load_species(one) for one in species_names()]
        if as_json:
            print_json({"species": [{"name": card.name, "marks": count_marks(card)} for card in cards]})
            return
        for card in cards:
            counted = count_marks(card)
            told = ", ".join(f"{counted[mark]} {mark}" for mark in MARKS if mark in counted)
            print(f"{card.name}  ({told})")
        return
    card = load_species(name)
    if as_json:
        print_json(card_to_dict(card))
    else:
        print_card(card)


def count_marks(card: SpeciesCard) -> dict[str, int]:
    """How many numbers of a card bear each mark."""
    counted: dict[str, int] = {}
    marks = [limit.mark for limit in card.limits]
    marks += [value.mark for part in parts_of(card).values() for value in part.values()]
    for mark in marks:
        counted[mark] = counted.get(mark, 0) + 1
    return counted


def worker_values(card: SpeciesCard) -> dict[str, Value]:
    """Values of the card about workers, SI."""
    from nestwright.data import Value

    out = {}
    for key, entry in card.raw.get("worker", {}).items():
        v = float(entry["value"])
        low, high = float(entry.get("low", v)), float(entry.get("high", v))
        out[key] = Value(v, low, high, entry["unit"], entry["source"], entry["mark"])
    return out


def parts_of(card: SpeciesCard) -> dict[str, dict[str, Value]]:
    """The values of a card beside its limits, by part: garden, worker, growth."""
    return {"garden": card.garden, "worker": worker_values(card), "growth": card.growth}


def card_to_dict(card: SpeciesCard) -> dict[str, Any]:
    """A card as data: name, limits, garden, worker, growth, marks, only_judgement.

    SI, temperatures of the limits in K; growth in the units beside its values (days, g dry matter, mL, degC).
    """
    from dataclasses import asdict

    return {
        "name": card.name,
        "limits": [asdict(limit) for limit in card.limits],
        **{name: {key: asdict(value) for key, value in part.items()} for name, part in parts_of(card).items()},
        "marks": count_marks(card),
        "only_judgement": only_judgement(card),
    }


def only_judgement(card: SpeciesCard) -> list[str]:
    """Names of the numbers of a card that no published value stands behind."""
    names = [f"{limit.role} {plain_name(limit.quantity)}" for limit in card.limits if limit.mark == "judgement"]
    for part, values in parts_of(card).items():
        names += [told_name(part, key) for key, value in values.items() if value.mark == "judgement"]
    return names


def print_card(card: SpeciesCard) -> None:
    """Print one card: limits, garden, workers, growth, then what rests on judgement alone."""
    print(card.name)
    print("\nLimits by role of the chamber")
    for limit in card.limits:
        held = band(limit.quantity, limit.low, limit.high)
        print(f"  {limit.role} {plain_name(limit.quantity)}: {held}  [{limit.mark}]")
        print(f"      {limit.source}")
    titles = {"garden": "Garden", "worker": "Workers", "growth": "Growth of colony and garden"}
    for part, values in parts_of(card).items():
        if values:
            print(f"\n{titles[part]}")
        for key, value in values.items():
            name = told_name(part, key).removeprefix(f"{part} ")
            print(f"  {name}: {told_value(part, key, value)}  [{value.mark}]")
            print(f"      {value.source}")
    print("\nMarks: " + "; ".join(f"{mark} = {meaning}" for mark, meaning in MARKS.items()))
    print("Only judgement: " + (", ".join(only_judgement(card)) or "nothing"))
    from nestwright.cli.output import CAUTIONS

    print("\n" + CAUTIONS["law"])


def told_name(part: str, key: str) -> str:
    """A value's name in words that stand alone."""
    return GROWTH[key][0] if part == "growth" else f"{part} {plain_name(key)}"


def told_value(part: str, key: str, value: Value) -> str:
    """Value, unit and range in one line, growth in the units of a keeper's work."""
    unit, factor = GROWTH[key][1:] if part == "growth" else ("" if value.unit == "1" else value.unit, 1.0)
    middle, low, high = (plain_number(x * factor) for x in (value.value, value.low, value.high))
    return f"{middle} {unit}".rstrip() + ("" if low == high else f", {low} to {high}")


def plain_number(x: float) -> str:
    """At most four figures, without a power of ten where whole thousands will do."""
    return f"{x:.0f}" if 1e4 <= abs(x) < 1e6 else f"{x:.4g}"


def plain_name(quantity: str) -> str:
    """A quantity's name in words."""
    words = {"co2": "CO2", "o2": "O2", "garden_water": "water lost", "relative_humidity": "humidity"}
    return words.get(quantity, quantity.replace("co2", "CO2").replace("_", " "))


def band(quantity: str, low: float | None, high: float | None) -> str:
    """A limit's band in the units of a builder's work."""

    def told(x: float) -> str:
        if quantity == "temperature":
            return f"{x - 273.15:.3g}"
        if quantity in ("relative_humidity", "co2", "o2"):
            return f"{100 * x:.3g}"
        if quantity == "drip":
            return f"{1e3 * PER_DAY * x:.1g}"
        return f"{x:.3g}"

    percent = {"relative_humidity": "% RH", "co2": "% CO2", "o2": "% O2"}
    unit = {"temperature": "degC", "drip": "g a day", "garden_water": "of the water that leaves bring"} | percent
    if low is not None and high is not None:
        return f"{told(low)} to {told(high)} {unit.get(quantity, '')}".rstrip()
    end = f"at least {told(low)}" if low is not None else f"at most {told(high)}" if high is not None else "free"
    return f"{end} {unit.get(quantity, '')}".rstrip()
