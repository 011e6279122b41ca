"""How every page looks and whether everyone can use it: each place at three sizes, in three lights, and printed.

    python studies/page_looks.py FOLDER OUT [LANGUAGE]

Serves a copy of the workshop FOLDER, begins the long work of it and waits for it, then opens each page in Chromium and
notes: rules of WCAG 2.2 A and AA that axe-core finds broken, what is wider than the screen, requests to another host,
faults of scripts, and kilobytes of script. Pictures go to OUT, one a page, size and light; with the first light of each
size also the page as it prints, as PDF. The last lines count what was found; exit code 1 when anything was.
"""

import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path
from urllib.parse import quote

from playwright.sync_api import Page, sync_playwright

AXE = (Path(__file__).parents[1] / "tests/web/vendor/axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
SIZES = ((390, 844), (820, 1180), (1440, 900))
LIGHTS = ("light", "dark", "night")
ALWAYS = ("/", "/alarms", "/builds", "/history", "/search?q=garden", "/settings", "/pair", "/colonies",
          "/parcels", "/colonies/-new", "/visit", "/habitats", "/sensors", "/import", "/sales", "/parcels/files",
          "/nowhere")  # fmt: skip
CHART = re.compile(r"/vega")
MOST_SCRIPT = 300_000


def places(folder: Path) -> list[str]:
    """The addresses of every kind of page, for what the workshop has."""
    found = list(ALWAYS)
    with sqlite3.connect(folder / "workshop.db") as record:
        names = {
            what: [str(row[0]) for row in record.execute(f"select {column} from {what} order by 1")]
            for what, column in (("colony", "name"), ("build", "serial"), ("parcel", "id"), ("logger", "name"))
        }
    for name in names["colony"][:2]:
        at = f"/colonies/{quote(name, safe='')}"
        found += [at, f"/visit/{quote(name, safe='')}"]
        found += [f"{at}/{kind}" for kind in ("photos", "family", "forecast", "plan", "diagnosis")]
    found += [f"/builds/{quote(one, safe='')}" for one in names["build"][:1]]
    found += [f"/climate/build/{quote(one, safe='')}" for one in names["build"][:1]]
    found += [f"/parcels/{one}" for one in names["parcel"][:2]]
    for one in [name for name in names["logger"] if name][:1]:
        at = quote(one, safe="")
        found += [f"/sensors/{at}", f"/sensors/{at}/calibrate?channel=humidity"]
        found.append(f"/series?channel={at}.humidity&channel={at}.temperature")
    stems = sorted(one.stem for one in (folder / "habitats").glob("*.toml"))
    found += [f"/habitats/{one}" for one in stems[:2]] + [f"/habitats/{one}/parts" for one in stems[:1]]
    found += [f"/parcels/files/{one}" for one in sorted(one.stem for one in (folder / "parcels").glob("*.toml"))[:1]]
    rooms = sorted(one.name for one in (folder / "rooms").glob("*.toml"))
    found += [f"/climate/{one}?room={room}" for one in stems[:1] for room in rooms[:1]]
    return found + ([f"/compare?a={stems[0]}&b={stems[1]}"] if len(stems) > 1 else [])


def settled(page: Page, address: str, seconds: int = 240) -> int:
    """Open a page and wait for work that it waits for; its status."""
    answer = page.goto(address, timeout=90_000)
    for _ in range(seconds * 2):
        if page.locator("progress").count() == 0:
            break
        page.wait_for_timeout(500)
    # pictures further down are asked for as they come into sight
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    page.wait_for_load_state("networkidle", timeout=seconds * 1000)
    page.wait_for_function("[...document.images].every(one => one.complete)")
    page.evaluate("scrollTo(0, 0)")
    page.wait_for_timeout(300)  # what came last is drawn
    return answer.status if answer else 0


def looked_at(page: Page, place: str) -> list[str]:
    """What the page that is shown does not meet."""
    page.evaluate(AXE)
    result = page.evaluate("rules => axe.run(document, {runOnly: rules})", RULES)
    wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    found = [f"{place}: {one['id']} {one['nodes'][0]['html'][:140]}" for one in result["violations"]]
    return found + ([f"{place}: {wide} px wider than the screen"] if wide > 1 else [])


def named(place: str) -> str:
    """A file's name for a place."""
    return re.sub(r"[^a-zA-Z0-9]+", "-", place).strip("-") or "today"


def main() -> None:
    """See the module."""
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    language = sys.argv[3] if len(sys.argv) > 3 else "en"
    out.mkdir(parents=True, exist_ok=True)
    found: list[str] = []
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / folder.name
        shutil.copytree(folder, copy)
        serving = subprocess.Popen(
            [sys.executable, "-m", "nestwright", "serve", "--port", "0", "--workshop", str(copy)],
            stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert serving.stdout is not None
        address = serving.stdout.readline().split()[-1]
        try:
            found = look(address, places(copy), out, language)
        finally:
            serving.terminate()
            serving.wait(10)
    print("\n".join(found))
    print(f"{len(found)} findings")
    sys.exit(1 if found else 0)


def look(address: str, all_of: list[str], out: Path, language: str) -> list[str]:
    """Every place in every size and light; what was found."""
    found: list[str] = []
    script: dict[str, dict[str, int]] = {}
    browser_at = shutil.which("chromium") or shutil.which("google-chrome")
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=browser_at, args=["--no-sandbox", "--disable-gpu"])
        for width, height in SIZES:
            for light in LIGHTS:
                context = browser.new_context(
                    viewport={"width": width, "height": height}, bypass_csp=True, reduced_motion="reduce"
                )
                shown = {"name": "nw-shown", "value": f"{language}.degC.metric.{light}", "url": address}
                context.add_cookies([shown])
                page = context.new_page()
                watched(page, address, found)
                for place in all_of:
                    status = settled(page, address + place)
                    if status != (404 if place == "/nowhere" else 200):
                        found.append(f"{place}: status {status}")
                    mark = f"{width} {light} {place}"
                    found += looked_at(page, mark)
                    page.screenshot(path=out / f"{named(place)}-{width}-{light}.png", full_page=True)
                    if light == LIGHTS[0] and width == SIZES[-1][0]:
                        page.pdf(path=out / f"{named(place)}.pdf", format="A4")
                        script[place] = weighed(page)
                context.close()
        browser.close()
    for place, files in script.items():
        weight = sum(size for name, size in files.items() if not CHART.search(name))
        print(f"{weight / 1000:6.0f} kB of script besides the chart library: {place}")
        if weight >= MOST_SCRIPT:
            found.append(f"{place}: {weight} bytes of script")
    return found


def watched(page: Page, address: str, found: list[str]) -> None:
    """Notes faults of scripts and requests to another host."""
    page.on("pageerror", lambda error: found.append(f"{page.url}: script: {error}"))

    def asked(url: str) -> None:
        if not url.startswith((address, "blob:", "data:")):
            found.append(f"{page.url}: asks {url}")

    page.on("request", lambda one: asked(one.url))


SCRIPTS = """async () => {
    // a page that asks much forgets what it asked first: its own tags name that
    const asked = performance.getEntriesByType("resource").map((one) => one.name);
    const tags = [...document.scripts].map((one) => one.src);
    const all = [...new Set([...asked, ...tags])].filter((one) => one.split("?")[0].endsWith(".js"));
    return Promise.all(all.map(async (one) => [one, (await (await fetch(one)).arrayBuffer()).byteLength]));
}"""


def weighed(page: Page) -> dict[str, int]:
    """Bytes of each script of a page, unpacked."""
    return {str(name): int(size) for name, size in page.evaluate(SCRIPTS)}


if __name__ == "__main__":
    main()
