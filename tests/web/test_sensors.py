"""Sensors in a real browser: placed, imported from a file, calibrated over salts; what cannot be is refused, kept."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest
from starlette.testclient import TestClient

from nestwright.errors import InputError
from nestwright.web.app import create_app
from nestwright.web.uploads import MOST, SECONDS, Uploads
from nestwright.workshop.changes import act, now
from nestwright.workshop.database import writing
from nestwright.workshop.folder import Workshop, find_workshop
from nestwright.workshop.readings import HOUR, keep_channel, keep_logger, store_readings

NAME = 'A/7 <b>x</b> "y"'
FILE = """Station: bench <i>north</i>
Date/Time;Temp (°C);Humidity (%)
03.04.2026 10:00;21,5;55,0
03.04.2026 10:10;21,6;55,2
03.04.2026 10:20;21,7;<b>wet</b>
gone
03.04.2026 10:30;21,7;55,9
03.04.2026 10:40;21,9;56,1
"""


def test_a_logger_is_placed_wanted_surer_and_taken_back(bench: Any, served: str) -> None:
    bench.goto(served + "/sensors")
    assert "stands nowhere" in bench.inner_text("main")
    assert len(bench.query_selector_all("svg.spark path")) == 2
    bench.click("h2 >> text=pot")
    bench.click("text=Place it")
    bench.select_option("#f-stands", "build:T-001")
    bench.fill("#f-chamber", "gardn pot")
    bench.click("text=Record the place")
    # a chamber that the design does not have is refused with the nearest one, and the entry stays
    assert "garden pot" in bench.inner_text(".faults")
    assert bench.input_value("#f-chamber") == "gardn pot"
    bench.fill("#f-chamber", "garden pot")
    bench.click("text=Record the place")
    assert "Stands at T-001, garden pot" in bench.inner_text(".lead")
    bench.click("text=How sure it must be >> nth=0")
    bench.fill("#f-want-1", "2 K")
    bench.click("text=Record it >> visible=true")
    assert "cannot be the uncertainty of a humidity" in bench.inner_text(".faults")
    bench.fill("#f-want-1", "1 %")
    bench.click("text=Record it >> visible=true")
    # a sensor as sold is less sure than that
    assert "due since" in bench.inner_text(".values")
    bench.goto(served + "/sensors")
    assert "due since" in bench.inner_text(".channels")
    bench.goto(served + "/history")
    bench.click("button:has-text('Undo') >> nth=1")
    bench.goto(served + "/sensors/pot")
    assert "Stands nowhere" in bench.inner_text(".lead")


def test_a_file_is_looked_at_asked_about_stored_once_and_its_bad_rows_told(
    phone: Any, served: str, tmp_path: Path
) -> None:
    file = tmp_path / 'of "march" <b>.csv'
    file.write_text(FILE, "utf-8")
    phone.goto(served + "/import")
    phone.fill("#f-logger", NAME)
    (tmp_path / "none.csv").write_text("nothing here\n", "utf-8")
    phone.set_input_files("#f-file", str(tmp_path / "none.csv"))
    phone.click("text=Look at it")
    assert "no line looks like a reading" in phone.inner_text(".faults")
    assert phone.input_value("#f-logger") == NAME
    phone.set_input_files("#f-file", str(file))
    phone.click("text=Look at it")
    assert "Which time zone does its clock keep?" in phone.inner_text("main")
    assert "21.5, 21.6, 21.7" in phone.inner_text("main")
    # the workshop's own zone is proposed: its times are shown as the logger wrote them
    assert "2026-04-03 10:00" in phone.inner_text("main")
    phone.fill("#f-zone", "Europe/Lisboa")
    phone.click("text=Look again")
    assert "no time zone of this name" in phone.inner_text(".faults")
    phone.fill("#f-zone", "UTC")
    phone.check("input[value=mdy]")
    phone.click("text=Look again")
    # month first, and summer time in Lisbon is an hour ahead of UTC
    assert "2026-03-04 10:00" in phone.inner_text("main")
    phone.check("input[value=dmy]")
    phone.select_option("select[name=unit] >> nth=1", "leave out")
    phone.click("text=Look again")
    assert "2026-04-03 11:00" in phone.inner_text("main")
    assert "left out" in phone.inner_text("main")
    phone.select_option("select[name=unit] >> nth=1", "%")
    assert "stored yet" in phone.inner_text("main")
    phone.click("text=Store these readings")
    phone.wait_for_selector("text=See them")
    said = phone.inner_text("main")
    assert "2026-04-03 11:00 – 2026-04-03 11:40" in said
    rows = [line.split("\t") for line in said.split("\n") if "\t" in line]
    assert ["temperature", "5", "0", "0"] in rows
    assert ["humidity", "4", "0", "0"] in rows
    assert [row[0] for row in rows if row[0].isdigit()] == ["5", "6"]  # lines of the file
    assert phone.query_selector("main b, main i") is None
    phone.click("text=See them")
    phone.wait_for_selector("#series[data-ready]")
    assert NAME in phone.inner_text(".key")
    # under a second name it would count twice
    phone.goto(served + "/import?logger=second")
    phone.set_input_files("#f-file", str(file))
    phone.click("text=Look at it")
    assert "stand already in" not in phone.inner_text("main"), "in the workshop's own zone they are other moments"
    phone.fill("#f-zone", "UTC")
    phone.click("text=Look again")
    assert f"stand already in the record of the logger {NAME}" in " ".join(phone.inner_text(".caution").split())
    phone.click("text=Do not import it")
    # the same file again: nothing is doubled, nothing is asked, and another zone is refused
    phone.goto(served + f"/import?logger={quote(NAME, safe='')}")
    phone.set_input_files("#f-file", str(file))
    phone.click("text=Look at it")
    assert "as the earlier files" in phone.inner_text(".lead")
    phone.fill("#f-zone", "UTC+03:00")
    phone.click("text=Store these readings")
    assert "another zone" in phone.inner_text(".faults")
    phone.fill("#f-zone", "UTC")
    phone.click("text=Store these readings")
    phone.wait_for_selector("text=See them")
    rows = [line.split("\t") for line in phone.inner_text("main").split("\n") if "\t" in line]
    assert ["temperature", "0", "5", "0"] in rows


def test_files_that_wait_are_few_and_end(tmp_path: Path) -> None:
    import io

    time = [0.0]
    waiting = Uploads(lambda: time[0])
    sent = [waiting.take(io.BytesIO(b"x" * k), f"../../{k}\x00.csv") for k in range(MOST + 2)]
    assert [waiting.find(one.token) is not None for one in sent] == [False, False] + [True] * MOST
    assert not sent[0].path.exists()
    assert sent[-1].path.read_bytes() == b"x" * (MOST + 1)
    assert "/" not in sent[-1].name
    time[0] = SECONDS + 1
    last = waiting.take(io.BytesIO(b"y"), "y")
    assert waiting.find(sent[-1].token) is None
    assert not sent[-1].path.exists()
    waiting.drop(last.token)
    assert not last.path.exists()
    assert waiting.find("../x") is None

    class Full(io.BytesIO):
        def read(self, size: int | None = -1) -> bytes:
            raise OSError(28, "No space left on device")

    with pytest.raises(InputError, match="could not be kept"):
        waiting.take(Full(), "z")
    assert not list(last.path.parent.iterdir())


def as_typed(made: Workshop, at: float) -> str:
    return datetime.fromtimestamp(at / 1000, UTC).astimezone(made.zone).strftime("%Y-%m-%dT%H:%M")


def over_salts(workshop: Path) -> tuple[Workshop, Any, Any]:
    """A probe that reads 2 % too much, 20 hours over each of two salts and on: workshop, times, readings."""
    # Greenspan 1977 (10.6028/jres.081A.011) at 25 degC: NaCl 75.29, K2SO4 97.30 % RH; the sensor reads 2 % too much
    made = find_workshop(workshop)
    end = now() // HOUR * HOUR
    at = end - np.arange(42 * 60)[::-1] * 60_000 - 60_000
    hours = (at - at[0]) / HOUR
    over = [75.29, 97.30, 75.29]
    value = np.empty(len(at))
    for k, true in enumerate(over):
        inside = (hours >= 20 * k) & (hours < 20 * (k + 1))
        first = 55.0 if k == 0 else over[k - 1]
        value[inside] = true + 2 + (first - true) * np.exp(-(hours[inside] - 20 * k))
    value = np.round(value + np.random.default_rng(1).normal(0, 0.03, len(at)), 2)
    with writing(made.engine) as connection:
        done = act(connection, "readings")
        logger = keep_logger(done, "probe")
        rows = [keep_channel(done, logger, *told) for told in (("h", "humidity", "%"), ("t", "temperature", "degC"))]
        store_readings(connection, rows[0], at, value)
        store_readings(connection, rows[1], at, np.round(25 + 0.01 * np.sin(hours * 9), 2))
    return made, at, value


def test_a_sensor_is_calibrated_over_two_salts_as_the_table_says(bench: Any, workshop: Path, served: str) -> None:
    made, at, value = over_salts(workshop)
    bench.goto(served + "/sensors/probe")
    bench.click("text=Calibrate")
    bench.click(".walk a:text-is('h')")
    assert "gloves" in bench.inner_text(".caution")

    def typed(hour: float) -> str:
        return as_typed(made, at[0] + hour * HOUR)

    for k, (salt, begin, until) in enumerate((("NaCl", 0, 20), ("K2SO4", 20, 40))):
        bench.select_option(f"select[name=reference] >> nth={k}", salt)
        bench.fill(f"input[name=since] >> nth={k}", typed(begin))
        bench.fill(f"input[name=until] >> nth={k}", typed(until))
    bench.click("text=Look at its readings")
    # a third that has only begun is watched, and nothing can be kept meanwhile
    bench.fill("input[name=since] >> nth=2", typed(40))
    bench.click("text=Look at its readings")
    assert "not yet" in bench.inner_text("#state")
    assert bench.get_attribute("#state", "hx-trigger") == "every 60s"
    assert bench.query_selector("text=Keep the calibration") is None
    bench.fill("input[name=since] >> nth=2", "")
    bench.click("text=Look at its readings")
    curve = bench.inner_text("#state table >> nth=0").split("\n")[1:]
    for line, true in zip(curve, (75.3, 97.3), strict=True):
        told = line.split("\t")
        assert float(told[1].split()[0]) == pytest.approx(true, abs=0.1)
        assert float(told[2].split()[0]) == pytest.approx(true + 2, abs=0.1)
    bench.click("text=Keep the calibration")
    assert "calibration of probe.h" in bench.inner_text(".done")
    # of the last reading, 75.29 + 2 and what is left of the approach, two are taken off again
    shown = float(bench.inner_text(".now >> nth=0").split()[0])
    assert shown == pytest.approx(value[-1] - 2, abs=0.6)
    # the same hours count once
    bench.go_back()
    bench.click("text=Keep the calibration")
    assert "in a calibration already" in bench.inner_text(".faults")
    bench.goto(served + "/sensors/probe")
    assert "Calibration of" in bench.inner_text("main")


def test_a_calibration_is_kept_in_any_language(workshop: Path) -> None:
    made, at, _ = over_salts(workshop)
    client = TestClient(create_app(made), base_url="http://127.0.0.1", client=("127.0.0.1", 1))
    client.headers.update({"cookie": "nw-shown=de.degC.metric.auto", "sec-fetch-site": "same-origin"})
    told: dict[str, Any] = {"channel": "h", "reference": ["NaCl", "K2SO4"]}
    told["since"], told["until"] = ([as_typed(made, at[0] + h * HOUR) for h in hours] for hours in ((0, 20), (20, 40)))
    shown = client.get("/sensors/probe/calibrate", params=told).text
    assert "75,3 ± 0,45\N{NARROW NO-BREAK SPACE}%" in shown
    assert "\N{MINUS SIGN}2,0\N{NARROW NO-BREAK SPACE}%" in shown
    later = client.get("/sensors/probe/calibrate", params=told | {"since": "2100-01-01T08:00", "until": ""}).text
    assert "beginnt in der Zukunft" in later
    form = shown[shown.index('<li id="keep">') :]
    names = ("channel", "warm", "reference", "since", "until")
    sent = {name: re.findall(f'name="{name}" value="([^"]*)"', form) for name in names}
    assert sent["since"] == told["since"]
    answer = client.post("/sensors/probe/calibrate", data=sent, follow_redirects=False)
    assert answer.status_code == 303, answer.text
