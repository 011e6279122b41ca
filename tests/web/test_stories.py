"""A day with the page, from end to end: by keys alone, on a phone from Today to a visit, and set to one's own."""

from __future__ import annotations

import re
from typing import Any


def test_the_bench_is_gone_through_by_keys_alone(bench: Any, pages: str) -> None:
    bench.goto(pages)
    bench.keyboard.press("/")
    bench.keyboard.type("marigold")
    bench.keyboard.press("Enter")
    bench.wait_for_url("**/search?q=marigold")
    assert bench.locator("#found li").count() > 0
    # within a field letters are letters
    bench.locator("#q").press("g")
    assert "g" in bench.locator("#q").input_value().replace("marigold", "")
    bench.keyboard.press("Escape")
    bench.keyboard.press("g")
    bench.keyboard.press("c")
    bench.wait_for_url("**/colonies")
    # the way in is the first stop of the keyboard, and leads over the head of the page
    bench.keyboard.press("Tab")
    assert bench.evaluate("document.activeElement.className") == "skip"
    bench.keyboard.press("Enter")
    bench.keyboard.press("Tab")
    assert bench.evaluate("document.activeElement.closest('main') !== null")
    bench.goto(pages + "/colonies/Marigold")
    bench.keyboard.press("v")
    bench.wait_for_url("**/visit/Marigold")
    bench.go_back()
    bench.wait_for_url("**/colonies/Marigold")
    bench.keyboard.press("?")
    bench.wait_for_url("**/settings#keys")


def test_from_today_to_a_visit_is_one_tap_and_its_undo_another(phone: Any, served: str) -> None:
    phone.goto(served)
    step = phone.locator("#s-tasks a.button", has_text="Visit").first
    step.wait_for()
    step.tap()
    phone.wait_for_url("**/visit/*")
    name = phone.locator("h1").inner_text()
    phone.get_by_role("button", name="Record the visit").tap()
    phone.get_by_role("button", name="Undo").tap()
    phone.locator(".done", has_text="Taken back").wait_for()
    phone.goto(served + "/history")
    first = phone.locator("main li").first.inner_text()
    assert "undo: visit of" in first.casefold()
    assert name.splitlines()[0] in first
    # and what was taken back can be put back
    phone.locator("main li").first.get_by_role("button").tap()
    phone.locator(".done", has_text=re.compile("Recorded|Put back")).wait_for()


def test_what_a_device_has_chosen_stays_on_every_page_and_on_that_device_only(
    browser: Any, phone: Any, served: str
) -> None:
    phone.goto(served + "/settings")
    for label in ("°F", "imperial (fl oz, in, oz)", "ant room at night, dim red", "Deutsch"):
        phone.get_by_text(label, exact=True).first.tap()
    phone.locator("main form button").first.tap()
    phone.locator("html[lang=de]").wait_for(state="attached")
    assert phone.locator("html").get_attribute("data-light") == "night"
    phone.goto(served + "/sensors")
    assert "°F" in phone.inner_text("main")
    assert "°C" not in phone.inner_text("main")
    phone.goto(served + "/colonies/Hollyhock")
    assert "fl oz" in phone.inner_text(".facts")
    other = browser.new_page()
    other.goto(served + "/sensors")
    assert "°C" in other.inner_text("main")
    assert other.locator("html").get_attribute("lang") == "en"
    other.close()
