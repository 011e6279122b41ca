"""The visit in the hand: on a phone-sized screen, quick, once, and with every fault in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any


def count(workshop: Path, table: str = "visit") -> int:
    link = sqlite3.connect(workshop / "workshop.db")
    try:
        return int(link.execute(f"SELECT count(*) FROM {table}").fetchone()[0])
    finally:
        link.close()


def test_the_usual_visit_takes_a_few_taps_and_can_be_taken_back(phone: Any, served: str, workshop: Path) -> None:
    before = count(workshop)
    phone.goto(served + "/visit/Marigold")
    phone.click('[data-more="fill"]')  # the last time's
    assert phone.input_value("#f-fill") == "30"
    phone.click('[data-more="fill"]')
    phone.check('[name="larvae"][value="seen"]', force=True)
    phone.check('[name="health"][value="white"]', force=True)
    phone.fill("#f-leaves", "4")
    phone.click('[data-plant="bramble"]')
    phone.click("text=Record the visit")
    phone.wait_for_selector(".record li")
    assert count(workshop) == before + 1
    assert phone.locator(".choose a").count() == 2, "the next colony is one tap away"
    line = phone.inner_text(".record li >> nth=0").replace("\u202f", " ")
    for part in ("Fill 35 %", "seen: larvae", "given 4 g bramble", "garden white"):
        assert part in line
    phone.click("text=Undo")
    assert count(workshop) == before


def test_the_last_times_leaves_are_one_press_with_their_unit_and_plant(phone: Any, served: str) -> None:
    phone.goto(served + "/visit/Marigold")
    phone.click('[data-more="waste"]')  # told never before: the press counts from nothing
    assert phone.input_value("#f-waste") == "1"
    phone.fill("#f-fill", "40")
    phone.fill("#f-leaves", "40 cm2")
    phone.fill("#f-plant", "wild rose")
    phone.click("text=Record the visit")
    phone.wait_for_selector(".record li")
    phone.goto(served + "/visit/Marigold")
    # of fill and garden only the newer stands pale, and beside it its day
    assert [phone.get_attribute(f"#f-{name}", "placeholder") for name in ("fill", "garden")] == ["40", ""]
    assert phone.inner_text('label[for="f-fill"] time') == phone.inner_text('label[for="f-leaves"] time')
    phone.click('[data-more="leaves"]')
    phone.click('[data-more="leaves"]')
    assert phone.input_value("#f-leaves") == "41 cm2"
    phone.click("text=Same as the last time: 40 cm2 wild rose")
    assert (phone.input_value("#f-leaves"), phone.input_value("#f-plant")) == ("40 cm2", "wild rose")


def test_a_form_that_is_sent_twice_is_written_once(phone: Any, served: str, workshop: Path) -> None:
    before = count(workshop)
    phone.goto(served + "/visit/Marigold")
    form = {"uid": phone.input_value('[name="uid"]'), "garden": "210"}
    for _ in range(3):
        answer = phone.request.post(served + "/visit/Marigold", form=form, headers={"origin": served})
        assert answer.ok
    phone.fill("#f-garden", "210")
    phone.click("text=Record the visit")  # back to the form and sent once more
    phone.wait_for_selector(".record li")
    assert count(workshop) == before + 1


def test_faults_are_told_at_their_field_and_nothing_is_lost_or_written(
    phone: Any, served: str, workshop: Path, until: Callable[[Callable[[], bool]], None]
) -> None:
    before = count(workshop)
    phone.goto(served + "/visit/Marigold")
    phone.fill("#f-garden", "44,5 mL")
    phone.fill("#f-workers", "sixty")
    phone.fill("#f-note", "seen by torch")
    phone.click("text=Record the visit")
    until(lambda: phone.locator(".faults").is_visible())
    assert "did you mean “44.5 mL”" in phone.inner_text(".faults")
    assert phone.input_value("#f-note") == "seen by torch"
    assert "cannot be read as a count" in phone.inner_text(".faults")
    assert [phone.get_attribute(f"#f-{one}", "aria-invalid") for one in ("garden", "workers")] == ["true", "true"]
    phone.fill("#f-garden", "44.5")
    phone.fill("#f-day", "2099-01-01")
    phone.click("text=Record the visit")
    until(lambda: "is still to come" in phone.inner_text(".faults"))
    assert "cannot be read as a count" in phone.inner_text(".faults"), "all faults at once"
    assert count(workshop) == before


def test_what_is_half_told_is_there_again_until_it_is_recorded(
    phone: Any, served: str, workshop: Path, until: Callable[[Callable[[], bool]], None]
) -> None:
    before = count(workshop)
    phone.goto(served + "/visit/Marigold")
    phone.fill("#f-note", "a grey rim")
    phone.check("[name=health][value=grey]")
    phone.click("[data-more=garden]")
    volume = phone.input_value("#f-garden")
    assert volume
    phone.goto(served)
    for come in (phone.go_back, phone.reload):
        come()
        until(lambda: "not recorded yet" in phone.inner_text("#news") and phone.input_value("#f-note") == "a grey rim")
        assert phone.input_value("#f-garden") == volume
        assert phone.is_checked("[name=health][value=grey]")
    phone.click("text=Begin anew")
    assert phone.input_value("#f-note") == phone.input_value("#f-garden") == ""
    phone.reload()
    until(lambda: phone.is_visible("#waiting"))
    assert phone.is_hidden("#news")
    phone.fill("#f-note", "a grey rim")
    phone.click("text=Record the visit")
    phone.wait_for_selector(".record li")
    assert count(workshop) == before + 1
    phone.goto(served + "/visit/Marigold")
    until(lambda: phone.is_visible("#waiting"))
    assert phone.input_value("#f-note") == "", "what is recorded is not half told"


def test_another_site_cannot_record_a_visit(phone: Any, served: str, workshop: Path) -> None:
    before = count(workshop)
    for headers in ({"origin": "http://elsewhere.example"}, {"sec-fetch-site": "cross-site"}, {}):
        answer = phone.request.post(served + "/visit/Marigold", form={"uid": "0" * 32, "garden": "10"}, headers=headers)
        assert answer.status == 403, headers
    assert phone.request.get(served + "/", headers={"host": "elsewhere.example"}).status == 421
    assert count(workshop) == before
