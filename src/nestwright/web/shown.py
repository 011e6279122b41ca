"""Values as a page shows them: in the units and the zone of the reader, with the digits that they have."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from nestwright.cli.output import figure, significant
from nestwright.web.preferences import Preferences

__all__ = ["Shown"]

INCH, FLUID_OUNCE, OUNCE = 25.4, 29.5735295625, 28.349523125
"""mm, mL, g: exact, NIST Handbook 44 appendix C (US customary)."""


@dataclass(frozen=True)
class Shown:
    """Says values in a reader's units and zone."""

    choice: Preferences
    zone: ZoneInfo
    today: date

    @property
    def temperature_unit(self) -> str:
        return "°F" if self.choice.temperature == "degF" else "°C"

    def temperature(self, celsius: float | None, decimals: int = 1) -> str:
        """A temperature told in °C."""
        if celsius is None or not math.isfinite(celsius):
            return "–"
        told = celsius * 1.8 + 32 if self.choice.temperature == "degF" else celsius
        return f"{figure(told, decimals)} {self.temperature_unit}"

    def difference(self, kelvin: float | None, decimals: int = 1) -> str:
        """A difference of temperatures told in K."""
        if kelvin is None or not math.isfinite(kelvin):
            return "–"
        fahrenheit = self.choice.temperature == "degF"
        return f"{figure(kelvin * (1.8 if fahrenheit else 1), decimals, sign=True)} {'°F' if fahrenheit else 'K'}"

    def volume(self, millilitres: float | None, digits: int = 3) -> str:
        if millilitres is None:
            return "–"
        if self.choice.sizes == "imperial":
            return f"{_three(millilitres / FLUID_OUNCE, digits)} fl oz"
        litres = millilitres >= 10_000
        return f"{_three(millilitres / (1000 if litres else 1), digits)} {'L' if litres else 'mL'}"

    def length(self, millimetres: float | None, digits: int = 3) -> str:
        if millimetres is None:
            return "–"
        imperial = self.choice.sizes == "imperial"
        return f"{_three(millimetres / (INCH if imperial else 1), digits)} {'in' if imperial else 'mm'}"

    def mass(self, grams: float | None, digits: int = 2) -> str:
        if grams is None:
            return "–"
        imperial = self.choice.sizes == "imperial"
        return f"{_three(grams / (OUNCE if imperial else 1), digits)} {'oz' if imperial else 'g'}"

    def percent(self, value: float | None, digits: int = 2) -> str:
        return "–" if value is None else f"{_three(value, max(digits, 3 if value >= 100 else digits))} %"

    def reading(self, value: float | None, unit: str, decimals: int = 1) -> str:
        """A logger's value in its own unit, temperatures in the reader's."""
        if unit in ("degC", "°C"):
            return self.temperature(value, decimals)
        return "–" if value is None else f"{figure(value, 0 if unit == 'ppm' else decimals)} {unit}"

    def day(self, told: date | str | None) -> str:
        """A calendar day: "Wed 25 Nov", with its year where that is not this one; the record's own form in tables."""
        if not told:
            return "–"
        day = date.fromisoformat(told[:10]) if isinstance(told, str) else told
        return f"{day:%Y-%m-%d}"

    def moment(self, at: int | None) -> str:
        """A moment, UTC ms, in the workshop's zone, to the minute."""
        return "–" if at is None else datetime.fromtimestamp(at / 1000, self.zone).strftime("%Y-%m-%d %H:%M")

    def ago(self, at: int | None, now: int) -> str:
        """How long ago a moment was: "4 min", "3 h", "12 days"."""
        if at is None:
            return "–"
        minutes = max(0.0, (now - at) / 60_000)
        if minutes < 90:
            return f"{minutes:.0f} min"
        if minutes < 48 * 60:
            return f"{minutes / 60:.0f} h"
        return f"{minutes / 1440:.0f} d"

    def number(self, value: float | None, digits: int = 2) -> str:
        return significant(value, digits, none="–")


def _three(value: float, digits: int) -> str:
    text = significant(value, digits)
    return text.rstrip("0").rstrip(".") if "." in text else text
