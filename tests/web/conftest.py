"""A workshop of our own, its page served by a process of its own, and a real browser."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import pytest

from forked import Forked
from nestwright.cli import main

EXAMPLES = Path(__file__).parents[2] / "examples" / "workshop"
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
PATIENCE = 90
"""Seconds until what does not come is a fault: the machine of a test may be busy."""


def run(*arguments: str) -> None:
    """A command of the program."""
    with pytest.raises(SystemExit) as left:
        main.run([*arguments])
    assert not left.value.code, arguments


@pytest.fixture(scope="session")
def example_workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workshop with the examples' habitats, rooms, two colonies, two builds and a month of readings; not to be
    changed: `workshop` is a copy of it."""
    folder = tmp_path_factory.mktemp("page") / "bench-room"
    run("workshop", "new", str(folder), "--zone", "Europe/Lisbon")
    for name in ("habitats", "rooms"):
        shutil.copytree(EXAMPLES / name, folder / name, dirs_exist_ok=True)
    for name in ("marigold", "hollyhock"):
        run("colony", "add", "--file", str(EXAMPLES / "colonies" / f"{name}.toml"), "--workshop", str(folder))
    for serial, habitat in (("P-001", "single-pot"), ("T-001", "three-pot")):
        run("build", "add", serial, "--habitat", f"habitats/{habitat}.toml", "--workshop", str(folder))
    readings = EXAMPLES / "colonies" / "marigold-logger.csv"
    # compiles what the designer solves with, where no test did so before
    run("climate", str(folder / "habitats" / "single-pot.toml"), "--room", "21 degC, 45 %")
    run("readings", "import", str(readings), "--logger", "pot", "--zone", "UTC", "--workshop", str(folder))
    return folder


@pytest.fixture
def workshop(example_workshop: Path, tmp_path: Path) -> Path:
    """A workshop that a test may change."""
    made = tmp_path / "bench-room"
    shutil.copytree(example_workshop, made)
    return made


@pytest.fixture(scope="session")
def until() -> Callable[[Callable[[], bool]], None]:
    """Wait until something holds; the page's own rules forbid the browser to be asked with a script of words."""

    def wait(holds: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if holds():
                return
            time.sleep(0.05)
        raise AssertionError(f"did not come to hold within {PATIENCE} s")

    return wait


RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")


@pytest.fixture(scope="session")
def unmet() -> Callable[[Any], list[str]]:
    """What a page that is shown does not meet: wider than its screen, or a rule of WCAG 2.2, A or AA, by axe-core."""
    axe = (Path(__file__).parent / "vendor" / "axe.min.js").read_text("utf-8")

    def seen(page: Any, rules: Sequence[str] = RULES) -> list[str]:
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if page.evaluate("typeof axe") == "undefined":
            page.evaluate(axe)
        # what is met is not brought over: that takes longer than to find it out
        broken = page.evaluate(
            "rules => axe.run(document, {runOnly: rules, resultTypes: ['violations']})"
            ".then((told) => told.violations.map((one) => `${one.id} ${one.nodes[0].html.slice(0, 120)}`))",
            rules,
        )
        return [*([f"{wide} px wider than the screen"] if wide > 1 else []), *broken]

    return seen


def opened(page: Any, address: str) -> Any:
    """The answer to a page that is opened. One before it that waited for its work goes on by itself once that is done,
    which may cut the first try off."""
    from playwright.sync_api import Error

    try:
        return page.goto(address)
    except Error as error:
        if "ERR_ABORTED" not in str(error) and "interrupted by another navigation" not in str(error):
            raise
        return page.goto(address)


def answers(address: str) -> bool:
    """Whether a page is served there."""
    try:
        urlopen(f"{address}/history", timeout=5).close()
    except OSError:
        return False
    return True


def serve(folder: Path, *more: str, anew: bool = False) -> tuple[Forked | subprocess.Popen[str], str]:
    """The page of a workshop in a process of its own, and its address, once it answers; `anew` starts the command
    itself, which takes a second."""
    port = () if "--port" in more else ("--port", "0")
    command = ("serve", *port, "--workshop", str(folder), *more)
    process: Any = (
        subprocess.Popen([sys.executable, "-m", "nestwright", *command], stdout=subprocess.PIPE, text=True)
        if anew
        else Forked(*command)
    )
    if said := process.stdout.readline():
        address = said.split()[-1]
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if answers(address):
                return process, address
            time.sleep(0.02)
    process.kill()
    raise AssertionError("the server does not answer")


@contextmanager
def serving(folder: Path) -> Iterator[str]:
    """Address of the page of a workshop, which ends afterwards."""
    process, address = serve(folder)
    try:
        yield address
    finally:
        process.terminate()
        process.wait(PATIENCE)


@pytest.fixture(scope="session")
def pages(example_workshop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Address of a page that tests read and do not write to."""
    folder = tmp_path_factory.mktemp("pages") / "bench-room"
    shutil.copytree(example_workshop, folder)
    with serving(folder) as address:
        yield address


@pytest.fixture
def served(workshop: Path) -> Iterator[str]:
    """Address of the page of `workshop`."""
    with serving(workshop) as address:
        yield address


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A real Chromium."""
    from playwright.sync_api import sync_playwright

    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    with sync_playwright() as play:
        # without a system browser the one that `make test` has had brought
        yield (made := play.chromium.launch(executable_path=found, args=["--no-sandbox", "--disable-gpu"]))
        made.close()


PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


@pytest.fixture
def phone(browser: Any) -> Iterator[Any]:
    """A page on a phone-sized screen; a fault of a script fails the test."""
    yield from _page(browser, PHONE)


@pytest.fixture
def bench(browser: Any) -> Iterator[Any]:
    """A page on a bench's screen; a fault of a script fails the test."""
    yield from _page(browser, {"viewport": {"width": 1440, "height": 900}})


def _whole(page: Any, act: Callable[..., Any]) -> Callable[..., Any]:
    """An act that is over when the page that it leads to, or that came meanwhile, is there as a whole."""

    def acted(*what: Any, **how: Any) -> Any:
        got = act(*what, **how)
        page.wait_for_load_state("domcontentloaded")
        return got

    return acted


def _page(browser: Any, kind: dict[str, Any]) -> Iterator[Any]:
    context = browser.new_context(**kind)
    made = context.new_page()
    made.set_default_timeout(1000 * PATIENCE)
    for name in ("click", "wait_for_selector"):
        setattr(made, name, _whole(made, getattr(made, name)))
    faults: list[str] = []
    made.on("pageerror", lambda error: faults.append(str(error)))
    made.on("console", lambda said: faults.append(said.text) if "Content Security Policy" in said.text else None)
    yield made
    context.close()
    assert not faults, faults


WORK = """async () => {
    const bar = document.querySelector("[hx-get^='/jobs/']");
    return bar && (await fetch(bar.getAttribute("hx-get"), { headers: { accept: "application/json" } })).text();
}"""


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: Any) -> Any:
    """What a page showed as its test failed, and how far the work was that it waited for, stand in the report."""
    report = yield
    for name in ("bench", "phone"):
        page = getattr(item, "funcargs", {}).get(name)
        if report.when == "call" and report.failed and page is not None:
            try:
                told = f"{page.url}\n{page.inner_text('main', timeout=2000)[:1500]}\n{page.evaluate(WORK)}"
            except Exception as error:
                told = f"cannot be asked: {error}"
            report.sections.append((name, told))
    return report
