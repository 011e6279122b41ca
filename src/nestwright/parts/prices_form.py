"""The form of a price list: which tables and keys it has, and how money is told."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from typing import Annotated, Any, Literal, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import core_schema

from nestwright.habitat.form import Length, MaybeLength, Share
from nestwright.letters import one_line
from nestwright.parts.model import Way
from nestwright.units import UnitProblem, shown

__all__ = ["FORMS", "PriceForm"]

_MONEY = re.compile(r"\d{1,9}(?:\.\d{1,6})?", re.ASCII)
_ALLOWED = 'an amount of the currency, as 14.80 or "14.80", at least 0 and below a milliard'


class _Amount:
    """Money as Decimal: exactly the figures that were written."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def read(self, value: Any) -> Decimal:
        text = repr(value) if isinstance(value, int | float) and not isinstance(value, bool) else value
        if isinstance(text, str) and _MONEY.fullmatch(text.strip()):
            return Decimal(text.strip())
        plain = text.strip().replace(",", ".") if isinstance(text, str) else ""
        meant = plain if _MONEY.fullmatch(plain) else ""
        raise UnitProblem("is no amount of money", shown(value), _ALLOWED, meant)


class _Day:
    """A day of the calendar, as TOML has it or as text."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def read(self, value: Any) -> date:
        if type(value) is date:
            return value
        try:
            return date.fromisoformat(value) if isinstance(value, str) and len(value) == 10 else date.fromisoformat("")
        except ValueError:
            raise UnitProblem("is no day", shown(value), "a day as 2026-01-31") from None


class _Currency:
    """A currency by its ISO 4217 code."""

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> Any:
        return core_schema.no_info_plain_validator_function(self.read)

    def read(self, value: Any) -> str:
        from babel.core import get_global

        from nestwright.errors import nearest_name

        known = get_global("all_currencies")
        if isinstance(value, str) and value in known:
            return value
        near = nearest_name(str(value).upper()[:10], known)
        raise UnitProblem("is no currency", shown(value), "a code of ISO 4217, as EUR, USD, JPY", near)


Money = Annotated[Decimal, _Amount()]
MaybeMoney = Annotated[Decimal | None, _Amount()]
Text = Annotated[str, Field(min_length=1, max_length=120), AfterValidator(one_line)]
MaybeText = Annotated[str, Field(max_length=120), AfterValidator(one_line)]

FORMS = ("sheet", "tube", "rod", "filament", "resin", "powder", "block", "mesh")
"""How material is sold."""


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class StockForm(_Table):
    material: Text = Field(description="as in the habitat file")
    form: Literal["sheet", "tube", "rod", "filament", "resin", "powder", "block", "mesh"] = Field(
        description="how it is sold"
    )
    per: Literal["kg", "m2", "m", "each"] = Field(description="what the price is for")
    price: Money = Field(description="of one of these, without tax")
    thickness: MaybeLength = Field(None, description="of a sheet")
    size: Annotated[list[Length] | None, Field(min_length=2, max_length=2)] = Field(
        None, description="width and depth of a whole sheet"
    )
    grain: bool = Field(False, description="pieces must not be turned on the sheet")
    outer: MaybeLength = Field(None, description="outer diameter of a tube or rod")
    wall: MaybeLength = Field(None, description="wall of a tube")
    length: MaybeLength = Field(None, description="of one whole tube or rod")
    aperture: MaybeLength = Field(None, description="clear width of one opening of woven mesh")
    wire: MaybeLength = Field(None, description="its wire")
    supplier: MaybeText = Field("", description="for the purchase list")


class BoughtForm(_Table):
    name: Text = Field(description="as the bill names it")
    price: Money = Field(description="of one, or of one pack")
    pack: Annotated[int, Field(strict=True, ge=1, le=100_000)] = Field(1, description="pieces in a pack")
    supplier: MaybeText = Field("", description="for the purchase list")


class HoursForm(_Table):
    printed: MaybeMoney = None
    resin: MaybeMoney = None
    laser: MaybeMoney = None
    milled: MaybeMoney = None
    turned: MaybeMoney = None
    cast: MaybeMoney = None
    cut: MaybeMoney = None


class SellingForm(_Table):
    overhead: Share = Field(0.0, description="of the cost of making, for rent, tools, paper")
    margin: Share = Field(0.0, description="wanted share of the price without tax")
    tax: Share = Field(0.0, description="on the price: VAT or sales tax")
    fee_share: Share = Field(0.0, description="of the price with tax, for market places and payment")
    fee_fixed: Money = Field(Decimal(0), description="for each one sold")
    price: MaybeMoney = Field(None, description="own price with tax; then the margin follows")
    once: Money = Field(Decimal(0), description="spent once before the first is sold: samples, proof, trial moulds")


class PriceForm(_Table):
    format: Literal[1] = Field(description="form of this file")
    currency: Annotated[str, _Currency()] = Field(description="ISO 4217")
    date: Annotated[date, _Day()] = Field(description="day of these prices")
    note: Annotated[str, Field(max_length=400), AfterValidator(one_line)] = Field("", description="for the builder")
    stock: list[StockForm] = Field(default_factory=list, max_length=5000)
    bought: list[BoughtForm] = Field(default_factory=list, max_length=5000)
    machine_hour: HoursForm = HoursForm()
    labour_hour: MaybeMoney = Field(None, description="with everything that a paid hour costs")
    energy_kWh: MaybeMoney = Field(None, description="of mains energy")  # noqa: N815 - the unit's own letters
    packing: MaybeMoney = Field(None, description="box and filling for one habitat")
    selling: SellingForm = Field(default_factory=lambda: SellingForm.model_validate({}))


assert set(HoursForm.model_fields) == set(get_args(Way)) - {"bought"}
