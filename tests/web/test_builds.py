"""Builds in a real browser: added, measured, checked, filled; what cannot be is refused with the entries kept."""

from __future__ import annotations

from typing import Any


def test_a_build_is_added_checked_measured_filled_and_taken_back(bench: Any, served: str) -> None:
    name = "A/7 <b>x</b>"
    bench.goto(served + "/builds")
    bench.click("text=Add a build")
    bench.fill("#f-serial", "P-001")
    bench.select_option("#f-habitat", "three-pot")
    bench.click("text=Record the build")
    # a serial that is taken is refused, and the entries stay
    assert "already" in bench.inner_text(".faults")
    assert bench.input_value("#f-habitat") == "three-pot"
    bench.fill("#f-serial", name)
    bench.click("text=Record the build")
    assert bench.inner_text("h1") == f"Build {name}"
    bench.click("text=Record a check")
    bench.fill("#f-check-what", "lid closes")
    bench.check("input[value=failed]")
    bench.click("text=Record the check")
    assert "lid closes: failed" in bench.inner_text("main")
    bench.click("text=Record a measured value")
    bench.fill("#f-what", "chamber.pot.hieght")
    bench.fill("#f-value", "118.4 mm")
    bench.click("text=Record the value")
    assert "no chamber of this name" in bench.inner_text(".faults")
    bench.fill("#f-value", "")
    bench.fill("#f-what", "width")
    bench.click("text=Record the value")
    assert bench.input_value("#f-what") == "width"
    bench.fill("#f-value", "118.4 mm")
    bench.click("text=Record the value")
    assert "width: 118.4 mm" in bench.inner_text("main")
    bench.click("text=Filled today")
    assert "on a day not told" not in bench.inner_text("main")
    bench.click(".done button")
    bench.goto(served + "/builds")
    assert "1 failed" in bench.inner_text(".builds")
    bench.click(f"text={name}")
    assert "on a day not told" in bench.inner_text("main")
