"""A workshop's own price list, from TOML or CSV: what material, bought items, hours, energy, packing and fees cost.

Money is decimal throughout: what was written is what is counted. Nothing here holds a price of its own.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from nestwright.data import load_materials
from nestwright.document import Document, read_document
from nestwright.errors import FileError, InputError, nearest_name
from nestwright.kinds import check_kind
from nestwright.positions import line_of
from nestwright.units import shown

__all__ = [
    "Bought",
    "Missing",
    "Need",
    "Prices",
    "Selling",
    "Stock",
    "minor_digits",
    "read_prices",
    "stock_name",
    "unit_price",
]

_SAME = 1e-4
"""m: sizes of stock closer than this are the same size."""


@dataclass(frozen=True)
class Need:
    """Something that has a price: `kind` stock, bought, machine, labour, energy or packing; `unit` it is counted in.

    Stock is counted in m2 (sheet, mesh), m (tube, rod) or kg; sizes in m, of a mesh aperture (`outer`) and wire
    (`wall`); the form "blank" is any tube or rod that the part can be turned from. `name` of a bought item, way of a
    machine hour.
    """

    kind: str
    unit: str
    name: str = ""
    material: str = ""
    form: str = ""
    thickness: float = 0.0
    outer: float = 0.0
    wall: float = 0.0

    def __str__(self) -> str:
        if self.kind == "stock":
            return stock_name(self.material, self.form, self.thickness, self.outer, self.wall)
        return {"machine": f"machine hour: {self.name}", "labour": "labour hour", "energy": "energy"}.get(
            self.kind, self.name or self.kind
        )


@dataclass(frozen=True)
class Stock:
    """Material as it is sold; `price` for one `per` (kg, m2, m, each). Sizes m."""

    material: str
    form: str
    per: str
    price: Decimal
    thickness: float = 0.0
    size: tuple[float, float] | None = None
    grain: bool = False
    outer: float = 0.0
    wall: float = 0.0
    length: float = 0.0
    supplier: str = ""
    line: int = 0

    def __str__(self) -> str:
        return stock_name(self.material, self.form, self.thickness, self.outer, self.wall)


@dataclass(frozen=True)
class Bought:
    name: str
    price: Decimal
    pack: int = 1
    supplier: str = ""


@dataclass(frozen=True)
class Selling:
    """Shares 0 to 1 as Decimal; `price` with tax or None, then `margin` (share of the price without tax) sets it."""

    overhead: Decimal = Decimal(0)
    margin: Decimal = Decimal(0)
    tax: Decimal = Decimal(0)
    fee_share: Decimal = Decimal(0)
    fee_fixed: Decimal = Decimal(0)
    price: Decimal | None = None
    once: Decimal = Decimal(0)


@dataclass(frozen=True)
class Missing:
    """What has no price in the list, and the entry that is nearest to it."""

    what: str
    unit: str
    nearest: str = ""


@dataclass(frozen=True)
class Prices:
    """A price list. `hours` money for an hour of a machine by way of making."""

    currency: str
    date: date
    stock: tuple[Stock, ...] = ()
    bought: tuple[Bought, ...] = ()
    hours: Mapping[str, Decimal] = field(default_factory=dict)
    labour: Decimal | None = None
    energy: Decimal | None = None
    packing: Decimal | None = None
    selling: Selling = Selling()
    note: str = ""
    file: str = ""

    def price(self, need: Need) -> Decimal | None:
        """Money for one unit of a need (m2, m, kg, each, hour, kWh); None where the list has no price for it."""
        if need.kind == "stock":
            offers = [p for one in self.sold(need) if (p := unit_price(one, need.unit)) is not None]
            return min(offers, default=None)
        if need.kind == "bought":
            found = self.item(need)
            return found.price / found.pack if found else None
        if need.kind == "machine":
            return self.hours.get(need.name)
        return {"labour": self.labour, "energy": self.energy, "packing": self.packing}[need.kind]

    def item(self, need: Need) -> Bought | None:
        """The bought item that a need is met with: of its name, else the longest name that the need's begins with."""
        names = [one for one in self.bought if need.name == one.name or need.name.startswith(f"{one.name} ")]
        return max(names, key=lambda one: len(one.name), default=None)

    def sold(self, need: Need) -> tuple[Stock, ...]:
        """Entries of the list that a need for stock can be met with."""
        return tuple(one for one in self.stock if _fits(one, need))

    def missing(self, need: Need) -> Missing:
        """A need without a price, named, with the nearest entry."""
        known = {
            "stock": [str(one) for one in self.stock],
            "bought": [one.name for one in self.bought],
            "machine": [f"machine hour: {way}" for way in self.hours],
        }.get(need.kind, [])
        return Missing(str(need), need.unit, nearest_name(str(need), known))


