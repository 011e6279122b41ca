"""Settings of this device: language, units, light; and the devices that are paired."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, Request
from starlette.responses import RedirectResponse, Response

from nestwright.errors import InputError, nearest_name
from nestwright.web.preferences import CHOICES, COOKIE, Preferences
from nestwright.web.render import page, workshop_at
from nestwright.web.words import language_names

router = APIRouter(prefix="/settings")
YEAR = 365 * 86400


@router.get("")
def settings(request: Request) -> Response:
    """What may be chosen, the keys, and the paired devices."""
    devices = request.app.state.devices.paired()
    zone = workshop_at(request).zone.key
    return page(request, "settings.html", choices=CHOICES, languages=language_names(), devices=devices, zone=zone)


@router.post("")
def choose(
    language: Annotated[str, Form()] = "en",
    temperature: Annotated[str, Form()] = "degC",
    sizes: Annotated[str, Form()] = "metric",
    light: Annotated[str, Form()] = "auto",
) -> Response:
    """Keep the choices on this device."""
    told = {"language": language, "temperature": temperature, "sizes": sizes, "light": light}
    for name, value in told.items():
        if value not in CHOICES[name]:
            allowed = ", ".join(CHOICES[name])
            near = nearest_name(value, CHOICES[name])
            raise InputError("is no choice", field=name, found=repr(value[:40]), allowed=allowed, nearest=near)
    answer = RedirectResponse("/settings", 303)
    answer.set_cookie(COOKIE, Preferences(**told).cookie(), max_age=YEAR, httponly=True, samesite="strict")
    return answer


@router.post("/devices/{key}/remove")
def remove_device(request: Request, key: str) -> Response:
    """Let a device in no longer."""
    request.app.state.devices.remove(key)
    return RedirectResponse("/settings#devices", 303)
