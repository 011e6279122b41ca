"""Long work says how far it is: a bar on a terminal, plain lines elsewhere, and nothing for short work."""

import io
import json
import os
import pty
import subprocess
import sys

import pytest

from nestwright.cli.progress import FIRST_LINE, LINE_EVERY, PlainProgress, progress_bar


class Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


def told(steps: list[tuple[float, float]], total: float | None = 1.0) -> list[str]:
    """Lines written by work that is `share` done `second` seconds after it began."""
    clock, written = Clock(), []
    with PlainProgress(written.append, clock) as shown:
        task = shown.add_task("fitting the record", total=total)
        for second, share in steps:
            clock.now = 100.0 + second
            shown.update(task, completed=share)
    return written


def test_short_work_says_nothing():
    assert told([(0.0, 0.0), (1.0, 0.4), (FIRST_LINE - 0.1, 0.9), (FIRST_LINE - 0.1, 1.0)]) == []


def test_long_work_says_its_share_at_most_every_ten_seconds():
    lines = told([(second, second / 40) for second in range(41)])
    assert lines == [f"fitting the record: {share} %\n" for share in ("12", "38", "62", "88")]
    assert LINE_EVERY == 10


def test_work_that_has_ended_needs_no_line():
    assert told([(1.0, 0.2), (9.0, 1.0)]) == []


def test_work_without_a_known_end_gives_its_words_alone():
    clock, written = Clock(), []
    with PlainProgress(written.append, clock) as shown:
        task = shown.add_task("searching", total=None)
        for tried in range(1, 13):
            clock.now += 2.0
            shown.update(task, description=f"searching: {tried} choices tried")
    assert written == ["searching: 3 choices tried\n", "searching: 8 choices tried\n"]


@pytest.mark.parametrize("counted", [True, False])
def test_off_a_terminal_nothing_is_left_on_the_error_output(monkeypatch, counted):
    """A bar of the library leaves a blank line on an output that is no terminal."""
    seen = io.StringIO()
    monkeypatch.setattr(sys, "stderr", seen)
    with progress_bar(counted=counted) as shown:
        task = shown.add_task("running", total=1.0 if counted else None)
        shown.update(task, completed=1.0)
    assert seen.getvalue() == ""


WORK = """
from nestwright.cli.progress import progress_bar
with progress_bar({quiet}) as bar:
    task = bar.add_task("running the year", total=1.0)
    bar.update(task, completed=0.5)
print("{{}}")
"""


def on_a_terminal(quiet: bool) -> tuple[str, str]:
    """Standard output, and what a terminal at the error output was sent."""
    ours, theirs = pty.openpty()
    command = [sys.executable, "-c", WORK.format(quiet=quiet)]
    env = {**os.environ, "TERM": "xterm", "COLUMNS": "80"}
    made = subprocess.run(command, stdout=subprocess.PIPE, stderr=theirs, env=env, check=True)
    os.close(theirs)
    sent = b""
    while True:
        try:
            part = os.read(ours, 65536)
        except OSError:  # the end of a terminal
            break
        if not part:
            break
        sent += part
    os.close(ours)
    return made.stdout.decode(), sent.decode()


def test_a_terminal_sees_a_bar_that_is_wiped_at_the_end():
    out, sent = on_a_terminal(quiet=False)
    assert json.loads(out) == {}
    assert "running the year" in sent
    assert "\u2501" in sent
    erase, up = "\x1b[2K", "\x1b[1A"
    assert up in sent
    assert sent.rstrip().endswith(erase)  # the line of the bar, and no blank one, is left


def test_a_terminal_sees_no_bar_beside_json():
    out, sent = on_a_terminal(quiet=True)
    assert json.loads(out) == {}
    assert "running" not in sent
    assert "\n" not in sent
