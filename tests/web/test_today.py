"""Today in a real browser: what is to be done, alarms that are answered, changes that come by themselves."""

from __future__ import annotations

import json
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Thread
from typing import Any

from tests.web.conftest import PATIENCE, run, serve

REFILL = ("P-001", "3 to 4")


def _dry(folder: Path) -> None:
    run("alarms", "refill", *REFILL, "--workshop", str(folder))
    run("alarms", "refill", "P-001", "--done", "--date", "2026-01-05", "--workshop", str(folder))


def test_an_alarm_is_raised_by_the_server_seen_put_off_and_its_work_done(phone: Any, workshop: Path) -> None:
    _dry(workshop)
    process, address = serve(workshop)
    try:
        phone.goto(address)
        water = phone.locator("li", has_text="build P-001")
        water.get_by_text("Alarm since").wait_for()
        title = phone.title()
        assert title.startswith("(")
        water.get_by_role("button", name="Seen").click()
        assert phone.title() != title
        water.get_by_text(", seen").wait_for()
        water.get_by_text("Put off", exact=True).click()
        water.get_by_role("button", name="until tomorrow").click()
        assert phone.locator("ul.tasks li", has_text="build P-001").count() == 0
        phone.click("#put-off summary")
        assert "07:00" in phone.inner_text("#put-off")
        phone.goto(address + "/builds/P-001")
        phone.click("text=Filled today")
        assert "Recorded" in phone.inner_text(".done")
        phone.goto(address + "/alarms")
        for _ in range(20):
            if phone.locator(".past", has_text="P-001").count():
                break
            phone.wait_for_timeout(500)
            phone.reload()
        assert phone.locator(".past", has_text="P-001").count()
    finally:
        process.terminate()
        process.wait(PATIENCE)


def test_what_another_process_records_comes_without_a_reload_and_is_said_politely(
    bench: Any, workshop: Path, served: str
) -> None:
    run("colony", "move", "Marigold", "T-001", "--workshop", str(workshop))
    bench.goto(served)
    bench.wait_for_selector("text=things to do")
    bench.evaluate("window.mark = 1")
    run("build", "check", "T-001", "lid closes", "--failed", "--workshop", str(workshop))
    for _ in range(20):
        if "lid closes" in (bench.text_content("#said") or "") and "lid closes" in bench.inner_text("#s-tasks"):
            break
        # the page asks by itself every minute; a test does not wait so long
        bench.evaluate(
            "htmx.ajax('GET', document.getElementById('poll').getAttribute('hx-get'),"
            "{target: '#poll', swap: 'outerHTML'}) && undefined"
        )
        bench.wait_for_timeout(500)
    assert "New alarm" in (bench.text_content("#said") or "")
    assert "lid closes" in bench.inner_text("#s-tasks")
    assert bench.evaluate("window.mark") == 1


def test_two_servers_of_one_workshop_send_an_alarm_once(workshop: Path) -> None:
    told: list[int] = []

    class Door(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = json.loads(self.rfile.read(int(self.headers["content-length"])))
            told.extend(one["id"] for one in body["alarms"])
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_: Any) -> None:
            return

    door = HTTPServer(("127.0.0.1", 0), Door)
    Thread(target=door.serve_forever, daemon=True).start()
    (workshop / "alarms.toml").write_text(f'[webhook]\nurl = "http://127.0.0.1:{door.server_port}/"\n')
    _dry(workshop)
    both = [serve(workshop), serve(workshop)]
    try:
        from time import monotonic, sleep

        end = monotonic() + 20
        while not told and monotonic() < end:
            sleep(0.1)
        run("alarms", "check", "--no-forecast", "--workshop", str(workshop))
    finally:
        for process, _ in both:
            process.terminate()
            process.wait(PATIENCE)
        door.shutdown()
    assert told
    assert len(told) == len(set(told))
