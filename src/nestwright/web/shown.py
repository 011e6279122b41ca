"""Values as a page shows them: in the units and the zone of the reader, with the digits that they have."""

from __future__ import annotations

import math
import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from nestwright.web.preferences import Preferences
from nestwright.web.words import ENGLISH, comma_of, words_of
from nestwright.wording.figures import figure, significant

__all__ = ["Shown"]

INCH, FLUID_OUNCE, OUNCE = 25.4, 29.5735295625, 28.349523125
"""mm, mL, g: exact, NIST Handbook 44 appendix C (US customary)."""
_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@dataclass(frozen=True)
class Shown:
    """Says values in a reader's units and zone."""

    choice: Preferences
    zone: ZoneInfo
    today: date
    brief: bool = False
    """Days in figures only, for tables."""

    @property
    def temperature_unit(self) -> str:
        return "°F" if self.choice.temperature == "degF" else "°C"

    @property
    def comma(self) -> str:
        """What parts decimals."""
        return comma_of(self.choice.language)

    def temperature(self, celsius: float | None, decimals: int = 1) -> str:
        """A temperature told in °C."""
        if celsius is None or not math.isfinite(celsius):
            return "–"
        told = celsius * 1.8 + 32 if self.choice.temperature == "degF" else celsius
        return f"{self._parted(figure(told, decimals))} {self.temperature_unit}"

    def difference(self, kelvin: float | None, decimals: int = 1) -> str:
        """A difference of temperatures told in K."""
        if kelvin is None or not math.isfinite(kelvin):
            return "–"
        fahrenheit = self.choice.temperature == "degF"
        told = figure(kelvin * (1.8 if fahrenheit else 1), decimals, sign=True)
        return f"{self._parted(told)} {'°F' if fahrenheit else 'K'}"

    def dew(self, kelvin: float | None) -> str:
        """How far a wall is from the temperature at which its air wets it, never written as 0 where it is wet."""
        if kelvin is None or not math.isfinite(kelvin):
            return "–"
        if kelvin and round(kelvin, 1) == 0:
            _ = words_of(self.choice.language).gettext
            return _("just below 0") if kelvin < 0 else _("just above 0")
        return self.difference(kelvin)

    def volume(self, millilitres: float | None, digits: int = 3) -> str:
        if millilitres is None:
            return "–"
        if self.choice.sizes == "imperial":
            return f"{self._three(millilitres / FLUID_OUNCE, digits)} fl oz"
        litres = millilitres >= 10_000
        return f"{self._three(millilitres / (1000 if litres else 1), digits)} {'L' if litres else 'mL'}"

    def length(self, millimetres: float | None, digits: int = 3) -> str:
        if millimetres is None:
            return "–"
        imperial = self.choice.sizes == "imperial"
        return f"{self._three(millimetres / (INCH if imperial else 1), digits)} {'in' if imperial else 'mm'}"

    def mass(self, grams: float | None, digits: int = 2) -> str:
        if grams is None:
            return "–"
        imperial = self.choice.sizes == "imperial"
        return f"{self._three(grams / (OUNCE if imperial else 1), digits)} {'oz' if imperial else 'g'}"

    def percent(self, value: float | None, digits: int = 2) -> str:
        return "–" if value is None else f"{self._three(value, max(digits, 3 if value >= 100 else digits))} %"

    def reading(self, value: float | None, unit: str, decimals: int = 1) -> str:
        """A logger's value in its own unit, temperatures in the reader's."""
        if unit in ("degC", "°C"):
            return self.temperature(value, decimals)
        return "–" if value is None else f"{self.decimal(value, 0 if unit == 'ppm' else decimals)} {unit}"

    def day(self, told: date | str | None) -> str:
        """A calendar day: the record's own form in English, else as CLDR has it: long, or medium where `brief`."""
        if not told:
            return "–"
        day = date.fromisoformat(told[:10]) if isinstance(told, str) else told
        if self.choice.language == ENGLISH:
            return f"{day:%Y-%m-%d}"
        from babel.dates import format_date

        return str(format_date(day, "medium" if self.brief else "long", locale=self.choice.language))

    def called_day(self, told: date, year: bool) -> str:
        """A day with the name of its month, with or without its year: "3 Mar"."""
        if self.choice.language == ENGLISH:
            return f"{told.day} {told:%b}" + (f" {told.year}" if year else "")
        from babel.dates import format_skeleton

        return str(format_skeleton("yMMMd" if year else "MMMd", told, locale=self.choice.language))

    def short_day(self, month: int, day: int) -> str:
        """A day of a year that stands beside it: "03-05"."""
        if self.choice.language == ENGLISH or not (1 <= month <= 12 and 1 <= day <= monthrange(2000, month)[1]):
            return f"{month:02d}-{day:02d}"
        from babel.dates import format_skeleton

        return str(format_skeleton("Md", date(2000, month, day), locale=self.choice.language))

    def weekday(self, told: date) -> str:
        from babel.dates import format_date

        return str(format_date(told, "EEEE", locale=self.choice.language))

    def moment(self, at: int | None) -> str:
        """A moment, UTC ms, in the workshop's zone, to the minute."""
        if at is None:
            return "–"
        there = datetime.fromtimestamp(at / 1000, self.zone)
        if self.choice.language == ENGLISH:
            return there.strftime("%Y-%m-%d %H:%M")
        from babel.dates import format_date

        return f"{format_date(there.date(), 'medium', locale=self.choice.language)}, {there:%H:%M}"

    def field_moment(self, at: int) -> str:
        """A moment as a field of the browser holds it, which is the same in every language."""
        return datetime.fromtimestamp(at / 1000, self.zone).strftime("%Y-%m-%dT%H:%M")

    def clock(self, at: int) -> str:
        """The time of day of a moment."""
        return datetime.fromtimestamp(at / 1000, self.zone).strftime("%H:%M")

    def ago(self, at: int | None, now: int) -> str:
        """How long ago a moment was: "4 min", "3 h", "12 days"; in full in other languages (CLDR)."""
        if at is None:
            return "–"
        minutes = max(0.0, (now - at) / 60_000)
        if minutes < 90:
            told, unit, english = minutes, "minute", "min"
        elif minutes < 48 * 60:
            told, unit, english = minutes / 60, "hour", "h"
        else:
            told, unit, english = minutes / 1440, "day", "days"
        if self.choice.language == ENGLISH:
            return f"{told:.0f} {english}"
        from babel.units import format_unit

        text = str(format_unit(round(told), unit, "long", locale=self.choice.language))
        # "vor 3 Tagen": the word that stands before it wants the dative, in which alone "Tage" differs
        return re.sub(r"\bTage$", "Tagen", text)

    def number(self, value: float | None, digits: int = 2) -> str:
        return self._parted(significant(value, digits, none="–"))

    def decimal(self, value: float | None, decimals: int, *, sign: bool = False) -> str:
        """A number with fixed decimals."""
        return self._parted(figure(value, decimals, sign=sign, none="–"))

    def count(self, value: float) -> str:
        """A count of many, its thousands parted as the language parts them."""
        if self.choice.language == ENGLISH:
            return f"{value:,.0f}"
        from babel.numbers import format_decimal

        return str(format_decimal(round(value), locale=self.choice.language))

    def figures(self, text: str) -> str:
        """Figures that were set in English, such as "4.5 (2.1 to 8) mL", as the reader's language sets them."""
        if self.choice.language == ENGLISH:
            return text
        _ = words_of(self.choice.language).gettext
        for word, said in (("to", _("to")), ("under", _("under")), ("about", _("about"))):
            text = re.sub(rf"\b{word}\b", said, text)
        return self._parted(text)

    def entry(self, text: str) -> str:
        """A figure as it stands in a field; `words.pointed` takes it back."""
        return self._parted(text, 1) if re.fullmatch(r"\d+\.\d+( .*)?", text) else text

    def _parted(self, text: str, most: int = 0) -> str:
        return text if self.comma == "." else _POINT.sub(self.comma, text, count=most)

    def _three(self, value: float, digits: int) -> str:
        text = significant(value, digits)
        return self._parted(text.rstrip("0").rstrip(".") if "." in text else text)
