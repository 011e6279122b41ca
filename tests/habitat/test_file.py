"""The shipped examples are read whole, use every key of the file, and defaults are what the guide says."""

import tomllib
from pathlib import Path
from typing import Any, get_args

import pytest

from nestwright.errors import InputError
from nestwright.habitat.file import check_file, habitat_from_dict, load_document, parse_habitat, read_habitat
from nestwright.habitat.form import TABLES, FaceForm, HabitatForm, LimitForm
from nestwright.habitat.model import Layer

FOLDER = Path(__file__).parents[2] / "examples" / "workshop" / "habitats"
EXAMPLES = sorted(FOLDER.glob("*.toml"))
DESIGNS = sorted((Path(__file__).parent / "designs").glob("*.toml"))
"""Slots as a grid stop no ant, so that no example has them; these files do."""


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda p: p.stem)
def test_an_example_is_in_order(path: Path) -> None:
    assert [str(f) for f in check_file(path) if f.severity == "error"] == []
    habitat = read_habitat(path)
    assert habitat.gardens
    assert habitat.waters
    lines = path.read_text().splitlines()
    for chamber in habitat.chambers:
        assert lines[chamber.line - 1] == "[[chamber]]"
        assert [w.face for w in chamber.walls] == ["side", "top", "base"]
    for kind in ("bell", "grid", "water", "garden", "vent", "passage", "sensor", "heater"):
        for part in getattr(habitat, f"{kind}s"):
            assert lines[part.line - 1] == f"[[{kind}]]"


MADE_AS_USUAL = {"make"}
"""Tables that no example needs: each is made in the usual ways. tests/parts has files that use them."""


def _forms() -> dict[str, Any]:
    tables = {name: form for name, form in TABLES.items() if name not in MADE_AS_USUAL}
    return {**tables, "chamber.face": FaceForm, "limits": LimitForm}


def _told() -> tuple[dict[str, set[str]], dict[str, set[Any]]]:
    """Keys and words that the examples and the tests' designs use, by table."""
    keys: dict[str, set[str]] = {name: set() for name in _forms()}
    keys["top"], words = set(), {}
    for path in (*EXAMPLES, *DESIGNS):
        doc = tomllib.loads(path.read_text())
        keys["top"] |= set(doc)
        for table in TABLES:
            for part in doc.get(table, []):
                keys[table] |= set(part)
                for key, value in part.items():
                    words.setdefault(f"{table}.{key}", set()).update(value if isinstance(value, list) else [str(value)])
                    if isinstance(value, dict):
                        keys["chamber.face"] |= set(value)
                        words.setdefault("touches", set()).add(value.get("touches", "room"))
        for limit in doc.get("limits", {}).values():
            keys["limits"] |= set(limit)
    return keys, words


def test_together_the_examples_use_every_key_of_the_file() -> None:
    keys, _ = _told()
    assert set(HabitatForm.model_fields) - keys["top"] == MADE_AS_USUAL
    for name, form in _forms().items():
        every = {info.alias or key for key, info in form.model_fields.items()}
        assert every - keys[name] == set(), name


def test_together_the_examples_use_every_word_of_the_file() -> None:
    _, words = _told()
    for table, form in TABLES.items():
        if table in MADE_AS_USUAL:
            continue
        for key, info in form.model_fields.items():
            options = {o for o in get_args(info.annotation) if isinstance(o, str)}
            if key == "faces":
                options = {"side", "top"}
            if key == "face":
                options = {"side", "top", "base"}
            assert options - words.get(f"{table}.{key}", set()) == set(), f"{table}.{key}"
    assert {"room", "bench", "floor"} - words["touches"] <= {"bench"}
    assert any(name not in ("room", "bench", "floor") for name in words["touches"])
    assert {"when empty", "never", "14 day"} <= words["water.refill"]


SMALL = """
format = 1
name = "Small"
species = "Acromyrmex versicolor"
[[chamber]]
name = "a"
role = "garden"
shape = "cylinder"
diameter = "100 mm"
height = "60 mm"
place = ["0 mm", "0 mm", "36 mm"]
layers = ["3 mm acrylic", "2 mm cork"]
[[chamber]]
name = "b"
role = "sump"
shape = "cylinder"
diameter = "100 mm"
height = "30 mm"
place = ["0 mm", "0 mm", "3 mm"]
layers = ["3 mm acrylic"]
[[grid]]
above = "a"
below = "b"
pattern = "hole"
diameter = "2 mm"
count = 20
thickness = "3 mm"
material = "Acrylic"
[[water]]
chamber = "b"
kind = "pool"
store = "50 mL"
[[vent]]
name = "v"
chamber = "a"
pattern = "mesh"
diameter = "10 mm"
aperture = "0.5 mm"
wire = "0.315 mm"
[[vent]]
name = "w"
chamber = "a"
face = "top"
pattern = "hole"
diameter = "2 mm"
count = 2
[[plug]]
closes = "w"
[[sensor]]
name = "s"
chamber = "a"
[[heater]]
name = "h"
power = "2 W"
chamber = "b"
[[insulation]]
chamber = "a"
layer = "20 mm Cork"
"""


