"""Climate in a real browser: a room is chosen and run through; the command's figures; measured beside predicted."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import quote
from urllib.request import urlopen

import pytest

from nestwright.cli import main
from nestwright.web.climate_measured import measured_in
from nestwright.web.climate_year import RESULTS, Results, asked, begin, found
from nestwright.web.habitat_files import file_of
from nestwright.web.jobs import Jobs
from nestwright.workshop.builds import find_build
from nestwright.workshop.database import reading
from nestwright.workshop.folder import Workshop

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
POT = "/climate/single-pot"
WEEK = "bench-logger.toml"
"""The cheapest room with a course: a week of a logger."""


DARK = """() => {
    const c = document.querySelector('.pictures .live canvas'), w = c.width, y = Math.round(c.height * 0.25);
    if (c.getBoundingClientRect().right > c.closest('figure').getBoundingClientRect().right + 1) return 'too wide';
    const d = c.getContext('2d').getImageData(0, y, w, Math.round(c.height * 0.6)).data, seen = new Set();
    for (let i = 0; i < d.length; i += 4) if (d[i] < 70 && d[i + 1] < 70 && d[i + 2] < 70) seen.add((i / 4) % w);
    return [...seen].filter((x) => x > w * 0.3).length / w;
}"""
"""Share of a picture's columns in its right two thirds in which something dark is drawn."""
Command = Callable[..., str]


