"""The guide to the habitat file names every key, word, unit and range as the reader has them; its example is read."""

import re
from pathlib import Path
from typing import Any, get_args

import pytest

from nestwright.habitat.file import load_document, parse_habitat, set_value
from nestwright.habitat.form import TABLES, FaceForm, HabitatForm, LimitForm, Quantity
from nestwright.parts.ants import let_through
from nestwright.units import KINDS

GUIDE = Path(__file__).parents[2] / "docs" / "guide" / "habitat-file.md"
HEADINGS = {
    "The file as a whole": HabitatForm,
    "[chamber.side], [chamber.top], [chamber.base]": FaceForm,
    "[limits.garden] and other roles": LimitForm,
    **{f"[[{name}]]": form for name, form in TABLES.items()},
}


def rows(form: Any) -> list[str]:
    """The rows of the guide's table of one form."""
    made = []
    for name, info in form.model_fields.items():
        words = [o for o in get_args(info.annotation) if isinstance(o, str)] if name != "refill" else []
        kind = next((KINDS[x.kind] for x in info.metadata if isinstance(x, Quantity)), None)
        says = info.description + (f"; one of {', '.join(f'`{w}`' for w in words)}" if words else "")
        says += f" ({kind.name})" if kind else ""
        made.append(f"| `{info.alias or name}` | {'yes' if info.is_required() else 'no'} | {says} |")
    return made


def unit_rows() -> list[str]:
    """The rows of the guide's table of units."""
    return [f"| {k.name} | {', '.join(f'`{u}`' for u in k.units)} | {k.range} |" for k in KINDS.values()]


def _section(heading: str) -> str:
    return GUIDE.read_text().split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]


@pytest.mark.parametrize("heading", HEADINGS)
def test_every_key_stands_in_its_section(heading: str) -> None:
    told = [line for line in _section(heading).splitlines() if line.startswith("| `")]
    assert told == rows(HEADINGS[heading])


def test_every_unit_and_range_is_told() -> None:
    told = [line for line in _section("Values and their units").splitlines() if line.startswith("| ")][1:]
    assert told == unit_rows()


def test_the_example_in_the_guide_is_a_habitat() -> None:
    (text,) = re.findall(r"```toml\n(format.*?)```", GUIDE.read_text(), re.S)
    habitat = parse_habitat(load_document(text))
    assert habitat.gardens
    assert not let_through(habitat), "its ants get out"
    assert habitat.chambers[0].wall("base").touches == habitat.chambers[1].name


def test_the_keys_of_single_values_in_the_guide_exist_in_the_shipped_example() -> None:
    import tomllib

    doc = tomllib.loads((GUIDE.parents[2] / "examples/workshop/habitats/heated-bench.toml").read_text())
    keys = re.findall(r"^\| `([^`]+)` \| ([^|]+) \|", _section("Single values by name"), re.M)
    assert len(keys) > 5
    for key, value in keys:
        set_value(doc, key, value.strip().strip("`"))
