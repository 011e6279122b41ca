"""What each column of a logger's file holds, and in which unit."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from nestwright.sensing.loggers.cells import into_canonical, number_of
from nestwright.sensing.loggers.dates import kind_of
from nestwright.sensing.loggers.mapping import Column, Decision
from nestwright.sensing.loggers.sample import Sample
from nestwright.sensing.loggers.words import plain, words

__all__ = ["columns_of"]


@dataclass(frozen=True)
class _Cells:
    values: np.ndarray
    units: Counter[str]
    filled: int
    missing: int


def columns_of(
    sample: Sample, time_at: tuple[int, ...], decimal: str, thousands: str
) -> tuple[tuple[Column, ...], list[Decision]]:
    """Columns of values with their decisions; texts, running numbers and further times are left out, and said so."""
    layout, table = sample.layout, words()
    columns: list[Column] = []
    made: list[Decision] = []
    used: Counter[str] = Counter()
    for at in range(max(len(layout.rows[0]), len(layout.header))):
        if at in time_at:
            continue
        header = layout.header[at] if at < len(layout.header) else ""
        shown = header or f"column {at + 1}"
        cells = _numbers(sample.column(at), decimal, thousands)
        quantity = table.quantity_of(header)
        reason, confidence = "its header says so", "sure"
        if quantity == "index" or (not quantity and _counts_up(sample, at)):
            made.append(Decision(shown, "left out", "a running number", "sure" if quantity else "likely"))
            continue
        if quantity == "time" or (not quantity and _timely(sample.column(at))):
            if not any(d.what == shown for d in made):
                made.append(Decision(shown, "left out", "a further column of times", "likely"))
            continue
        if len(cells.values) + cells.missing < 0.5 * cells.filled or (not quantity and not len(cells.values)):
            if header or cells.filled:
                made.append(Decision(shown, "left out", "its cells are no numbers", "likely"))
            continue
        if not quantity:
            quantity, reason, confidence = _guess(cells, bool(header), used, shown)
        unit, why, how = _unit(sample, at, header, quantity, cells)
        name = quantity if quantity != "other" else plain(header).replace(" ", "_") or f"column_{at + 1}"
        used[name] += 1
        channel = name if used[name] == 1 else f"{name}_{used[name]}"
        columns.append(Column(at, header, quantity, unit, channel))
        worst = max((confidence, how), key=("sure", "likely", "asked").index)
        # one header that tells both is named once
        says = f"{quantity} in {unit}: {reason}" if why == _by_header(unit) else f"{quantity}: {reason}; {why}"
        made.append(Decision(channel, unit, f"{shown!r} is {says}", worst))
    return tuple(columns), made


def _numbers(cells: list[str], decimal: str, thousands: str) -> _Cells:
    table = words()
    values: list[float] = []
    units: Counter[str] = Counter()
    missing = 0
    for cell in cells:
        found = number_of(cell, decimal, thousands)
        if found is None:
            missing += cell.lower() in table.missing
        elif found[0] in table.missing_numbers:
            missing += 1
        else:
            values.append(found[0])
            units[found[1]] += 1
    return _Cells(np.array(values), units, len(cells), missing)


def _counts_up(sample: Sample, at: int) -> bool:
    cells = [row[at] if at < len(row) else "" for row in sample.layout.rows[:200]]
    if len(cells) < 3 or not all(re.fullmatch(r"\d{1,9}", c) for c in cells):
        return False
    return bool((np.diff([int(c) for c in cells]) == 1).all())


def _timely(cells: list[str]) -> bool:
    return bool(cells) and sum(kind_of(c) in ("instant", "date", "clock", "epoch ms") for c in cells) > 0.6 * len(cells)


def _guess(cells: _Cells, headed: bool, used: Counter[str], shown: str) -> tuple[str, str, str]:
    table = words()
    unit = cells.units.most_common(1)[0][0].lower() if cells.units else ""
    for name, quantity in table.quantities.items():
        if unit and name in ("temperature", "humidity", "co2", "pressure", "light"):
            for u in quantity.units:
                if unit in table.units[u].spellings or unit in table.units[u].alone:
                    return name, "its cells carry a unit of it", "likely"
    if headed or not len(cells.values):
        return "other", "the header is not known", "asked"
    low, high = np.quantile(cells.values, (0.02, 0.98))
    if not used["temperature"] and low >= -20 and high <= 50:
        return "temperature", f"without a header, by its values ({low:g} to {high:g})", "asked"
    if not used["humidity"] and low >= 0 and high <= 105:
        return "humidity", f"without a header, by its values ({low:g} to {high:g})", "asked"
    if not used["co2"] and low >= 300 and high <= 20000 and (low < 870 or high > 1085):
        return "co2", f"without a header, by its values ({low:g} to {high:g})", "asked"
    return "other", "without a header, and its values do not tell", "asked"


def _by_header(unit: str) -> str:
    """Why a unit is taken that stands in the header."""
    return f"unit {unit} by the header"


def _unit(sample: Sample, at: int, header: str, quantity: str, cells: _Cells) -> tuple[str, str, str]:
    """Unit, why, confidence."""
    table = words()
    known = table.quantities.get(quantity)
    if known is None:
        inside = re.findall(r"[\[(]\s*([^\])]{1,12}?)\s*[\])]", header)
        return (inside[-1] if inside else ""), "its unit is kept as it is written", "sure"
    unit = table.unit_of(header, quantity)
    why = _by_header(unit)
    below = sample.layout.units[at] if at < len(sample.layout.units) else ""
    if not unit and below:
        unit, why = table.unit_of(f"({below.strip('[]()')})", quantity), f"unit {below!r} by the line below the header"
    if not unit and cells.units:
        written = cells.units.most_common(1)[0][0]
        unit = table.unit_of(f"({written})", quantity) if written else ""
        why = f"its cells carry {written!r}"
    if not unit and quantity in ("temperature", "dew_point"):
        for line in sample.lines[: max(sample.layout.header_at, 0)]:
            if re.search(r"°\s*F\b|fahrenheit", line, re.I):
                unit, why = "degF", f"a line above the header says so: {line.strip()[:50]!r}"
    if not unit:
        return _by_values(quantity, cells)
    if len(cells.values):
        middle = float(np.median(cells.values))
        top = float(cells.values.max())
        if unit == "%" and quantity == "humidity" and len(cells.values) > 2 and 0 < top <= 1.0:
            return "fraction", f"{why}, but no value is above 1: read as a share of 0 to 1", "asked"
        canonical = float(into_canonical(middle, unit))
        if not known.low <= canonical <= known.high or (unit == "degC" and middle > 60 and quantity == "temperature"):
            return unit, f"{why}, but its values (middle {middle:g}) hardly fit", "asked"
    return unit, why, "sure"


def _by_values(quantity: str, cells: _Cells) -> tuple[str, str, str]:
    known = words().quantities[quantity]
    if not len(cells.values):
        return known.units[0], "no unit and no values: the usual unit is taken", "asked"
    middle, top = float(np.median(cells.values)), float(np.quantile(cells.values, 0.99))
    shown = f"no unit is written; by its values (middle {middle:g})"
    if quantity in ("temperature", "dew_point"):
        if 220 < middle < 350:
            return "K", shown, "likely"
        if 45 < middle <= 130:
            return "degF", shown, "likely"
        return "degC", shown, "asked" if middle > 35 else "likely"
    if quantity == "humidity":
        return ("fraction" if 0 < cells.values.max() <= 1.0 else "%"), shown, "likely"
    if quantity == "co2":
        return ("vol%" if top <= 25 else "ppm"), shown, "likely"
    if quantity == "pressure":
        fits = [u for u in ("hPa", "kPa", "Pa", "bar", "inHg") if 800 <= into_canonical(middle, u) <= 1080]
        fits = fits or [u for u in ("hPa", "kPa", "Pa") if known.low <= into_canonical(middle, u) <= known.high]
        return (fits[0] if fits else "hPa"), shown, "likely" if len(fits) == 1 else "asked"
    if quantity == "battery":
        return ("mV" if middle > 500 else "%" if middle > 15 else "V"), shown, "likely"
    if quantity in ("weight", "voc"):
        return known.units[0], f"{shown}, {known.units[0]} is taken", "asked"
    return known.units[0], shown, "likely"
