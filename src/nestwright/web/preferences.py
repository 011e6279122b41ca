"""How a person wants things shown on this device: language, units, light."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields

from starlette.requests import Request

from nestwright.web.own_words import recorded_words
from nestwright.web.words import languages, pointed, preferred

__all__ = ["CHOICES", "COOKIE", "Preferences", "preferences_of", "typed"]

COOKIE = "nw-shown"
CHOICES = {
    "language": languages(),
    "temperature": ("degC", "degF"),
    "sizes": ("metric", "imperial"),
    "light": ("auto", "light", "dark", "night"),
}
"""What may be chosen; the first of each holds where nothing was."""


@dataclass(frozen=True)
class Preferences:
    """Choices of one device. `light` night: dim and red, for an ant room."""

    language: str = "en"
    temperature: str = "degC"
    sizes: str = "metric"
    light: str = "auto"

    def cookie(self) -> str:
        return ".".join(asdict(self).values())


def preferences_of(request: Request) -> Preferences:
    """The choices that came with a request; what is not one of `CHOICES` is left out. A device that has chosen nothing
    is spoken to in the language that its browser asks for."""
    told = request.cookies.get(COOKIE, "").split(".")
    names = [f.name for f in fields(Preferences)]
    if COOKIE not in request.cookies:
        return Preferences(language=preferred(request.headers.get("accept-language", "")))
    return Preferences(**{n: v for n, v in zip(names, told, strict=False) if v in CHOICES[n]})


def typed(request: Request, told: str, *, event: bool = False) -> str:
    """What the reader typed into a field of numbers, with points where their language writes decimal commas, and in the
    record's words where they wrote their own. `event`: it may say who gave or received."""
    language = preferences_of(request).language
    return recorded_words(pointed(told, language), language, event=event)
