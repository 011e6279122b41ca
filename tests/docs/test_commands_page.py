"""docs/guide/commands.md is the program's own help; the commands in the documents exist."""

import importlib.util
import re
import shlex
from pathlib import Path

import pytest

from nestwright.cli.main import COMMANDS, load

ROOT = Path(__file__).parents[2]
# what is shown how to add does not exist yet: test_adding runs that page
PAGES = [ROOT / "README.md", *(p for p in sorted((ROOT / "docs").rglob("*.md")) if p.name != "adding.md")]


@pytest.mark.parametrize(("maker", "page"), [("make_commands", "guide/commands.md"), ("make_api", "api.md")])
def test_the_page_is_up_to_date(maker, page):
    spec = importlib.util.spec_from_file_location(maker, ROOT / f"docs/{maker}.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    assert (ROOT / "docs" / page).read_text() == made.page(), "run `make docs`"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_on_the_page(name):
    text = (ROOT / "docs/guide/commands.md").read_text()
    section = text.split(f"\n## {name}\n")[1].split("\n## ")[0]
    command = load(name)
    for part, one in getattr(command, "commands", {"": command}).items():
        mine = section.split(f"\n### {name} {part}\n")[1].split("\n### ")[0] if part else section
        for option in one.params:
            for flag in option.opts:
                assert flag in mine or flag.upper() in mine


def lines():
    for page in PAGES:
        for block in re.findall(r"```sh\n(.*?)```", page.read_text(), re.DOTALL):
            for line in block.splitlines():
                if line.strip():
                    yield pytest.param(line, id=f"{page.name}: {line[:50]}")


@pytest.mark.parametrize("line", list(lines()))
def test_commands_in_the_documents_exist(line):
    words = shlex.split(line, comments=True)
    if words[0] == "make":
        assert re.search(rf"^{words[1]}:", (ROOT / "Makefile").read_text(), re.MULTILINE)
        return
    assert words[0] == "nestwright"
    if words[1] == "--help":
        return
    command = load(words[1])
    if hasattr(command, "commands"):
        command = command.commands[words[2]]
    flags = {flag for option in command.params for flag in (*option.opts, *option.secondary_opts)}
    assert {word for word in words[2:] if word.startswith("--")} <= flags
    for word in words[2:]:
        if word.endswith(".toml"):
            assert (ROOT / "examples/workshop" / word).exists(), word


def test_links_between_pages_lead_somewhere():
    for page in [*PAGES, ROOT / "CONTRIBUTING.md"]:
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", page.read_text()):
            if "://" not in target:
                assert (page.parent / target).exists(), f"{page.name}: {target}"


@pytest.mark.parametrize("index", ["README.md", "docs/guide/index.md", "docs/how-it-computes/index.md"])
def test_every_page_is_in_the_index_of_its_folder(index):
    index = ROOT / index
    folder = ROOT / "docs" if index.name == "README.md" else index.parent
    named = {(index.parent / target).resolve() for target in re.findall(r"\]\(([^)#]+)", index.read_text())}
    assert not {page.name for page in folder.glob("*.md") if page != index and page.resolve() not in named}
