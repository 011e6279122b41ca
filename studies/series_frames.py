"""How smoothly the series is moved over a year of minutes, and how fast its points are answered.

    python studies/series_frames.py            # two channels of 525,600 minutes
    python studies/series_frames.py 5000000    # two channels of so many readings each, 10 million in all

Makes a workshop of its own in a temporary folder, serves it, drags the picture to and fro in a real Chromium, and
prints the times between frames, the processor's time for each, and the times of the answers.
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.request import urlopen

import numpy as np
from playwright.sync_api import sync_playwright

from nestwright.workshop.changes import act, now
from nestwright.workshop.database import writing
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.readings import keep_channel, keep_logger, store_readings

YEAR = 365 * 86_400_000
PIECE = 500_000
FRAMES = """async () => {
  const times = [];
  let before = performance.now();
  let go = true;
  const next = (at) => { times.push(at - before); before = at; if (go) requestAnimationFrame(next); };
  requestAnimationFrame(next);
  const over = document.querySelector(".u-over"), frame = over.getBoundingClientRect();
  const send = (kind, x) => over.dispatchEvent(new PointerEvent(kind, { bubbles: true, pointerId: 1, pointerType: "pen",
    clientX: frame.left + x * frame.width, clientY: frame.top + 20 }));
  document.querySelector(".plots").setPointerCapture = () => {};
  send("pointerdown", 0.5);
  const begin = performance.now();
  await new Promise((done) => {
    const move = () => {
      const passed = (performance.now() - begin) / 1000;
      send("pointermove", 0.5 + 0.45 * Math.sin(passed * 2.2));
      if (passed < 6) requestAnimationFrame(move); else done();
    };
    requestAnimationFrame(move);
  });
  send("pointerup", 0.5);
  go = false;
  return times.slice(2);
}"""


def fill(folder: Path, many: int) -> tuple[int, int]:
    """Two channels of one logger over the last year; its first and last moment."""
    workshop = create_workshop(folder, "Europe/Lisbon")
    last = now()
    at = last - YEAR + np.arange(many) * (YEAR // many)
    days = at / 86_400_000
    random = np.random.default_rng(1)
    with writing(workshop.engine) as connection:
        done = act(connection, "readings")
        logger = keep_logger(done, "bench")
        for name, unit, middle, swing in (("humidity", "%", 94.0, 3.0), ("temperature", "degC", 24.0, 1.2)):
            row = keep_channel(done, logger, name, name, unit)
            value = np.round(middle + swing * np.sin(2 * np.pi * days) + random.normal(0, 0.2, many), 2)
            for k in range(0, many, PIECE):
                store_readings(connection, row, at[k : k + PIECE], value[k : k + PIECE])
    return int(at[0]), int(at[-1])


def main() -> None:
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 525_600
    with TemporaryDirectory() as scratch:
        folder = Path(scratch) / "year"
        first, last = fill(folder, many)
        server = subprocess.Popen(
            [sys.executable, "-m", "nestwright", "serve", "--port", "0", "--workshop", str(folder)],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        try:
            assert server.stdout is not None
            address = server.stdout.readline().split()[-1]
            urlopen(f"{address}/sensors").close()
            print(f"{2 * many:,} readings")
            for days in (1, 7, 30, 90, 365):
                took = []
                for k in range(9):
                    low = max(first, last - (k + 1) * days * 86_400_000)
                    begin = time.perf_counter()
                    urlopen(
                        f"{address}/api/series/bench.humidity?from={low}&to={low + days * 86_400_000}&width=3900"
                    ).read()
                    took.append(1000 * (time.perf_counter() - begin))
                print(f"answer, {days:3} days: median {np.median(took):.0f} ms, longest {max(took):.0f} ms")
            frames(address, first, last)
        finally:
            server.terminate()


def frames(address: str, first: int, last: int) -> None:
    """Times between frames while the picture is dragged, for a day, a month and the year."""
    with sync_playwright() as play:
        browser = play.chromium.launch(args=["--no-sandbox"], executable_path=_system_browser())
        page = browser.new_context(viewport={"width": 1440, "height": 900}, bypass_csp=True).new_page()
        for days in (1, 30, 365):
            low = max(first, last - 2 * days * 86_400_000)
            page.goto(
                f"{address}/series?channel=bench.humidity&channel=bench.temperature"
                f"&from={low}&to={low + days * 86_400_000}"
            )
            page.wait_for_selector("#series[data-ready]")
            told = page.context.new_cdp_session(page)
            told.send("Performance.enable", {"timeDomain": "threadTicks"})
            before = busy(told)
            steps = np.array(page.evaluate(FRAMES))
            each = 1000 * (busy(told) - before) / len(steps)
            print(
                f"frames, {days:3} days: {len(steps)} in 6 s, median {np.median(steps):.1f} ms, "
                f"95 % below {np.quantile(steps, 0.95):.1f} ms, longest {steps.max():.0f} ms; "
                f"of the page's thread {each:.1f} ms each"
            )
        browser.close()


def busy(told: Any) -> float:
    """Time of the processor that the page's own thread has used, s."""
    return next(
        float(m["value"]) for m in told.send("Performance.getMetrics")["metrics"] if m["name"] == "TaskDuration"
    )


def _system_browser() -> str | None:
    import shutil

    names = ("chromium", "chromium-browser", "google-chrome")
    return next((path for name in names if (path := shutil.which(name))), None)


if __name__ == "__main__":
    main()
