"""Draws the pictures of the page that the guide shows, out of the example workshop in a real browser.

    python docs/make_pages.py

Needs Chromium, as the tests of the page do.
"""

from __future__ import annotations

import io
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[1]
EXAMPLES = ROOT / "examples" / "workshop"
SHOTS = (
    # name, address, width, height, dark
    ("page-design", "/habitats/three-pot", 1440, 900, False),
    ("page-colony", "/colonies/Marigold", 1280, 860, False),
    ("page-visit", "/visit/Marigold", 390, 844, False),
    ("page-visit-night", "/visit/Marigold", 390, 844, True),
)


def run(*arguments: str) -> None:
    subprocess.run([sys.executable, "-m", "nestwright", *arguments], check=True, capture_output=True)


def workshop(folder: Path) -> None:
    """The examples as a workshop: designs, rooms, a colony with its record, readings."""
    at = ("--workshop", str(folder))
    run("workshop", "new", str(folder), "--zone", "Europe/Lisbon")
    for name in ("habitats", "rooms"):
        shutil.copytree(EXAMPLES / name, folder / name, dirs_exist_ok=True)
    run("colony", "add", "--file", str(EXAMPLES / "colonies" / "marigold.toml"), *at)
    run(
        "readings",
        "import",
        str(EXAMPLES / "colonies" / "marigold-logger.csv"),
        "--logger",
        "pot",
        "--zone",
        "UTC",
        *at,
    )


def main() -> None:
    browser_path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    with tempfile.TemporaryDirectory() as name, sync_playwright() as driver:
        folder = Path(name) / "bench-room"
        workshop(folder)
        command = [sys.executable, "-m", "nestwright", "serve", "--port", "0", "--workshop", str(folder)]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        address = process.stdout.readline().split()[-1]
        time.sleep(2)
        browser = driver.chromium.launch(executable_path=browser_path, args=["--no-sandbox"])
        for picture, place, width, height, night in SHOTS:
            context = browser.new_context(viewport={"width": width, "height": height}, reduced_motion="reduce")
            page = context.new_page()
            page.set_default_timeout(120_000)
            page.goto(address + place)
            if night:
                page.get_by_role("button", name="Night light").click()
            if place.startswith("/habitats"):
                page.wait_for_selector("#live table")  # on a new machine after the compiler
            page.wait_for_timeout(4000)
            shot = Image.open(io.BytesIO(page.screenshot())).convert("P", palette=Image.Palette.ADAPTIVE, colors=64)
            shot.save(ROOT / "docs" / "pictures" / f"{picture}.png", optimize=True)
            print(f"wrote docs/pictures/{picture}.png")
            context.close()
        browser.close()
        process.terminate()
        process.wait(30)


if __name__ == "__main__":
    main()
