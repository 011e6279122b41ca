"""docs/adding.md is run as it stands, in a copy of the checkout."""

import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "adding.md").read_text()
TASKS = re.findall(r"^## (.*?)\n(.*?)(?=^## |\Z)", PAGE, re.MULTILINE | re.DOTALL)


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    place = tmp_path_factory.mktemp("copy")
    for part in ("src", "docs", "examples"):
        shutil.copytree(ROOT / part, place / part, ignore=shutil.ignore_patterns("pictures", "__pycache__"))
    return place


def held_by(copy, task):
    """What must be there once a task was done."""
    inside = copy / "src" / "nestwright"
    match task:
        case "A species":
            text = (inside / "data/species/acromyrmex_landolti.toml").read_text()
            card = tomllib.loads(text)
            # what was found in another species is a judgement of this one
            marks = re.findall(r'^mark = "(\w+)"', text, re.MULTILINE)
            assert (marks.count("published"), {*marks}) == (2, {"published", "judgement"})
            return card["name"] == "Acromyrmex landolti" and "Forel" in card["names"]["scientific"]
        case "A material":
            return "bamboo board" in (copy / "bamboo.toml").read_text()
        case "A way of making":
            return "currency" in json.loads((copy / "jet.json").read_text())
        case "A chart":
            return "Acromyrmex echinatior" in (copy / "cards.svg").read_text()
        case "A language":
            text = (inside / "web/languages/nl/page.po").read_text()
            return '"Language: nl' in text and text.count("\nmsgid ") > 500
    return False


@pytest.mark.parametrize(("task", "text"), TASKS, ids=[task for task, _ in TASKS])
def test_the_commands_of_the_page_do_it(copy, task, text):
    (block,) = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    at_hand = {
        "PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}",
        "PYTHONPATH": str(copy / "src"),
    }
    # one after the other, and none may fail
    done = subprocess.run(
        ["bash", "-euo", "pipefail", "-c", block], cwd=copy, env=os.environ | at_hand, capture_output=True, text=True,
        timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    assert held_by(copy, task)
