"""The guide to the colony file names every key, word, event and column as the reader has them; its examples run."""

import json
import re
import tomllib
from pathlib import Path
from typing import Any, get_args

import jsonschema
import pytest

from nestwright.colony.file import colony_from_dict, colony_schema, colony_schema_text
from nestwright.colony.form import EVENTS, TABLES, ColonyForm, Read
from nestwright.colony.occurrences import MEASURES
from nestwright.colony.visits_csv import COLUMNS

DOCS = Path(__file__).parents[2] / "docs"
GUIDE = DOCS / "guide" / "colony-file.md"
TOLD = {"mL": '`"20 mL"`', "share": '`"30 %"`', "count": "`25`", "g": '`"3 g"`', "cm2": '`"40 cm2"`', "": "none"}
HEADINGS = {
    "The file as a whole": ColonyForm,
    **{f"[[{n}]]" if n in ("bell", "visit", "event") else f"[{n}]": form for n, form in TABLES.items()},
}


def rows(form: Any) -> list[str]:
    """The rows of the guide's table of one form."""
    made = []
    for name, info in form.model_fields.items():
        words = [o for o in get_args(info.annotation) if isinstance(o, str)] if name != "what" else []
        kind = next((x.tells for x in info.metadata if isinstance(x, Read)), None)
        says = info.description + (f"; one of {', '.join(f'`{w}`' for w in words)}" if words else "")
        says += f" ({kind})" if kind else ""
        made.append(f"| `{info.alias or name}` | {'yes' if info.is_required() else 'no'} | {says} |")
    return made


def event_rows() -> list[str]:
    """The rows of the guide's table of events."""
    return [f"| `{what}` | {' or '.join(TOLD[m] for m in measures)} |" for what, measures in MEASURES.items()]


def column_rows() -> list[str]:
    """The rows of the guide's table of columns."""
    return [f"| `{name}` | {says} |" for name, says in COLUMNS.items()]


def _tables(heading: str) -> list[str]:
    section = GUIDE.read_text().split(f"## {heading}\n", 1)[1].split("\n## ", 1)[0]
    return [line for line in section.splitlines() if line.startswith("| `")]


@pytest.mark.parametrize("heading", [h for h in HEADINGS if h != "[[event]]"])
def test_every_key_stands_in_its_section(heading: str) -> None:
    assert _tables(heading) == rows(HEADINGS[heading])


def test_every_event_is_told() -> None:
    assert set(MEASURES) == set(EVENTS)
    assert _tables("[[event]]") == rows(TABLES["event"]) + event_rows()


def test_every_column_is_told() -> None:
    assert _tables("A table of visits") == column_rows()


def _example(language: str) -> str:
    (text,) = re.findall(rf"```{language}\n(.*?)```", GUIDE.read_text(), re.S)
    return str(text)


def test_the_example_in_the_guide_is_a_colony() -> None:
    found = colony_from_dict(tomllib.loads(_example("toml")))
    assert {o.kind for o in found.observations} == {
        *("garden", "workers", "eggs", "larvae", "pupae", "waste", "leaves_taken"),
    }
    (fill,) = [o for o in found.observations if o.how == "fill"]
    assert fill.value == pytest.approx(0.8 * 60)


def test_the_band_of_the_guide_is_as_told() -> None:
    doc = tomllib.loads(_example("toml"))
    doc["visit"] = [{"date": doc["start"], "workers": "50 to 80"}]
    (seen,) = colony_from_dict(doc).observations
    assert (f"{seen.value:.0f}", f"{100 * seen.error:.0f}") == ("63", "14")


def test_the_table_in_the_guide_is_read() -> None:
    doc = tomllib.loads(_example("toml")) | {"visits": _example("csv"), "visit": []}
    found = colony_from_dict(doc)
    assert [o.day for o in found.observations if o.kind == "garden"] == [7.0, 18.0]
    assert any(e.kind == "garden_added" for e in found.events)


def test_the_schema_takes_the_example_and_refuses_what_the_reader_refuses() -> None:
    jsonschema.Draft202012Validator.check_schema(colony_schema())
    validator = jsonschema.Draft202012Validator(colony_schema())
    doc = json.loads(json.dumps(tomllib.loads(_example("toml")), default=str))
    assert [e.message for e in validator.iter_errors(doc)] == []
    for key, value in (("garden", "30 mm"), ("workers", "many"), ("seen", ["egs"]), ("gardn", "3 mL")):
        assert list(validator.iter_errors(doc | {"visit": [{"date": "2025-11-10", key: value}]}))


def test_the_published_schema_is_the_made_one() -> None:
    assert (DOCS / "schema" / "colony.schema.json").read_text() == colony_schema_text()
    assert "null" not in colony_schema_text()
