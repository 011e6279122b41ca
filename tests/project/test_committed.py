"""What is committed names no machine: no absolute path, no registry host; and the locks match the project."""

import re
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def committed():
    try:
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("not a checkout")
    for name in filter(None, listed.split("\0")):
        path = ROOT / name
        if path.is_file() and b"\0" not in path.read_bytes()[:4000] and path != Path(__file__):
            yield name, path.read_text(errors="replace")


HOSTS = re.compile(r"pypi\.|pythonhosted|npmjs|--(?:extra-)?index-url|--find-links|deb\.debian", re.IGNORECASE)
PLACES = re.compile(r"(?<![\w./])/(?:work|home|root|Users|opt)/\w|(?<![\w./])/tmp/\w")


@pytest.mark.parametrize("pattern", [HOSTS, PLACES], ids=["registry hosts", "absolute paths"])
def test_nothing_of_a_machine_is_committed(pattern):
    found = [f"{name}: {hit.group()}" for name, text in committed() for hit in pattern.finditer(text)]
    assert not found


def names(requirements):
    return {re.match(r"[\w.-]+", line).group().lower().replace("_", "-") for line in requirements}


def extras(project):
    """What the extras bring, but for the one that names the others."""
    return [
        line for name, lines in project["project"]["optional-dependencies"].items() if name != "all" for line in lines
    ]


def test_the_extra_of_all_names_each():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    optional = project["project"]["optional-dependencies"]
    (line,) = optional["all"]
    assert set(re.search(r"\[(.*)\]", line).group(1).split(",")) == set(optional) - {"all"}


@pytest.mark.parametrize(
    ("lock", "groups"), [("requirements.lock", ("build",)), ("requirements-dev.lock", ("build", "dev"))]
)
def test_the_lock_holds_every_requirement_with_hashes(lock, groups):
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    wanted = names([*project["project"]["dependencies"], *extras(project)])
    for group in groups:
        wanted |= names(project["dependency-groups"][group])
    text = (ROOT / lock).read_text()
    pinned = re.findall(r"^([\w.-]+)==(\S+)", text, re.MULTILINE)
    assert wanted <= {name.lower() for name, _ in pinned}, "run `make lock`"
    for block in re.split(r"\n(?=\S)", text):
        if "==" in block:
            assert "--hash=sha256:" in block


def test_both_locks_agree():
    pins = [
        dict(re.findall(r"^([\w.-]+)==(\S+)", (ROOT / name).read_text(), re.MULTILINE))
        for name in ("requirements.lock", "requirements-dev.lock")
    ]
    assert {name: pins[1].get(name) for name in pins[0]} == pins[0]


def test_every_dependency_stands_in_the_decisions():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())
    text = (ROOT / "docs/decisions.md").read_text().lower()
    groups = project["dependency-groups"]
    needed = [*project["project"]["dependencies"], *extras(project)]
    for name in names([*needed, *groups["dev"], *groups["build"]]):
        assert name in text, name


# About 400 lines are the rule. Longer ones, each with the reason and a length that it may not outgrow.
LONGER = {
    "kernel.py": 700,  # one compiled routine and its exact Jacobian, read side by side
    "assemble.py": 600,  # the one walk from a design to its network
    "build.py": 450,  # one function a table of the habitat file
}


def test_modules_stay_short():
    lengths = {p.name: len(p.read_text().splitlines()) for p in (ROOT / "src").rglob("*.py")}
    assert not {name: lines for name, lines in lengths.items() if lines > LONGER.get(name, 440)}


def test_changelog_headings_are_the_fixed_ones():
    text = (ROOT / "CHANGELOG.md").read_text()
    assert "## Unreleased" in text
    assert set(re.findall(r"^### (.*)$", text, re.MULTILINE)) <= {"Added", "Changed", "Fixed", "Removed"}