def stock_name(material: str, form: str, thickness: float = 0.0, outer: float = 0.0, wall: float = 0.0) -> str:
    """Stock in words, sizes mm.

    Examples
    --------
    >>> stock_name("acrylic", "sheet", 0.003)
    'acrylic sheet 3 mm'
    >>> stock_name("acrylic", "tube", outer=0.106, wall=0.003)
    'acrylic tube 106 x 3 mm'
    """
    size = f" {1000 * thickness:.4g} mm" if form == "sheet" and thickness else ""
    if form == "mesh":
        return f"{material} woven mesh {1000 * outer:.4g} mm, wire {1000 * wall:.4g} mm"
    if form == "blank":
        hollow = f", bore up to {1000 * (outer - 2 * wall):.4g} mm" if wall else ""
        return f"{material} rod or tube from {1000 * outer:.4g} mm{hollow}"
    if form == "tube":
        size = f" {1000 * outer:.4g} x {1000 * wall:.4g} mm"
    elif form == "rod":
        size = f" {1000 * outer:.4g} mm"
    return f"{material} {form}{size}"


def minor_digits(currency: str) -> int:
    """Decimal places of a currency's smallest coin (ISO 4217's minor unit, as the Unicode CLDR has it)."""
    from babel.numbers import get_currency_precision

    return int(get_currency_precision(currency))


def read_prices(path: str | Path) -> Prices:
    """Read a price list: TOML, or CSV when the file's name ends so.

    Raises
    ------
    FileError
        Every fault with its line: unknown keys and words with the nearest, amounts that are none, sizes that a form of
        stock needs, entries told twice.
    """
    document = _csv_document(Path(path)) if Path(path).suffix.lower() == ".csv" else read_document(path)
    return _prices(document)


def _prices(document: Document) -> Prices:
    from pydantic import ValidationError

    from nestwright.parts.prices_form import PriceForm
    from nestwright.refusals import Steps, translate

    def place(steps: Steps) -> dict[str, Any]:
        from nestwright.positions import path_text

        return {"file": document.path, "line": line_of(document.lines, steps), "field": path_text(steps)}

    check_kind(document, "price")
    try:
        form = PriceForm.model_validate(document.tables)
    except ValidationError as error:
        faults = [translate(one, place, _keys) for one in error.errors()]
        raise FileError(sorted(faults, key=lambda one: one.line)) from None
    stock, faults = list[Stock](), list[InputError]()
    for number, one in enumerate(form.stock):
        values: dict[str, Any] = one.model_dump()
        size, aperture, wire = (values.pop(key) for key in ("size", "aperture", "wire"))
        if one.form == "mesh":
            values |= {"outer": aperture, "wall": wire}
        values = {k: 0.0 if v is None else v for k, v in values.items()}
        here = place(("stock", number))
        made = Stock(**values, size=(size[0], size[1]) if size else None, line=here["line"])
        if wrong := _wrong(made):
            faults.append(InputError(wrong[0], allowed=wrong[1], **here))
        twin = next((s for s in stock if _key(s) == _key(made)), None)
        if twin is not None:
            told = f"line {twin.line}" if twin.line else str(twin)
            faults.append(InputError("is told twice", found=f"{made}, as in {told}", **here))
        stock.append(made)
    names: set[str] = set()
    for number, item in enumerate(form.bought):
        if item.name in names:
            faults.append(InputError("is told twice", found=shown(item.name), **place(("bought", number, "name"))))
        names.add(item.name)
    kept = 1 - form.selling.margin - form.selling.fee_share * (1 + form.selling.tax)
    if kept <= 0.01:
        said = "margin and fees leave nothing of the price to pay the cost with"
        allowed = "margin + fee_share x (1 + tax) below 99 %"
        faults.append(InputError(said, found=f"{100 * (1 - kept):.4g} %", allowed=allowed, **place(("selling",))))
    if faults:
        raise FileError(sorted(faults, key=lambda one: one.line))
    hours = {way: Decimal(p) for way, p in form.machine_hour.model_dump().items() if p is not None}
    selling = Selling(**{k: _exact(v) for k, v in form.selling.model_dump().items()})
    return Prices(
        form.currency,
        form.date,
        tuple(stock),
        tuple(Bought(**one.model_dump()) for one in form.bought),
        hours,
        form.labour_hour,
        form.energy_kWh,
        form.packing,
        selling,
        form.note,
        document.path,
    )


