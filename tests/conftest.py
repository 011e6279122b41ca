"""What all tests share."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import settings

# how long one example takes tells of the machine, not of the program
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")


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
    """Before several workers start, both hearts are compiled once, side by side, and not by every worker for itself."""
    several = (getattr(session.config.option, "numprocesses", None) or 0) > 1
    if not several or hasattr(session.config, "workerinput"):
        return
    from nestwright.compiled import keep_compiled

    keep_compiled()
    if any(Path(os.environ["NUMBA_CACHE_DIR"]).rglob("*.nbc")):
        return
    command = (sys.executable, str(Path(__file__).with_name("compiling.py")))
    both = [subprocess.Popen([*command, heart]) for heart in ("air", "colony")]
    # a heart that does not compile fails the tests that need it, with what is wrong
    for one in both:
        one.wait()
