"""Colonies in a real browser: added, changed, taken back, forecast; names that would break a page do not."""

from __future__ import annotations

import io
import re
import time
from pathlib import Path
from typing import Any

from PIL import Image
from sqlalchemy import Table, select, update

from nestwright.web import colony_work
from nestwright.web.jobs import Job, Jobs
from nestwright.workshop.changes import act
from nestwright.workshop.colonies import add_colony, find_colony
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import create_workshop, find_workshop
from nestwright.workshop.tables import channel, placement, rollup

MARIGOLD = "/colonies/Marigold"


def test_a_colony_is_added_given_a_bell_moved_and_all_is_taken_back(bench: Any, served: str) -> None:
    bench.goto(served + "/colonies/-new")
    bench.fill("#f-name", "Larkspur")
    bench.select_option("#f-species", "Acromyrmex echinatior")
    bench.fill("#f-garden", "44,5 mL")
    bench.click("text=Add >> nth=-1")
    # refused in words, with the entries kept
    assert "did you mean “44.5 mL”" in bench.inner_text(".faults")
    assert bench.input_value("#f-name") == "Larkspur"
    bench.fill("#f-garden", "44.5 mL")
    bench.click("main button")
    assert bench.url.startswith(served + "/colonies/Larkspur")
    bench.click("text=A bell, or the whole chamber")
    bench.fill("#f-usable", "300 mL")
    bench.click("text=Record the bell")
    assert "300" in bench.inner_text("main")
    bench.click("text=It moves into a build")
    bench.select_option("#f-build", "P-001")
    bench.click("text=Record the move")
    assert bench.inner_text(".facts").count("P-001") == 1
    bench.click(".done button")
    assert "Taken back" in bench.inner_text(".done")
    bench.goto(served + "/colonies/Larkspur")
    assert "P-001" not in bench.inner_text(".facts")


def test_a_forecast_is_fitted_once_and_shown_with_its_ranges(bench: Any, served: str) -> None:
    bench.goto(served + MARIGOLD + "/forecast")
    bench.wait_for_selector("text=Days to come", timeout=180_000)
    assert re.search(r"\(\d+\sto\s\d+\)", bench.inner_text("dl.values"))
    # the browser draws it from the declaration that the papers are set from
    bench.wait_for_selector(".chart .live canvas", timeout=180_000)
    again = bench.goto(served + MARIGOLD + "/forecast")
    assert again.ok
    assert "Days to come" in bench.inner_text("main")


def test_names_of_markup_and_of_ten_thousand_letters_break_no_page(bench: Any, served: str) -> None:
    for name in ("<img src=x onerror=window.ran=1>", "a?c#d %2F &amp;", "\u05d0\u05d1\u05d2 garden"):
        bench.goto(served + "/colonies/-new")
        bench.fill("#f-name", name)
        bench.click("main button")
        assert bench.inner_text("h1") == name
        bench.goto(served + "/colonies")
        assert name in bench.inner_text("main")
        assert bench.evaluate("window.ran") is None
    bench.goto(served + "/colonies/-new")
    bench.evaluate("document.getElementById('f-name').removeAttribute('maxlength')")
    bench.fill("#f-name", "x" * 10_000)
    bench.click("main button")
    assert "is too long" in bench.inner_text(".faults")


def test_photos_are_kept_without_their_place_and_compared_by_sliders(bench: Any, served: str) -> None:
    bench.goto(served + MARIGOLD + "/photos")
    files = []
    for n, colour in enumerate(("#c8b28a", "#8a9c78")):
        data = io.BytesIO()
        picture = Image.new("RGB", (640, 480), colour)
        exif = picture.getexif()
        exif[0x8825] = {1: "N", 2: (48.0, 8.0, 12.0)}
        exif[0x9003] = f"2026:03:0{n + 1} 10:00:00"
        picture.save(data, "JPEG", exif=exif)
        files.append({"name": f"garden{n}.jpg", "mimeType": "image/jpeg", "buffer": data.getvalue()})
    bench.set_input_files("#pictures", files)
    bench.click("text=Keep")
    assert bench.locator("[data-photo]").count() == 2
    bench.locator("#now").fill("0")
    kept = bench.request.get(served + bench.get_attribute("[data-now]", "src")).body()
    assert not Image.open(io.BytesIO(kept)).getexif().get_ifd(0x8825)
    assert bench.request.get(served + "/photos/1/small").headers["content-type"] == "image/jpeg"
    assert bench.request.get(served + "/photos/999").status == 404
    bench.set_input_files("#pictures", [{"name": "a.jpg", "mimeType": "image/jpeg", "buffer": b"no picture"}])
    bench.click("text=Keep")
    assert bench.inner_text("h1") == "That cannot be used"


