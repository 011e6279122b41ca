"""What a habitat is made of: the examples, the ways of making, and geometry that cannot be made."""

import tomllib
from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.habitat.file import habitat_from_dict, read_habitat, with_values
from nestwright.parts.listing import parts_of
from nestwright.parts.measure import measured_from_sizes

ROOT = Path(__file__).parents[2]
HABITATS = ROOT / "examples/workshop/habitats"
DESIGNS = ROOT / "tests/habitat/designs"


@pytest.mark.parametrize("name", ["single-pot", "three-pot", "heated-bench", "glass-case"])
def test_every_example_becomes_parts(name):
    habitat = read_habitat(HABITATS / f"{name}.toml")
    assembly = parts_of(habitat)
    names = [p.name for p in assembly.parts]
    assert len(set(names)) == len(names)
    assert len(assembly.sha256) == 64
    served = {p.serves.split(".", 1)[1] for p in assembly.parts}
    # a vent of plain holes has no part of its own, a pool as large as its floor has no tray
    wanted = {c.name for c in habitat.chambers} | {q.name for q in habitat.passages} | {g.above for g in habitat.grids}
    wanted |= {v.name for v in habitat.vents if v.pattern.kind == "mesh"} | {s.name for s in habitat.sensors}
    wanted |= {h.name for h in habitat.heaters} | {w.name for w in habitat.waters if w.kind != "pool"}
    assert wanted <= served
    for joint in assembly.joints:
        assert joint.outer in names
        assert joint.inner in names
    for part in assembly.parts:
        if part.kind != "fitting":
            size = measured_from_sizes(part)
            assert size.volume > 0
            assert size.mass > 0
            assert min(size.box) > 0


def _with(name, **tables):
    document = tomllib.loads((HABITATS / f"{name}.toml").read_text())
    document.update(tables)
    return habitat_from_dict(document)


def test_a_make_table_changes_way_material_and_note():
    habitat = _with(
        "single-pot",
        make=[
            {"part": "pot", "way": "printed", "material": "PETG", "note": "in two halves"},
            {"part": "grid pot", "way": "resin"},
            {"part": "tile", "material": "porous ceramic", "way": "bought"},
        ],
    )
    parts = {p.name: p for p in parts_of(habitat).parts}
    assert (parts["pot wall"].way, parts["pot wall"].material, parts["pot wall"].note) == (
        "printed",
        "PETG",
        "in two halves",
    )
    assert (parts["pot grid"].way, parts["pot grid"].material) == ("resin", "acrylic")
    assert parts["tile"].way == "bought"
    assert "tile mould" not in parts


@pytest.mark.parametrize(
    ("make", "said"),
    [
        ({"part": "pott"}, "there is no part of this name.*'pot'"),
        ({"part": "pot", "material": "woood"}, "unknown material"),
        ({"part": "lid pot", "material": "PVC", "way": "laser"}, "chlorine"),
        ({"part": "pot", "way": "knitted"}, "knitted"),
    ],
)
def test_a_make_table_is_judged(make, said):
    with pytest.raises(InputError, match=f"(?s){said}"):
        _with("single-pot", make=[make])


def test_only_sheets_are_laser_cut():
    with pytest.raises(InputError, match=r"make\.tile\.way: only a flat part.*'tile'"):
        parts_of(_with("single-pot", make=[{"part": "tile", "way": "laser"}]))


@pytest.mark.parametrize(
    ("name", "values", "sizes"),
    [
        # wall as thick as half the chamber; a tube that there is not; a grid that has no room for its holes
        ("single-pot", {"chamber.pot.layers[0]": "50 mm"}, ("50 mm", "less than 50 mm")),
        ("three-pot", {"passage.leaf way.bore": "11 mm"}, ("11 mm", "10 mm or 12 mm")),
        ("single-pot", {"grid.pot.count": 2000}, ("980", "at most 846")),
        ("single-pot", {"grid.pot.thickness": "5 mm"}, ("5 mm", "3 mm")),
        (
            "single-pot",
            {"water.tile.store": "140 mL", "water.tile.free_surface": "40 cm2"},
            ("mm high", "at most 29 mm"),
        ),
        (
            "single-pot",
            {
                "bell.pot.layers[0]": "36 mm",
                "bell.pot.diameter": "20 mm",
                "bell.pot.height": "20 mm",
                "garden.pot.volume": "5 mL",
            },
            ("36 mm", "less than 10 mm"),
        ),
        (
            "three-pot",
            {"chamber.dump.place[0]": "128 mm", "passage.waste way.length": "30 mm"},
            ("1 mm", "at least 6 mm"),
        ),
        (
            "three-pot",
            {"chamber.dump.place[1]": "120 mm", "passage.waste way.length": "150 mm"},
            ("mm aside", "at most 44 mm"),
        ),
    ],
)
def test_geometry_that_cannot_be_made_tells_both_sizes(name, values, sizes):
    folder = DESIGNS if "grid.pot.count" in values else HABITATS  # the example's grid is mesh
    habitat = with_values(folder / f"{name}.toml", values)
    with pytest.raises(InputError) as caught:
        parts_of(habitat)
    for one in sizes:
        assert one in str(caught.value)


def test_a_port_that_hits_the_bench_and_a_tube_that_leans_tell_both_sizes():
    low = {"passage.waste way.to_height": "5 mm", "passage.waste way.length": "300 mm"}
    steep = with_values(HABITATS / "three-pot.toml", low)
    with pytest.raises(InputError, match=r"would lean upwards; found 31.\d deg; allowed: at most 30 deg"):
        parts_of(steep)
    low |= {"chamber.dump.place[0]": "300 mm", "chamber.dump.place[2]": "1 mm", "chamber.dump.layers[0]": "1 mm"}
    hits = with_values(HABITATS / "three-pot.toml", low)
    with pytest.raises(InputError, match=r"below the bench; found 7 mm above the bench; allowed: at least 8.6 mm"):
        parts_of(hits)


def test_a_bore_on_the_floor_is_moved_off_it():
    """The file's default is half the bore above the floor: 1 mm of wall is left below."""
    values = {"passage.waste way.from_height": "5 mm"}
    parts = {p.name: p for p in parts_of(with_values(HABITATS / "three-pot.toml", values)).parts}
    bore = next(f for f in parts["garden pot wall"].features if f.name == "waste way")
    assert bore.at[2] - bore.size / 2 == pytest.approx(0.001)


def test_a_bore_higher_than_its_wall_tells_both_sizes():
    values = {
        "chamber.dump.height": "11 mm",
        "passage.waste way.bore": "10 mm",
        "passage.waste way.to_height": "5 mm",
        "passage.waste way.length": "100 mm",
    }
    habitat = with_values(HABITATS / "three-pot.toml", values)
    with pytest.raises(InputError, match=r"10 mm in a wall 11 mm high; allowed: at most 9 mm"):
        parts_of(habitat)


def test_land_of_a_panel_that_stands_is_up_the_panel():
    # it was told as if the panel lay flat: (across, up, 0)
    found = parts_of(read_habitat(HABITATS / "glass-case.toml")).parts
    panel = next(p for p in found if p.name == "case front")
    lands = [f for f in panel.features if f.kind == "land"]
    holes = [f.at for f in panel.features if f.kind in ("hole", "slot", "bore")]
    assert lands
    assert holes
    for land in lands:
        assert land.at[1] == 0
        assert min(z for _, _, z in holes) <= land.at[2] <= max(z for _, _, z in holes)