def _exact(value: Any) -> Any:
    """A share told as "19 %" as the decimal that was written, not its nearest binary fraction."""
    return Decimal(f"{value:.9g}") if isinstance(value, float) else value


def _keys(steps: Any) -> list[str]:
    from nestwright.parts import prices_form as f
    from nestwright.refusals import keys_of

    forms = {"stock": f.StockForm, "bought": f.BoughtForm, "machine_hour": f.HoursForm, "selling": f.SellingForm}
    return keys_of(forms.get(steps[0], f.PriceForm) if steps else f.PriceForm)


def _key(one: Stock) -> tuple[Any, ...]:
    return (str(one), one.per, one.size, one.length)


def _wrong(one: Stock) -> tuple[str, str] | None:
    """What an entry of stock lacks: message and what is allowed; None when it is whole."""
    needs = {"sheet": ("thickness",), "mesh": ("aperture", "wire"), "tube": ("outer", "wall"), "rod": ("outer",)}.get(
        one.form, ()
    )
    lacking = [key for key in needs if not getattr(one, {"aperture": "outer", "wire": "wall"}.get(key, key))]
    if lacking:
        return f"a {one.form} has no {' and no '.join(lacking)}", ", ".join(needs)
    if one.form == "tube" and 2 * one.wall >= one.outer:
        said = f"a tube's wall of {1000 * one.wall:.4g} mm does not fit its outer diameter of {1000 * one.outer:.4g} mm"
        return said, "a wall below half the outer diameter"
    per = {"sheet": ("each", "m2", "kg"), "mesh": ("m2",), "tube": ("m", "each", "kg"), "rod": ("m", "each", "kg")}.get(
        one.form, ("kg",)
    )
    if one.per not in per:
        return f"a {one.form} is not sold per {one.per}", ", ".join(per)
    if one.per == "each" and not (one.size if one.form == "sheet" else one.length):
        return "sold each, but its size is not told", "size of a sheet, length of a tube or rod"
    if one.per == "kg" and one.form in ("sheet", "tube", "rod") and one.material not in load_materials():
        near = nearest_name(one.material, load_materials())
        return f"sold per kg, but the density of {one.material!r} is not known" + (
            f" ({near}?)" if near else ""
        ), "m2, m"
    return None


def _fits(one: Stock, need: Need) -> bool:
    if need.form == "blank":
        round_ = one.material == need.material and one.form in ("tube", "rod") and one.outer >= need.outer - _SAME
        bore = one.outer - 2 * one.wall if one.form == "tube" else 0.0
        return round_ and bore <= (need.outer - 2 * need.wall if need.wall else 0.0) + _SAME
    if (one.material, one.form) != (need.material, need.form):
        return False
    return all(abs(getattr(one, key) - getattr(need, key)) <= _SAME for key in _COMPARED.get(one.form, ()))


_COMPARED = {"sheet": ("thickness",), "mesh": ("outer", "wall"), "tube": ("outer", "wall"), "rod": ("outer",)}


def unit_price(one: Stock, unit: str) -> Decimal | None:
    """Price of an entry for one m2, m or kg; None where it cannot be told."""
    if one.per == unit:
        return one.price
    if one.per == "each" and one.form == "sheet" and one.size and unit == "m2":
        return one.price / (_decimal(one.size[0]) * _decimal(one.size[1]))
    if one.per == "each" and one.length and unit == "m":
        return one.price / _decimal(one.length)
    if one.per == "kg" and one.material in load_materials():
        density = load_materials()[one.material].density
        if unit == "m2":
            return one.price * _decimal(density * one.thickness)
        if unit == "m":
            hollow = max(0.0, one.outer - 2 * one.wall) if one.form == "tube" else 0.0
            return one.price * _decimal(density * 0.25 * math.pi * (one.outer**2 - hollow**2))
    return None