@pytest.fixture
def command(workshop: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Command:
    """What a command prints that is called in the workshop."""
    monkeypatch.chdir(workshop)

    def run(*words: str) -> str:
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main.run(list(words))
        out, err = capsys.readouterr()
        assert end.value.code == 0, err
        return out

    return run


@pytest.fixture
def placed(workshop: Path, command: Command) -> Path:
    """The workshop with its logger standing in build P-001's pot."""
    command("readings", "place", "pot", "--build", "P-001", "--chamber", "pot", "--from", "2026-01-01")
    return workshop


def test_a_year_is_proved_in_a_chosen_room_with_the_figures_of_the_command(
    bench: Any, placed: Path, served: str, command: Command
) -> None:
    bench.goto(served + "/habitats/single-pot")
    bench.click("text=Its climate over a year")
    text = bench.inner_text("main")
    assert "Choose the room" in text
    # without a room the measured stands alone
    assert "pot: temperature" in bench.inner_text("#measured ~ .scroll")
    bench.click(".rooms >> text=Bench in March")
    bench.wait_for_selector(".verdict", timeout=180_000)
    told = json.loads(command("climate", "habitats/single-pot.toml", "--room", f"rooms/{WEEK}", "--year", "--json"))
    key = bench.locator("a[href$='.json']").get_attribute("href")
    with urlopen(served + key) as answer:
        assert json.loads(answer.read()) == told
    with urlopen(served + key.replace(".json", ".csv")) as answer:
        assert len(answer.read().decode().splitlines()) > told["hours"]
    # the words say the same
    verdict = bench.inner_text(".verdict")
    assert ("Does not hold." in verdict) is not told["holds"]
    assert told["first_limit"] in verdict
    rows = bench.locator(".stack").first.locator("tbody tr").all_inner_texts()
    assert len(rows) == len(told["limits"])
    warm = next(one for one in told["limits"] if one["quantity"] == "temperature")
    row = next(one for one in rows if one.startswith(warm["name"]))
    assert f"{warm['value']:.1f}\u202f°C" in row
    assert f"{told['refills']} time" in bench.inner_text(".facts")
    window = json.loads(
        command("window", "habitats/single-pot.toml", "--room", f"rooms/{WEEK}", "--json")
    )["room_hours_inside_pct"]  # fmt: skip
    said = bench.inner_text("#window + p")
    assert f"{window:.1f} %" in said or ("All" in said and window == 100) or ("None" in said and window == 0)
    # a picture of dates is drawn over its whole width, not at its left end, and no wider than its place
    bench.locator(".pictures figure").first.scroll_into_view_if_needed()
    bench.wait_for_selector(".pictures .live canvas", timeout=180_000)
    assert bench.evaluate(DARK) > 0.3
    # another room, and back: what is known is not worked out again
    bench.fill("#f-room", "warm")
    bench.click("text=Prove")
    assert "21 degC, 45 %" in bench.inner_text(".faults")
    assert bench.input_value("#f-room") == "warm"
    bench.goto(f"{served}{POT}?room={WEEK}")
    assert bench.locator("#job").count() == 0
    assert told["first_limit"] in bench.inner_text(".verdict")


def test_measured_stands_beside_predicted_on_a_phone(
    browser: Any, placed: Path, served: str, command: Command, unmet: Any
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, bypass_csp=True, reduced_motion="reduce")
    page = context.new_page()
    page.goto(served + "/builds/P-001")
    page.click("text=measured beside predicted")
    page.goto(f"{page.url}?room={quote('21 degC, 45 %')}")
    page.wait_for_selector(".verdict", timeout=180_000)
    row = page.locator("#measured ~ .scroll tr", has_text="pot: temperature").inner_text()
    # steady air of the command, and the mean of the file's readings of its last thirty days
    told = json.loads(command("climate", "habitats/single-pot.toml", "--room", "21 degC, 45 %", "--json"))
    steady = next(one for one in told["chambers"] if one["name"] == "pot")["temperature_degC"]
    assert f"{steady:.1f}\u202f°C" in row
    days = [line.split(",") for line in (EXAMPLES / "colonies" / "marigold-logger.csv").read_text().splitlines()[1:]]
    february = [float(one[1]) for one in days if "2026-02-01" <= one[0] < "2026-03-03"]
    assert f"{sum(february) / len(february):.1f}\u202f°C" in row
    assert "never calibrated" in row
    assert "the room itself" in page.inner_text("main")
    assert unmet(page) == []
    context.close()


def test_the_work_stops_when_told_and_begins_again_only_when_asked(workshop: Path, until: Any) -> None:
    shop, jobs = Workshop(workshop), Jobs()
    try:
        file = file_of(shop, "heated-bench")
        told = asked(shop, file, "attic.toml", None, None)
        job = begin(jobs, told)
        job.stop()
        until(lambda: not job.going)
        assert (job.state, found(told)) == ("stopped", None)
        assert begin(jobs, told) is job
        again = begin(jobs, told, again=True)
        assert again is not job
        again.stop()
        # a room file that is changed is another room, and so is a habitat that is changed
        room = workshop / "rooms" / "attic.toml"
        room.write_text(room.read_text().replace('season_swing = "4 K"', 'season_swing = "5 K"'))
        assert asked(shop, file, "attic.toml", None, None).key != told.key
        assert asked(shop, file, "living-room.toml", None, None).key != told.key
    finally:
        jobs.close()


def test_a_room_that_a_logger_measured_is_what_the_prediction_is_made_in(
    placed: Path, tmp_path: Path, command: Command
) -> None:
    rows = ["time,temperature_degC,humidity_pct"]
    rows += [
        f"2026-0{m}-{d:02d} {h:02d}:00,{22 + h / 24:.2f},44"
        for m, n in ((2, 28), (3, 3))
        for d in range(1, n + 1)
        for h in range(24)
    ]
    (tmp_path / "room.csv").write_text("\n".join(rows) + "\n")
    command("readings", "import", str(tmp_path / "room.csv"), "--logger", "shelf", "--zone", "UTC")
    command("readings", "place", "shelf", "--build", "P-001", "--chamber", "room", "--from", "2026-02-01")
    shop = Workshop(placed)
    with reading(shop.engine) as connection:
        made = find_build(connection, "P-001")
    measured = measured_in(shop, made)
    assert measured is not None
    assert measured.room is not None
    assert measured.room_logger == "shelf"
    told = asked(shop, file_of(shop, "single-pot"), "", made, measured)
    assert set(told.keys) == {"measured", "intervals"}
    # a new reading of today, which is no whole day yet, makes no new work
    with (tmp_path / "room.csv").open("a") as more:
        more.write("2026-03-04 00:00,35,44\n")
    command("readings", "import", str(tmp_path / "room.csv"), "--logger", "shelf", "--zone", "UTC")
    later = measured_in(shop, made)
    assert asked(shop, file_of(shop, "single-pot"), "", made, later).key == told.key


def test_results_longest_unused_make_room() -> None:
    kept = Results(2)
    kept.put("a", 1)
    kept.put("b", 2)
    assert kept.get("a") == 1
    kept.put("c", 3)
    assert [kept.get(k) for k in "abc"] == [1, None, 3]
    assert RESULTS.get("no such key") is None
