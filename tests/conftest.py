"""What all tests share."""

import os
import subprocess
import sys
from pathlib import Path
from threading import Thread
from time import sleep

import pytest
from hypothesis import settings

# how long one example takes tells of the machine, not of the program
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")

# What tests of several folders build on lies here.
sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(autouse=True)
def no_width(monkeypatch):
    """Output is as wide as into a pipe, whatever the terminal that the tests are started from."""
    monkeypatch.delenv("COLUMNS", raising=False)


@pytest.fixture
def held_to_grammar(monkeypatch):
    """Each picture that is drawn is held against the grammar of Vega-Lite, which the program itself leaves out."""
    from nestwright.charts import render
    from nestwright.charts import save as saving

    draw, held = render.to_svg, []

    def drawn(chart):
        if not isinstance(chart, str):
            chart.to_dict(validate=True)
            held.append(chart)
        return draw(chart)

    for where in (render, saving):
        monkeypatch.setattr(where, "to_svg", drawn)
    yield
    assert held


def pytest_sessionstart(session: pytest.Session) -> None:
    """All is compiled once, on two cores, while the workers gather their tests: not by every worker anew. What parcels
    share with the air is compiled by the time the colony is."""
    several = (getattr(session.config.option, "numprocesses", None) or 0) > 1
    if not several or hasattr(session.config, "workerinput"):
        return
    from nestwright.compiled import keep_compiled

    keep_compiled()
    kept = Path(os.environ["NUMBA_CACHE_DIR"])
    waited_for = kept.with_suffix(".going")
    waited_for.unlink(missing_ok=True)
    if any(kept.rglob("*.nbc")):
        return
    command = (sys.executable, str(Path(__file__).with_name("compiling.py")))
    both = [subprocess.Popen([*command, *parts]) for parts in (("air",), ("colony", "parcel"))]
    waited_for.parent.mkdir(parents=True, exist_ok=True)
    waited_for.touch()

    def wait() -> None:
        # a heart that does not compile fails the tests that need it, with what is wrong
        for one in both:
            one.wait()
        waited_for.unlink()

    Thread(target=wait).start()


@pytest.fixture(autouse=True, scope="session")
def compiled():
    """No test runs before the hearts are compiled."""
    where = os.environ.get("NUMBA_CACHE_DIR")
    while where and Path(where).with_suffix(".going").exists():
        sleep(0.2)
