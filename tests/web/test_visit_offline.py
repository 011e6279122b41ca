"""The visit where the network or the server is not there: written later, once, and never lost. A real browser's network
is cut and a real server is killed."""

from __future__ import annotations

import io
import json
import os
import re
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from PIL import Image

from .conftest import PATIENCE, PHONE, serve

Until = Callable[[Callable[[], bool]], None]
VISIT = "/visit/Marigold"


def rows(workshop: Path, what: str = "count(*)", table: str = "visit") -> Any:
    link = sqlite3.connect(workshop / "workshop.db")
    try:
        return link.execute(f"SELECT {what} FROM {table} ORDER BY 1 DESC").fetchone()[0]
    finally:
        link.close()


def picture(wide: int = 240) -> bytes:
    out = io.BytesIO()
    Image.effect_noise((wide, 180), 80).convert("RGB").save(out, "JPEG")
    return out.getvalue()


def idle(page: Any) -> bool:
    """Whether the page says that nothing waits."""
    return "Nothing waits" in page.inner_text("#waiting")


@pytest.fixture
def hand(browser: Any) -> Iterator[Any]:
    """A phone whose network can be cut: its context."""
    context = browser.new_context(**PHONE)
    yield context
    context.close()


def opened(context: Any, address: str, until: Until) -> Any:
    """The visits' list, once the worker keeps it and every form."""
    page = context.new_page()
    page.goto(address + "/visit")
    until(lambda: page.get_attribute("body", "data-kept") is not None)
    return page


def test_visits_told_without_network_are_sent_once_when_it_is_back(
    hand: Any, served: str, workshop: Path, until: Until
) -> None:
    before, photos = rows(workshop), rows(workshop, table="photo")
    page = opened(hand, served, until)
    last = ".choose li:has-text('Marigold') .quiet"
    visited = page.inner_text(last)
    hand.set_offline(True)
    assert page.is_hidden("#as-of"), "a fresh page says nothing of its age"
    page.goto(served + VISIT)  # out of what the worker kept; it was never opened before
    assert re.search(r"as of \d{4}-\d\d-\d\d \d\d:\d\d\.", page.inner_text("#as-of"))
    for volume in ("210", "215"):  # the same kept form twice: two visits
        page.fill("#f-garden", volume)
        if volume == "210":
            photo = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture()}
            page.set_input_files("#f-pictures", [photo])
        page.dblclick(".wide-button")
        until(lambda: "Kept on this device" in page.inner_text("#news") and page.input_value("#f-garden") == "")
        until(lambda: page.get_attribute(".wide-button", "aria-disabled") is None)
        page.click(".wide-button")  # a second press that comes late is no visit of its own
    until(lambda: "2 visits wait" in page.inner_text("#waiting"))
    assert rows(workshop) == before
    page.goto(served + "/visit")
    until(lambda: "2 visits wait" in page.inner_text("#waiting"))  # the page asks the device's store for them
    other = hand.new_page()  # two tabs send at once; what is not kept leads to what is
    other.goto(served + "/colonies")
    assert other.evaluate("location.pathname") == "/visit"
    hand.set_offline(False)
    until(lambda: rows(workshop) == before + 2 and idle(page))
    until(lambda: idle(other) and other.is_hidden("#as-of"))
    until(lambda: page.is_hidden("#as-of") and page.inner_text(last) != visited)
    assert "Kept on this device" not in page.inner_text("#news")
    assert rows(workshop) == before + 2
    assert rows(workshop, table="photo") == photos + 1
    # a picture that does not tell when it was taken was taken at its visit
    first = rows(workshop, "garden_ml || ' ' || at").split()
    taken = rows(workshop, "max(taken)", "photo")
    assert first[0] == "215.0"
    assert 0 <= int(first[1]) - taken < 60_000


