"""Values in cells: numbers with a decimal point or comma, with a unit behind, or the marks of a missing value."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from nestwright.sensing.loggers.words import Words, words

__all__ = ["Values", "into_canonical", "number_of", "values_of"]

_CELL = re.compile(
    r"([+\-\u2212]?)(\d[\d.,'\u2019\u00a0\u202f ]*|[.,]\d+)((?:[eE][+-]?\d{1,3})?)\s*"
    r"([^\d\s][^\d]{0,11}|g/m[3³])?"
)


def into_canonical(x: Any, unit: str) -> Any:
    """A value, or an array of values, of a unit in the canonical unit of its kind."""
    known = words().units.get(unit)
    return x if known is None else (x + known.shift) * known.times / known.per


def number_of(text: str, decimal: str, thousands: str) -> tuple[float, str] | None:
    """The number of a cell and the unit written behind it ("" for none); None when it is no number.

    `decimal` is "." or ","; `thousands` the mark between groups of three, or "".
    """
    match = _CELL.fullmatch(text.strip())
    if match is None:
        return None
    digits = match[2].replace("\u2019", "'").replace("\u00a0", " ").replace("\u202f", " ").rstrip()
    if thousands and thousands in digits:
        whole = re.split(re.escape(decimal), digits)[0]
        if not re.fullmatch(rf"\d{{1,3}}(?:{re.escape(thousands)}\d{{3}})+", whole):
            return None
        digits = digits.replace(thousands, "")
    # the other mark, alone, is a decimal mark too
    digits = digits.replace(",", ".")
    try:
        value = float(("-" if match[1] in "-\u2212" and match[1] else "") + digits + match[3])
    except ValueError:
        return None
    return (value, (match[4] or "").strip()) if np.isfinite(value) else None


@dataclass(frozen=True)
class Values:
    """`value` in the canonical unit, nan where there is none; `empty`, `missing` (a mark for "no value"), `odd` (no
    number) and `far` (outside the plausible range): which rows. All of shape (n,)."""

    value: NDArray[np.float64]
    empty: NDArray[np.bool_]
    missing: NDArray[np.bool_]
    odd: NDArray[np.bool_]
    far: NDArray[np.bool_]


def values_of(texts: Any, quantity: str, unit: str, decimal: str, thousands: str) -> Values:
    """Values of a polars series of texts, in the canonical unit of the quantity."""
    import polars as pl

    table = words()
    empty = texts.is_null().to_numpy().copy()
    marked = texts.str.replace(",", ".", literal=True) if decimal == "," else texts
    number = marked.cast(pl.Float64, strict=False)
    if thousands:
        number = pl.select(
            pl.when(texts.str.contains(thousands, literal=True)).then(None).otherwise(number)
        ).to_series()
    raw = number.fill_null(np.nan).to_numpy().copy()
    fail = ~np.isfinite(raw) & ~empty
    value = np.asarray(into_canonical(raw, unit), dtype=np.float64)
    missing, odd = np.zeros(len(raw), np.bool_), np.zeros(len(raw), np.bool_)
    if fail.any():
        at = np.flatnonzero(fail)
        # cells that differ are few even where every cell has its unit behind it
        seen = texts.gather(at).to_frame("text").with_row_index("row")
        kinds = seen.get_column("text").unique(maintain_order=True)
        answers = [_one(text, table, unit, decimal, thousands) for text in kinds.to_list()]
        place = (
            seen.join(kinds.to_frame("text").with_row_index("kind"), on="text", how="left", maintain_order="left")
            .get_column("kind")
            .to_numpy()
        )
        found = np.array([a[0] for a in answers])[place]
        state = np.array([a[1] for a in answers])[place]
        raw[at] = np.array([a[2] for a in answers])[place]
        value[at] = found
        empty[at], missing[at], odd[at] = state == 1, state == 2, state == 3
    known = table.quantities.get(quantity)
    with np.errstate(invalid="ignore"):
        far = np.zeros(len(value), np.bool_) if known is None else (value < known.low) | (value > known.high)
        if known is None or far.any():
            sentinel = np.isin(raw, table.missing_numbers) & (far if known is not None else raw < 0)
            missing |= sentinel
            far &= ~sentinel
    value[missing | odd | far] = np.nan
    return Values(value, empty, missing, odd, far)


def _one(text: str, table: Words, unit: str, decimal: str, thousands: str) -> tuple[float, int, float]:
    """Value, state (0 good, 1 empty, 2 missing, 3 no number) and the number as it stands."""
    bare = text.strip().strip("\ufffd").strip()
    if not bare:
        return np.nan, 1, np.nan
    if bare.lower() in table.missing:
        return np.nan, 2, np.nan
    found = number_of(bare, decimal, thousands)
    if found is None:
        return np.nan, 3, np.nan
    x, written = found
    own = unit
    if written:
        into = table.units[unit].into if unit in table.units else ""
        own = next(
            (
                name
                for name, u in table.units.items()
                if (written.lower() in u.spellings or written.lower() in u.alone) and (not into or u.into == into)
            ),
            "",
        )
        if not own:
            return np.nan, 3, np.nan
    return float(into_canonical(x, own)), 0, x
