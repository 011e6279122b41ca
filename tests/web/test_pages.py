"""Every place of the page: answers, asks no other host, breaks none of its own rules, and is accessible."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

AXE = (Path(__file__).parent / "vendor" / "axe.min.js").read_text("utf-8")
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
)
"""Every page that needs nothing but the example workshop; a page is added here with its module."""


@pytest.mark.parametrize(
    ("size", "light"),
    # contrast hangs on the light, the layout on the size: not every pair of them
    [((390, 844), "light"), ((390, 844), "night"), ((1440, 900), "light"), ((1440, 900), "dark")],
    ids=["phone-light", "phone-night", "bench-light", "bench-dark"],
)
def test_pages_are_accessible_and_ask_no_other_host(
    browser: Any, pages: str, unmet: Callable[[Any], list[str]], size: tuple[int, int], light: str
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
        answer = page.goto(pages + place)
        assert answer.status == 200, place
        found += [f"{place}: {one}" for one in unmet(page)]
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