def test_an_answer_that_is_lost_and_the_back_button_write_nothing_twice(
    browser: Any, served: str, workshop: Path, until: Until
) -> None:
    before = rows(workshop)
    # without the worker, whose sending a test cannot lose
    hand = browser.new_context(**PHONE, service_workers="block")
    page = hand.new_page()
    page.goto(served + VISIT)

    def lose(route: Any) -> None:
        route.fetch()
        route.abort()

    hand.route("**/api/visits", lose)
    page.fill("#f-garden", "210")
    page.click(".wide-button")
    until(lambda: "Kept on this device" in page.inner_text("#news"))
    assert rows(workshop) == before + 1, "it was written, and the phone does not know"
    hand.unroute("**/api/visits")
    page.reload()
    until(lambda: idle(page))
    assert rows(workshop) == before + 1
    page.fill("#f-garden", "220")
    page.click(".wide-button")
    page.wait_for_selector(".record li")
    # back again is the correction of what was recorded: pressed once more it writes nothing
    page.go_back()
    page.wait_for_url(re.compile(re.escape(VISIT) + r"/\d+$"))
    assert page.input_value("#f-garden") == "220"
    page.click(".wide-button")
    page.wait_for_url("**/colonies/Marigold*")
    assert rows(workshop) == before + 2
    page.goto(served + VISIT)
    page.fill("#f-garden", "230")
    page.click(".wide-button")
    page.wait_for_selector(".record li")
    page.click(".done button")  # taken back
    page.wait_for_url("**/history*")
    assert rows(workshop) == before + 2
    page.go_back()
    page.go_back()
    until(lambda: page.evaluate("location.pathname") == VISIT and page.input_value("#f-garden") == "")
    # the same mark with other figures: neither lost without a word nor written over
    uid = page.input_value("[name=uid]")
    headers = {"origin": served}
    for garden, status in (("240", 200), ("240", 200), ("250", 422)):
        form = {"uid": uid, "colony": "Marigold", "garden": garden}
        assert page.request.post(served + "/api/visits", multipart=form, headers=headers).status == status
    assert rows(workshop) == before + 3
    hand.close()


def test_a_server_killed_while_a_visit_is_sent(hand: Any, workshop: Path, until: Until) -> None:
    process, address = serve(workshop, anew=True)
    before = rows(workshop)
    try:
        page = opened(hand, address, until)
        page.goto(address + VISIT)
        os.kill(process.pid, signal.SIGSTOP)  # the request is on its way and is not answered
        page.fill("#f-garden", "210")
        with page.expect_request("**/api/visits"):
            page.click(".wide-button", no_wait_after=True)
        process.kill()
        process.wait(PATIENCE)
        until(lambda: "Kept on this device" in page.inner_text("#news"))
        assert rows(workshop) == before
        process.stdout.close()  # type: ignore[union-attr]
        process, _ = serve(workshop, "--port", address.rsplit(":", 1)[1])
        page.reload()
        until(lambda: rows(workshop) == before + 1 and idle(page))
    finally:
        process.kill()
        process.wait(PATIENCE)


def test_what_is_refused_stays_is_mended_or_discarded(hand: Any, served: str, workshop: Path, until: Until) -> None:
    before = rows(workshop)
    page = opened(hand, served, until)
    page.goto(served + VISIT)
    hand.set_offline(True)
    for volume in ("44,5 mL", "much", "more"):
        page.fill("#f-garden", volume)
        page.set_input_files("#f-pictures", [{"name": "a.jpg", "mimeType": "image/jpeg", "buffer": picture(60)}])
        page.click(".wide-button")
        until(lambda: page.input_value("#f-garden") == "")
    hand.set_offline(False)
    until(lambda: page.locator(".refused").count() == 3)
    assert "3 visits were not recorded" in page.inner_text("#waiting")
    assert page.is_hidden("#news"), "nothing says any more that they are kept to be sent"
    page.click("summary:has-text('not recorded')")
    page.click(".refused >> nth=0 >> text=Mend it")
    until(lambda: page.input_value("#f-garden") == "44,5 mL")
    page.fill("#f-garden", "44.5")
    page.click("text=Leave the photos out")  # too small to be kept
    page.click(".wide-button")
    page.wait_for_selector(".record li")
    assert rows(workshop) == before + 1
    page.on("dialog", lambda asked: asked.accept())
    page.click("text=Discard it >> nth=0")
    until(lambda: page.locator(".refused").count() == 1)
    # in the form stands what is wrong with it, and nothing beside says that nothing waits
    page.click(".refused >> text=Mend it")
    until(lambda: page.is_visible("#news") and page.is_hidden("#waiting"))
    page.goto(served + "/visit")
    page.click("text=Discard it")
    until(lambda: idle(page))
    assert rows(workshop) == before + 1


def test_a_wrong_clock_of_the_phone_is_set_right_and_said(hand: Any, served: str, workshop: Path, until: Until) -> None:
    page = hand.new_page()
    page.goto(served + VISIT)
    real = int(time.time() * 1000)
    ahead = 400 * 86_400_000
    form = {"uid": "0" * 32, "colony": "Marigold", "garden": "210"}
    form |= {"made": str(real + ahead - 3_600_000), "now": str(real + ahead)}
    headers = {"origin": served}
    answer = page.request.post(served + "/api/visits", multipart=form, headers=headers)
    told = answer.json()
    assert any("576000 min ahead" in one for one in told["remarks"]), told
    assert abs(rows(workshop, "at") - (real - 3_600_000)) < 60_000
    # sent again it is known, and can still be taken back; for another workshop it is not taken
    again = page.request.post(served + "/api/visits", multipart=form, headers=headers).json()
    assert (again["again"], again["visit"], again["step"]) == (True, told["visit"], told["step"])
    other = form | {"uid": "1" * 32, "workshop": "another room"}
    assert page.request.post(served + "/api/visits", multipart=other, headers=headers).status == 422


