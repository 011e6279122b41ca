"""How long the designer takes from a touch to the new steady climate on the screen, and what of it.

Run: `python benchmarks/live_design.py [moves]`. A real Chromium moves every slide of every example habitat by up to
10 %, four times and back, and now and then rests long enough for the finer figures to begin. Printed are the
milliseconds from the input event to the picture after it (median, 95th percentile, largest), and the medians of what
they are made of. The figures hold for the machine as loaded as it is: the load is printed too.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

EXAMPLES = Path(__file__).parents[1] / "examples" / "workshop" / "habitats"
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
MOVE = """async (moves) => {
  const all = [...document.querySelectorAll("[data-slide], [data-room]")];
  const rest = (ms) => new Promise((go) => setTimeout(go, ms));
  const set = async (one, value) => { one.value = value; one.dispatchEvent(new Event("input")); await rest(150); };
  spans.length = 0;
  for (let k = 0; spans.length < moves && k < 3 * moves; k++) {
    const one = all[k % all.length], start = +one.value;
    for (const part of [0.05, 0.1, -0.05, 0]) await set(one, start * (1 + part));
    if (k % 5 === 4) await rest(500);
  }
  return spans;
}"""


def main(moves: int) -> None:
    """Serve a workshop of the examples and measure each habitat."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        workshop = Path(folder) / "bench-room"
        program = [sys.executable, "-m", "nestwright"]
        subprocess.run([*program, "workshop", "new", str(workshop), "--zone", "UTC"], check=True, capture_output=True)
        shutil.copytree(EXAMPLES, workshop / "habitats", dirs_exist_ok=True)
        server = subprocess.Popen(
            [*program, "serve", "--port", "0", "--workshop", str(workshop)], stdout=subprocess.PIPE, text=True
        )
        assert server.stdout is not None
        address = server.stdout.readline().split()[-1]
        found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
        try:
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
                for stem in sorted(path.stem for path in EXAMPLES.glob("*.toml")):
                    page = browser.new_page(viewport={"width": 1440, "height": 900})
                    page.goto(f"{address}/habitats/{stem}", wait_until="domcontentloaded")
                    page.wait_for_selector("#legend li", timeout=300_000)  # all is compiled and drawn
                    _tell(stem, page.evaluate(MOVE, moves))
                    page.close()
                browser.close()
        finally:
            server.terminate()
            server.wait(10)


def _tell(stem: str, spans: list[dict[str, Any]]) -> None:
    whole = sorted(span["painted"] for span in spans)
    at = whole[len(whole) // 2], whole[int(0.95 * (len(whole) - 1))], whole[-1]
    print(f"{stem}: {len(whole)} moves, median {at[0]:.0f} ms, p95 {at[1]:.0f} ms, largest {at[2]:.0f} ms; "
          f"load {os.getloadavg()[0]:.1f}")  # fmt: skip
    for name in sorted({key for span in spans for key in span} - {"painted"}):
        parts = sorted(span.get(name, 0.0) for span in spans)
        print(f"    {name:<10}{parts[len(parts) // 2]:6.1f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
