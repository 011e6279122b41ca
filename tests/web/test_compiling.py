"""The first opening of a design on a new machine: the page is there at once and says what it waits for.

The compiler itself is not run: the first solution is held until the test lets it go.
"""

from __future__ import annotations

import os
import shutil
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from nestwright.web.app import create_app
from nestwright.web.jobs import Jobs
from nestwright.web.pages import habitats
from nestwright.workshop.folder import create_workshop

from .conftest import EXAMPLES

SAYS = "The equations are being compiled for this machine, once: about a minute."


@pytest.fixture
def let_go() -> threading.Event:
    return threading.Event()


@pytest.fixture
def fresh(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, let_go: threading.Event, until: Any) -> Iterator[str]:
    """A page on a machine that has compiled nothing, its first solution held."""
    shop = create_workshop(tmp_path / "bench-room", "UTC")
    shutil.copy(EXAMPLES / "habitats" / "single-pot.toml", shop.folder / "habitats")
    monkeypatch.setattr("nestwright.web.compiling.is_compiled", lambda function: False)
    monkeypatch.setattr("nestwright.web.compiling._elsewhere", lambda solve, text: None)
    monkeypatch.setattr(habitats, "_both", lambda text: let_go.wait(60))
    server = uvicorn.Server(
        uvicorn.Config(create_app(shop), port=0, lifespan="off", log_config=None, log_level="critical")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    until(lambda: server.started)
    yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    let_go.set()
    server.should_exit = True
    thread.join(10)


def test_a_design_opens_at_once_and_fills_in_when_the_compiler_is_done(
    bench: Any, fresh: str, let_go: threading.Event, until: Callable[[Callable[[], bool]], None]
) -> None:
    asked: list[str] = []

    def answer(route: Any) -> None:
        # what stands in for the solution; asked for before its time it would wait for the compiler
        asked.append(route.request.url.rpartition("/")[2])
        route.fulfill(status=422, json={"error": "held", "faults": [{"text": "solved now"}]})

    bench.route("**/api/habitats/*", answer)
    bench.goto(f"{fresh}/habitats/single-pot")
    said = bench.locator("#compiling")
    assert SAYS in said.inner_text()
    assert "[[chamber]]" in bench.locator("#text").input_value()
    before = float(said.locator("progress").get_attribute("value") or 0)
    until(lambda: bench.locator("#compiling progress").evaluate("bar => bar.value") > before)
    # work goes on meanwhile, and is not lost when the climate comes
    text = bench.locator("#text")
    text.fill("# mine\n" + text.input_value())
    bench.wait_for_timeout(400)
    assert asked == []
    let_go.set()
    bench.get_by_text("solved now").wait_for()
    assert "live" in asked
    assert bench.locator("#compiling").count() == 0
    assert text.input_value().startswith("# mine")
    bench.goto("about:blank")


def test_two_designs_side_by_side_wait_on_the_page_of_the_work(fresh: str, bench: Any) -> None:
    bench.goto(f"{fresh}/compare?a=single-pot&b=single-pot")
    assert bench.get_by_role("progressbar").count() == 1
    assert "compiled" in bench.locator("#job").inner_text()


def test_a_first_solution_that_fails_is_begun_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    from nestwright.web.compiling import compiling

    monkeypatch.setattr("nestwright.web.compiling.is_compiled", lambda function: False)
    monkeypatch.setattr("nestwright.web.compiling._elsewhere", lambda solve, text: None)
    jobs, tries = Jobs(), []

    def fails(text: str) -> None:
        tries.append(text)
        raise ValueError("no solution")

    assert compiling(jobs, "/", fails, "one") is None
    assert compiling(jobs, "/", tries.append, "two") is None
    assert compiling(jobs, "/", tries.append, "three") is None  # ready by now
    assert tries == ["one", "two"]


def _marked(text: str) -> None:
    Path(text).write_text(str(os.getpid()))
    raise ValueError("said by nobody")


def test_the_first_solution_is_worked_out_in_another_process(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    from nestwright.web.compiling import _elsewhere

    _elsewhere(_marked, str(tmp_path / "mark"))
    assert int((tmp_path / "mark").read_text()) != os.getpid()
    assert capfd.readouterr().err == ""


def test_a_design_with_a_fault_is_told_at_once_and_compiles_nothing(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    from fastapi.testclient import TestClient

    shop = create_workshop(tmp_path / "bench-room", "UTC")
    text = (EXAMPLES / "habitats" / "single-pot.toml").read_text()
    (shop.folder / "habitats" / "odd.toml").write_text(text.replace('diameter = "5 mm"', 'diameter = "5 mn"'))
    monkeypatch.setattr("nestwright.web.compiling.is_compiled", lambda function: False)
    app = create_app(shop)
    with TestClient(app, base_url="http://127.0.0.1") as page:
        answer = page.get("/compare?a=odd&b=odd")
    assert answer.status_code == 422
    assert "5 mn" in answer.text
    assert app.state.jobs.last("equations") is None