def test_an_event_is_recorded_between_visits_and_the_family_drawn(bench: Any, served: str, unmet: Any) -> None:
    bench.goto(served + MARIGOLD)
    bench.click("text=Something was done or befell it")
    bench.select_option("#f-what", "garden lost")
    bench.fill("#f-amount", "2 mL")
    bench.select_option("#f-other", "Hollyhock")
    bench.click("text=Record it")
    assert "from one colony to another" in bench.inner_text(".faults")
    bench.select_option("#f-what", "garden added")
    bench.fill("#f-amount", "20 mL")
    bench.fill("#f-event-day", "2026-03-01")
    bench.fill("#f-event-note", "a piece of the rim")
    bench.click("text=Record it")
    assert "garden added 20 mL (Hollyhock) a piece of the rim" in bench.inner_text("main")
    bench.goto(served + "/colonies/Hollyhock/family")
    boxes = [one.bounding_box()["y"] for one in bench.locator(".family rect").all()]
    names = bench.locator(".family a").all_text_contents()
    assert names == ["Hollyhock", "Marigold"]
    assert boxes[0] < boxes[1], "who gave stands above who received"
    assert bench.locator(".family svg").bounding_box()["width"] <= 390 - 2 * 16, "it fits on a phone"
    assert unmet(bench) == []


def test_stopped_work_is_not_begun_by_looking_at_its_page(tmp_path: Path, monkeypatch: Any) -> None:
    shop = create_workshop(tmp_path / "shop", "Europe/Lisbon")
    with writing(shop.engine) as connection:
        row = {"name": "Heron", "species": "Acromyrmex echinatior", "start": "2026-01-01"}
        add_colony(act(connection, "colony Heron"), row | {"queen": "laying", "leaves": "free"})
    with reading(shop.engine) as connection:
        kept = find_colony(connection, "Heron")

    def work(_shop: Any, _kept: Any, job: Job) -> None:
        while True:
            job.report(0.5)
            time.sleep(0.005)

    monkeypatch.setitem(colony_work.KINDS, "forecast", ("Forecast of {}", work))
    jobs = Jobs()
    try:
        first = colony_work.begin(jobs, shop, kept, "forecast")
        first.stop()
        while first.going:
            time.sleep(0.005)
        assert first.state == "stopped"
        assert colony_work.begin(jobs, shop, kept, "forecast") is first
        second = colony_work.begin(jobs, shop, kept, "forecast", again=True)
        assert second is not first
        assert second.going
    finally:
        jobs.close()


def test_work_on_a_colony_is_done_anew_when_the_air_at_its_garden_is_known_otherwise(workshop: Path) -> None:
    """Placed, calibrated, moved: what stands at the garden counts as much as what was seen."""
    shop = find_workshop(workshop)

    def key() -> str:
        with reading(shop.engine) as connection:
            return colony_work.record_key(shop, find_colony(connection, "Marigold"), "forecast")

    def change(table: Table, values: dict[str, Any], row: int = 0) -> int:
        with writing(shop.engine) as connection:
            done = act(connection, "test")
            if not row:
                return done.add(table, values)
            done.change(table, row, values)
            return row

    keys = [key(), key()]
    assert keys[0] == keys[1]
    with reading(shop.engine) as connection:
        colony = find_colony(connection, "Marigold").id
        logger = connection.execute(select(channel.c.logger_id).limit(1)).scalar()
    place = {"logger_id": logger, "colony_id": colony, "chamber": "pot", "since": 1_767_225_600_000}
    row = change(placement, place)
    keys.append(key())
    change(placement, {"until": 1_772_300_000_000}, row)
    keys.append(key())
    with writing(shop.engine) as connection:
        connection.execute(update(rollup).values(total=rollup.c.total + 1))
    keys.append(key())
    assert len(set(keys)) == 4