def test_what_is_left_out_has_the_documented_default() -> None:
    habitat = parse_habitat(load_document(SMALL))
    a, b = habitat.chambers
    assert (habitat.revision, habitat.altitude, habitat.note) == ("1", 0.0, "")
    assert (a.lid_gap, a.lid_depth) == (0.0, 0.005)
    walls = (Layer("acrylic", 0.003), Layer("cork", 0.002), Layer("cork", 0.02))
    assert a.wall("side").layers == a.wall("top").layers == walls
    assert a.wall("side").touches == "room"
    # the grid is the floor of the upper chamber and the ceiling of the sump
    assert (a.wall("base").touches, b.wall("top").touches) == ("b", "a")
    assert a.wall("base").layers == b.wall("top").layers == (Layer("acrylic", 0.003),)
    assert b.wall("base").touches == "bench"
    (water,) = habitat.waters
    assert water.free_surface == pytest.approx(b.shape.base_area)
    assert (water.name, water.wick_limit, water.dry_mass, water.refill) == ("pool", None, 0.0, "when empty")
    v, w = habitat.vents
    assert (v.face, v.height, v.to, v.closed) == ("side", 0.03, "room", 0.0)
    assert v.pattern.thickness == pytest.approx(2 * 0.000315)
    assert (w.height, w.closed) == (0.06, 1.0)
    assert w.pattern.thickness == pytest.approx(0.025)  # the whole wall with its insulation
    assert (habitat.sensors[0].lag, habitat.sensors[0].under_bell) == (60.0, False)
    assert (habitat.heaters[0].where, habitat.heaters[0].control) == (("b", "base"), "constant")


def test_every_value_keeps_its_text() -> None:
    texts = parse_habitat(load_document(SMALL)).texts
    assert texts["vent.w.count"] == 2
    assert texts["chamber.a.layers[1]"] == "2 mm cork"
    assert texts["grid.a.thickness"] == "3 mm"


def test_from_tables_the_same_design_comes_out_as_from_the_file() -> None:
    path = EXAMPLES[0]
    assert (
        habitat_from_dict(tomllib.loads(path.read_text()), str(path)).vents[0].name == read_habitat(path).vents[0].name
    )
    a, b = habitat_from_dict(tomllib.loads(path.read_text())), read_habitat(path)
    assert [c.shape for c in a.chambers] == [c.shape for c in b.chambers]
    assert a.heaters[0].line == 0
    assert b.heaters[0].line > 0


def test_a_fault_of_syntax_has_its_line(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text('format = 1\nname = "x\n')
    with pytest.raises(InputError) as caught:
        read_habitat(path)
    assert (caught.value.file, caught.value.line) == (str(path), 2)
    assert "TOML" in str(caught.value)


@pytest.mark.parametrize("content", [b"\xff\xfe", b"a = [" * 5000, b"a = 1\na = 2", b"x = " + b"9" * 5000, b"", b"\0"])
def test_no_habitat_at_all_is_one_clear_error(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_habitat(path)
    assert str(caught.value).startswith(str(path))


def test_missing_file_folder_and_huge_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no such file"):
        read_habitat(tmp_path / "none.toml")
    with pytest.raises(InputError, match="directory"):
        read_habitat(tmp_path)
    (tmp_path / "huge").write_bytes(b"#" * 2_000_002)
    with pytest.raises(InputError, match="too large"):
        read_habitat(tmp_path / "huge")


def test_a_file_in_metric_units_is_read_without_pint() -> None:
    """Importing pint costs about a third of a second, which every command would pay."""
    import subprocess
    import sys

    code = "import sys; from nestwright.habitat.file import read_habitat as r; "
    code += "r(sys.argv[1]); print('pint' in sys.modules)"
    for path in EXAMPLES:
        done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, check=True)
        assert done.stdout.strip() == "False", path