@pytest.mark.parametrize(("hours", "said"), [(3, "180 min ahead"), (-48, "2880 min behind")])
def test_a_visit_kept_by_a_phone_whose_clock_is_wrong_stands_at_its_time(
    browser: Any, served: str, workshop: Path, until: Until, hours: int, said: str
) -> None:
    # without the worker, whose clock a test cannot set; the page sends what waits
    context = browser.new_context(**PHONE, service_workers="block")
    page = context.new_page()
    page.clock.set_system_time(datetime.now(UTC) + timedelta(hours=hours))
    page.goto(served + VISIT)
    context.set_offline(True)
    page.fill("#f-garden", "210")
    real = time.time() * 1000
    page.click(".wide-button")
    until(lambda: "Kept on this device" in page.inner_text("#news"))
    context.set_offline(False)
    until(lambda: said in page.inner_text("#news"))
    assert abs(rows(workshop, "at") - real) < 60_000
    assert rows(workshop, "day") == datetime.now(ZoneInfo("Europe/Lisbon")).date().isoformat()
    context.close()


def test_a_phone_that_keeps_nothing_sends_at_once_or_leaves_all_in_the_form(
    browser: Any, served: str, workshop: Path, until: Until
) -> None:
    before = rows(workshop)
    context = browser.new_context(**PHONE, service_workers="block")
    context.add_init_script("Object.defineProperty(window, 'indexedDB', {value: undefined})")
    page = context.new_page()
    page.goto(served + VISIT)
    page.fill("#f-garden", "210")
    context.set_offline(True)
    page.click(".wide-button")
    until(lambda: "no room to keep" in page.inner_text("#news"))
    assert page.input_value("#f-garden") == "210"
    context.set_offline(False)
    page.click(".wide-button")
    page.wait_for_selector(".record li")
    assert rows(workshop) == before + 1
    context.close()


def test_a_phone_may_keep_it_among_its_programs(hand: Any, served: str, until: Until) -> None:
    # Chromium's own judgement by the W3C Web Application Manifest, as its install button asks it
    page = opened(hand, served, until)
    devtools = hand.new_cdp_session(page)
    found = devtools.send("Page.getAppManifest")
    assert not found["errors"]
    assert found["url"] == served + "/manifest.webmanifest"
    told = json.loads(found["data"])
    for icon in told["icons"]:
        with Image.open(io.BytesIO(page.request.get(served + icon["src"]).body())) as drawn:
            assert f"{drawn.width}x{drawn.height}" == icon["sizes"]
    assert page.request.get(served + told["start_url"]).ok
    faults = devtools.send("Page.getInstallabilityErrors")["installabilityErrors"]
    # a window that keeps nothing may not install: it is the test's, not the page's
    assert [one["errorId"] for one in faults if one["errorId"] != "in-incognito"] == []


def test_the_light_changes_at_once_and_stays(hand: Any, served: str, until: Until) -> None:
    page = opened(hand, served, until)
    page.goto(served + VISIT)
    page.fill("#f-note", "kept")
    with page.expect_response("**/settings"):
        page.click("text=Night light")
    assert page.get_attribute("html", "data-light") == "night"
    assert page.input_value("#f-note") == "kept"
    page.goto(served + "/visit")
    assert page.get_attribute("html", "data-light") == "night"
    # without the bench too, and it is told when that is back
    page.goto(served + VISIT)
    hand.set_offline(True)
    page.click("text=Night light")
    assert page.get_attribute("html", "data-light") == "auto"
    page.goto(served + VISIT)
    assert page.get_attribute("html", "data-light") == "auto", "the kept page in the light chosen last"
    with page.expect_response("**/settings"):
        hand.set_offline(False)
    page.goto(served + "/settings")
    assert page.get_attribute("html", "data-light") == "auto"


def test_large_enough_for_a_wet_hand(hand: Any, served: str) -> None:
    page = hand.new_page()
    page.goto(served + VISIT)
    page.click("summary")
    sizes = [
        (one.bounding_box(), one.evaluate("e => parseFloat(getComputedStyle(e).fontSize)"), one.inner_text())
        for one in page.query_selector_all("main button, main .chip span, main textarea, main select")
    ]
    small = [(text, box["height"], px) for box, px, text in sizes if box and (box["height"] < 56 or px < 20)]
    assert len(sizes) > 30
    assert not small