def _decimal(value: float) -> Decimal:
    return Decimal(f"{value:.12g}")


_LARGEST = 2_000_000
"""Bytes; a list has some kilobytes, so a larger file is another one given by mistake."""
_HEAD = ("item", "name", "price", "per", "form", "thickness", "width", "depth", "outer", "wall", "length", "pack")
_SINGLE = {"labour": "labour_hour", "energy": "energy_kWh", "packing": "packing"}


def _csv_document(path: Path) -> Document:
    """A price list as a table: one row an item, in the form that a TOML list has.

    `item` is stock, bought, machine, labour, energy, packing, selling, currency or date. Raises InputError.
    """
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST + 1)
        if len(data) > _LARGEST:
            raise InputError("is too large for a price list", file=str(path), allowed="at most 2 MB")
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise InputError("is not text in UTF-8", file=str(path), line=line) from None
    except OSError as error:
        raise InputError(f"cannot be read: {(error.strerror or 'error').lower()}", file=str(path)) from None
    sniffed = ";" if text.split("\n", 1)[0].count(";") > text.split("\n", 1)[0].count(",") else ","
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=sniffed)
    heads = [h.strip() for h in reader.fieldnames or ()]
    reader.fieldnames = heads
    for head in heads:
        if head not in _HEAD:
            place: dict[str, Any] = {"file": str(path), "line": 1, "found": shown(head)}
            raise InputError("unknown column", **place, allowed=", ".join(_HEAD), nearest=nearest_name(head, _HEAD))
    for head in ("item", "price"):
        if head not in heads:
            raise InputError(f"the column {head!r} is missing", file=str(path), line=1, found=", ".join(heads)[:60])
    tables: dict[str, Any] = {"format": 1}
    lines: dict[str, int] = {}
    try:
        for row in reader:
            if None in row:
                raise InputError("has more cells than the head", file=str(path), line=reader.line_num)
            cells = {k: (v or "").strip() for k, v in row.items()}
            if any(cells.values()):
                _csv_row({k: v for k, v in cells.items() if v}, tables, lines, str(path), reader.line_num)
    except csv.Error as error:
        raise InputError(f"is no table: {error}", file=str(path), line=reader.line_num) from None
    return Document(tables, lines, str(path))


def _csv_row(cells: dict[str, str], tables: dict[str, Any], lines: dict[str, int], path: str, line: int) -> None:
    item, name, price = cells.pop("item", ""), cells.pop("name", ""), cells.pop("price", "")
    if item in ("stock", "bought"):
        rows = tables.setdefault(item, [])
        lines[f"{item}[{len(rows)}]"] = line
        entry: dict[str, Any] = {**cells, "price": price, ("material" if item == "stock" else "name"): name}
        if "width" in entry or "depth" in entry:
            entry["size"] = [entry.pop(key) for key in ("width", "depth") if key in entry]
        if entry.get("pack", "").isdigit():
            entry["pack"] = int(entry["pack"])
        rows.append(entry)
        return
    if item in ("currency", "date", "note"):
        key, value, where = item, name or price, tables
    elif item == "machine":
        key, value, where = name, price, tables.setdefault("machine_hour", {})
    elif item == "selling":
        key, value, where = name, price, tables.setdefault("selling", {})
    elif item in _SINGLE:
        key, value, where = _SINGLE[item], price, tables
    else:
        known = ("stock", "bought", "machine", "selling", *_SINGLE, "currency", "date", "note")
        place: dict[str, Any] = {"file": path, "line": line, "field": "item", "found": shown(item)}
        raise InputError("unknown word", **place, allowed=", ".join(known), nearest=nearest_name(item, known))
    if key in where:
        raise InputError("is told twice", file=path, line=line, found=shown(f"{item} {name}".strip()))
    where[key] = value
    path_of = key if where is tables else f"{'machine_hour' if item == 'machine' else 'selling'}.{key}"
    lines[path_of] = line
