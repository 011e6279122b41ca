"""Every place of the page: answers, asks no other host, breaks none of its own rules, and is accessible."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.web.conftest import opened

STATIC = Path(__file__).parents[2] / "src" / "nestwright" / "web" / "static"
CHARTS = ("vendor/vega.min.js", "vendor/vega-interpreter.js")
"""The chart library: brought by pictures alone, when they come into sight."""
MOST_SCRIPT = 300_000
"""Bytes of script, unpacked, that a page may load besides it."""
PLACES = (
    "/",
    "/alarms",
    "/builds",
    "/builds/P-001",
    "/history",
    "/search?q=marigold",
    "/settings",
    "/pair",
    "/colonies",
    "/parcels",
    "/colonies/-new",
    "/colonies/Marigold",
    "/colonies/Marigold/photos",
    "/colonies/Hollyhock/family",
    "/visit",
    "/visit/Marigold",
    "/visit/Marigold/1",
    "/habitats",
    "/habitats/single-pot",
    "/compare?a=single-pot&b=three-pot",
    "/climate/single-pot",
    "/climate/build/P-001",
    "/sensors",
    "/sensors/pot",
    "/sensors/pot/calibrate?channel=humidity",
    "/series?channel=pot.humidity&channel=pot.temperature",
    "/import",
    "/sales",
)
"""Every page that needs nothing but the example workshop; a page is added here with its module."""
ELSEWHERE = {
    "/builds/{serial}/papers/{kind}": "test_papers_and_sales.py",
    "/sales/about": "test_papers_and_sales.py",
    "/colonies/{name}/{kind}": "test_colonies.py",
    "/climate/results/{key}.{form}": "test_climate_page.py",
    "/climate/results/{key}/{picture}.{form}": "test_climate_page.py",
    "/colonies/{name}/pictures/{picture}.{form}": "test_colonies.py",
    "/colonies/{name}/visit": "test_visit_offline.py",
    "/habitats/{stem}/parts": "test_parts_page.py",
    "/habitats/{stem}/parts/files/{name}": "test_parts_page.py",
    "/habitats/{stem}/parts/all.zip": "test_parts_page.py",
    "/habitats/{stem}/parts/{key}/view.glb": "test_parts_page.py",
    "/habitats/{stem}/parts/{key}/{number}/{name}.{form}": "test_parts_page.py",
    "/habitats/{stem}/section.svg": "test_habitats.py",
    "/habitats/{stem}/size/{job}": "test_habitats.py",
    "/import/{token}": "test_sensors.py",
    "/jobs/{job}": "test_climate_page.py",
    "/pair/open": "test_tls.py",
    "/parcels/{number}": "test_parcels.py",
    "/parcels/files": "test_parcel_files.py",
    "/parcels/files/{stem}": "test_parcel_files.py",
    "/parcels/files/{stem}/risk/{job}": "test_parcel_files.py",
    "/parcels/files/{stem}/risk/{job}/{picture}.{form}": "test_parcel_files.py",
    "/photos/{row}": "test_colonies.py",
    "/photos/{row}/small": "test_colonies.py",
    "/sensors/{logger}/calibrate/state": "test_sensors.py",
    "/series/words": "test_series.py",
    "/api/series/{channel}": "test_series.py",
    "/api/series/{channel}/predicted": "test_series.py",
    "/today/part": "test_today.py",
    "/calendar.ics": "test_calendar_page.py",
}
"""What can be asked for and needs more than the example workshop, or is no page, and which test asks for it."""


def test_every_place_is_in_a_test(tmp_path: Path) -> None:
    from starlette.routing import compile_path

    from nestwright.web.app import create_app
    from nestwright.workshop.folder import create_workshop

    app = create_app(create_workshop(tmp_path / "bench-room", "UTC"))
    paths = [path for path, methods in app.openapi()["paths"].items() if "get" in methods]
    shown = [place.partition("?")[0] for place in PLACES]
    left = [one for one in paths if not any(compile_path(one)[0].match(place) for place in shown)]
    assert len(paths) > 40
    # a name that stands for any word also matches what is an address of its own
    assert set(left) <= set(ELSEWHERE), "in neither PLACES nor ELSEWHERE"


@pytest.mark.parametrize(
    ("size", "light", "then"),
    # contrast hangs on the light, the layout on the size: each light and each size once
    [((390, 844), "light", "night"), ((1440, 900), "dark", "")],
    ids=["phone-light-night", "bench-dark"],
)
def test_pages_are_accessible_and_ask_no_other_host(
    browser: Any, pages: str, unmet: Callable[..., list[str]], size: tuple[int, int], light: str, then: str
) -> None:
    # axe-core's rules for WCAG 2.2 level A and AA
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, bypass_csp=True, reduced_motion="reduce"
    )
    context.add_cookies([{"name": "nw-shown", "value": f"en.degC.metric.{light}", "url": pages}])
    page = context.new_page()
    asked: list[str] = []
    page.on("request", lambda one: asked.append(one.url))
    found = []
    for place in PLACES:
        before = len(asked)
        answer = opened(page, pages + place)
        assert answer.status == 200, place
        assert page.get_attribute("html", "data-light") == light
        found += [f"{place}: {one}" for one in unmet(page)]
        scripts = {url.partition("?")[0].partition("/static/")[2] for url in asked[before:]}
        weight = sum((STATIC / one).stat().st_size for one in scripts if one.endswith(".js") and one not in CHARTS)
        found += [f"{place}: {weight} bytes of script"] if not 0 < weight < MOST_SCRIPT else []
        if then:
            # the light is a mark of the page; nothing but colours differs from the same page by day
            page.evaluate("(light) => { document.documentElement.dataset.light = light }", then)
            found += [f"{place} by {then}: {one}" for one in unmet(page, ["color-contrast"])]
    context.close()
    assert not found, "\n".join(found)
    assert all(url.startswith((pages, "blob:", "data:")) for url in asked)


def test_a_page_runs_no_script_that_is_written_into_it(browser: Any, pages: str) -> None:
    page = browser.new_page()
    headers = page.goto(pages + "/settings").all_headers()
    assert "script-src 'self'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    page.evaluate(
        "const s = document.createElement('script'); s.textContent = 'window.ran = 1'; document.body.append(s)"
    )
    assert page.evaluate("window.ran") is None
    page.close()


def test_a_request_that_a_stop_cuts_off_is_no_fault() -> None:
    import asyncio
    import logging

    from nestwright.web.serving import cut_off

    def told(message: str, fault: BaseException | None = None) -> bool:
        found = None if fault is None else (type(fault), fault, None)
        return cut_off(logging.LogRecord("uvicorn.error", logging.ERROR, "", 0, message, (), found))

    assert told("Cancel %s running task(s), timeout graceful shutdown exceeded")
    assert told("Exception in ASGI application\n", asyncio.CancelledError())
    assert not told("Exception in ASGI application\n", ValueError())
    assert not told("Exception in ASGI application\n")
