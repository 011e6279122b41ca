"""Parcel files on the page: begun, changed, refused with their line, and their risk as long work."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any


def test_a_parcel_file_from_its_text_to_its_risk(
    bench: Any, served: str, workshop: Path, unmet: Any, until: Callable[[Callable[[], bool]], None]
) -> None:
    bench.goto(served + "/parcels")
    bench.click("text=Parcel files and their risk")
    assert unmet(bench) == []
    bench.fill("#f-name", "north")
    bench.click("text=Keep it")
    assert bench.inner_text("h1") == "north"
    assert unmet(bench) == []
    text = bench.input_value("#text")
    # what is wrong is said with its line, and nothing outside of the folder is read
    bench.fill("#text", text.replace('outside = "winter depot"', 'outside = "../workshop.db"'))
    bench.click("text=Work out the risk")
    assert "outside of the folder" in bench.inner_text(".faults")
    # what is no file at all is not kept over one that is
    bench.fill("#text", text.replace('"250 mL"', "= ="))
    bench.click("button[value=save]")
    bench.wait_for_selector(".faults")
    assert "Saved." not in bench.inner_text("main")
    assert (workshop / "parcels" / "north.toml").read_text() == text
    bench.fill("#text", text.replace('"250 mL"', '"60 L"'))
    bench.click("button[value=save]")
    assert "Saved." in bench.inner_text("main")
    bench.goto(served + "/parcels/files/north")
    assert "the cup is larger than the box" in bench.inner_text(".faults")
    bench.fill("#text", text)
    bench.click("button[value=save]")
    assert (workshop / "parcels" / "north.toml").read_text() == text
    bench.fill("#f-first", "2027-01-11")
    bench.fill("#f-last", "2027-01-13")
    bench.select_option("#f-draws", "1000")
    bench.click("text=Work out the risk")
    until(lambda: bench.locator("figure.chart").count() == 2)
    assert unmet(bench) == []
    main = bench.inner_text("main")
    assert "The garden is lost" in main
    assert "Wednesday, 2027-01-13" in main
    days = bench.request.get(bench.url + "/days.svg")
    assert days.status == 200
    assert "colony" in days.text()
    for picture in ("days", "journey"):
        wide, slim = (bench.request.get(f"{bench.url}/{picture}.svg{ask}") for ask in ("", "?narrow=1"))
        assert slim.status == 200
        wide, slim = (float(re.search(r'<svg[^>]* width="([\d.]+)"', one.text())[1]) for one in (wide, slim))
        assert slim <= 370 < 500 < wide  # what a phone of 390 px shows, but for its margins


def test_a_risk_can_be_stopped(bench: Any, served: str, until: Callable[[Callable[[], bool]], None]) -> None:
    bench.goto(served + "/parcels/files")
    bench.fill("#f-name", "south")
    bench.click("text=Keep it")
    bench.check("input[name=ways]")
    bench.click("text=Work out the risk")
    bench.click(".job button")
    until(lambda: "Stopped." in bench.inner_text("main"))
