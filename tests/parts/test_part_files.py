"""Files of parts, read back by others: STEP by Open CASCADE, 3MF by lib3mf, DXF by ezdxf, glTF and STL by trimesh.

The command writes them whole or not at all.
"""

import hashlib
import io
import json
import math
import os
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import ezdxf
import numpy as np
import pytest

from nestwright.cli import main
from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.parts.files_flat import cuts_of, dxf_bytes, engraving, moved_ring, svg_text
from nestwright.parts.folder import write_parts
from nestwright.parts.making import Made, make_parts
from nestwright.parts.measure import measured_from_sizes
from nestwright.parts.model import Part, Sheet
from nestwright.parts.rings import circle, rectangle, ring_area

ROOT = Path(__file__).parents[2]
HABITATS = ROOT / "examples/workshop/habitats"


@pytest.fixture(scope="session")
def written(tmp_path_factory):
    """(what was made, folder, index) of the three pots in every form but drawings."""
    made = make_parts(read_habitat(HABITATS / "three-pot.toml"), check=False)
    folder = tmp_path_factory.mktemp("parts") / "three"
    index = write_parts(made, folder, formats=("step", "stl", "3mf", "dxf", "svg", "gltf"), kerf=0.0002)
    return made, folder, index


def _files(written, suffix, part=True):
    _, folder, index = written
    return [
        (f["part"], folder / f["file"])
        for f in index["files"]
        if f["file"].endswith(suffix) and bool(f["part"]) == part
    ]


def test_the_index_names_every_file_with_its_hash(written):
    made, folder, index = written
    assert json.loads((folder / "parts.json").read_text()) == index
    on_disk = {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()} - {"parts.json"}
    assert {f["file"] for f in index["files"]} == on_disk
    for one in index["files"]:
        raw = (folder / one["file"]).read_bytes()
        assert (len(raw), hashlib.sha256(raw).hexdigest()) == (one["bytes"], one["sha256"])
    assert [p["name"] for p in index["parts"]] == [p.name for p in made.assembly.parts]
    assert index["habitat_sha256"] == hashlib.sha256((HABITATS / "three-pot.toml").read_bytes()).hexdigest()


def test_step_read_back_is_what_was_written(written):
    from build123d import import_step

    made, *_ = written
    found = _files(written, ".step")
    assert len(found) == len(made.solids)
    for name, path in found:
        again = import_step(path)
        # curves of bores through round walls are approximated anew: 5e-5 at most
        assert sum(s.volume for s in again.solids()) == pytest.approx(made.solids[name].volume, rel=1e-4), name
    ((_, whole),) = _files(written, ".step", part=False)
    text = whole.read_text()
    assert "AP242" in text.split("FILE_SCHEMA", 1)[1].split(";", 1)[0]
    again = import_step(whole)
    standing = {p.name for p in made.assembly.parts if p.kind != "mould"}
    assert {child.label for child in again.children} == {
        name.replace(" ", "_") for name in standing
    }  # as it reads them
    for name in standing:
        assert f"PRODUCT('{name}'" in text
    total = sum(s.volume for name, s in made.solids.items() if name in standing)
    assert sum(s.volume for s in again.solids()) == pytest.approx(total, rel=1e-4)


def test_three_mf_is_read_without_a_warning(written):
    import lib3mf

    made, *_ = written
    wrapper = lib3mf.get_wrapper()
    printed = {p.name for p in made.assembly.parts if p.way in ("printed", "resin")}
    single = _files(written, ".3mf")
    assert {name for name, _ in single} == printed
    for name, path in [*single, *_files(written, ".3mf", part=False)]:
        model = wrapper.CreateModel()
        reader = model.QueryReader("3mf")
        reader.SetStrictModeActive(True)
        reader.ReadFromFile(str(path))
        assert reader.GetWarningCount() == 0
        assert model.GetUnit() == lib3mf.ModelUnit.MilliMeter
        names, meshes = [], model.GetMeshObjects()
        while meshes.MoveNext():
            mesh = meshes.GetCurrentMeshObject()
            assert mesh.IsManifoldAndOriented(), mesh.GetName()
            names.append(mesh.GetName())
        standing = [p.name for p in made.assembly.parts if p.name in made.solids and p.kind != "mould"]
        assert names == ([name] if name else standing)


def test_stl_and_gltf_are_read_by_trimesh(written):
    import trimesh

    made, *_ = written
    for name, path in _files(written, ".stl"):
        mesh = trimesh.load_mesh(path)
        assert mesh.is_watertight, name
        assert mesh.volume == pytest.approx(made.solids[name].volume, rel=6e-3), name
    ((_, path),) = _files(written, ".glb", part=False)
    assert path.stat().st_size < 1_000_000
    scene = trimesh.load_scene(path)
    standing = {p.name for p in made.assembly.parts if p.name in made.solids and p.kind != "mould"}
    assert set(scene.graph.nodes_geometry) == standing
    low, high = scene.bounds
    # three pots in m, y upwards: from the bench to the top of the frame on the pot's lid; 3 x 160 mm and ways between
    assert low[1] == pytest.approx(0.0, abs=1e-6)
    assert high[1] == pytest.approx(0.142, abs=1e-6)
    assert (low[0], high[0]) == (pytest.approx(-0.313), pytest.approx(0.253))


def test_dxf_is_sound_and_a_cut_of_this_width_leaves_the_part(written):
    made, *_ = written
    parts = {p.name: p for p in made.assembly.parts}
    found = _files(written, ".dxf")
    assert {name for name, _ in found} >= {"dump front", "garden pot grid", "forage lid"}
    for name, path in found:
        doc = ezdxf.readfile(path)
        audit = doc.audit()
        assert not audit.errors
        assert not audit.fixes
        assert doc.units == ezdxf.units.MM
        sheet, width = parts[name].sheet, 0.2 if parts[name].way == "laser" else 0.0
        space = doc.modelspace()
        holes = space.query('CIRCLE[layer=="CUT_INSIDE"]')
        rings = [r for r in sheet.openings if len(r) == 72]
        told = sorted(round((ring_area(r) * 4 / math.pi) ** 0.5 * 1e3 - width, 6) for r in rings)
        assert sorted(round(2 * one.dxf.radius, 6) for one in holes) == told
    grid = ezdxf.readfile(next(path for name, path in found if name == "garden pot grid")).modelspace()
    (outline,) = grid.query('CIRCLE[layer=="CUT_OUTSIDE"]')
    assert outline.dxf.radius * 2 == pytest.approx(148.2)
    assert len(grid.query("CIRCLE")) == 1 + len(parts["garden pot grid"].sheet.openings)


def test_dxf_has_the_same_bytes_in_every_process():
    """Regression: the library's list of classes came from a set, whose order changes with the seed of the hashes."""
    source = (
        "import hashlib\n"
        "from nestwright.parts.files_flat import dxf_bytes\n"
        "from nestwright.parts.model import Part, Sheet\n"
        "from nestwright.parts.rings import rectangle\n"
        "sheet = Sheet(rectangle(0, 0, 0.06, 0.04), (), (), 0.003)\n"
        "part = Part('plate', 'panel', 'c', 'laser', 'acrylic', 1, {}, sheet=sheet)\n"
        "print(hashlib.sha256(dxf_bytes(part, 0.0002)).hexdigest())"
    )
    told = {
        subprocess.run(
            [sys.executable, "-c", source], env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(told) == 1


def _area(points):
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, (*points[1:], points[0]), strict=True))) / 2


def test_the_width_of_the_cut_tabs_and_engraving():
    """A rectangle of 60 x 40 with a cut of 0.2 is followed at 60.2 x 40.2, a hole 10 x 4 at 9.8 x 3.8."""
    sheet = Sheet(
        rectangle(0, 0, 0.06, 0.04), (rectangle(0, 0, 0.01, 0.004),), (rectangle(0.01, 0.01, 0.004, 0.002),), 0.003
    )
    part = Part("plate", "panel", "chamber.one", "laser", "acrylic", 1, {}, sheet=sheet)
    cut = cuts_of(part, 0.0002)
    assert _area(cut.outside[0][:-1]) == pytest.approx(60.2 * 40.2)
    assert _area(cut.inside[0][:-1]) == pytest.approx(9.8 * 3.8)
    assert cut.tabs == 0
    doc = ezdxf.read(io.StringIO(dxf_bytes(part, 0.0002).decode()))
    assert len(doc.modelspace().query('LWPOLYLINE[layer=="ENGRAVE"]')) == 1
    assert dxf_bytes(part, 0.0002) == dxf_bytes(part, 0.0002)
    root = ET.fromstring(svg_text(part, 0.0002))
    space = "{http://www.w3.org/2000/svg}"
    groups = {g.get("id"): g for g in root.iter(f"{space}g")}
    assert (root.get("width"), root.get("height")) == ("64.4mm", "44.4mm")
    assert len(groups["engrave"]) == len(groups["cut-inside"]) == len(groups["cut-outside"]) == 1
    # an L: its inner corner moves the other way; mitred, the area grows by length x offset + 4 outer corners' squares
    ell = ((0.0, 0.0), (0.04, 0.0), (0.04, 0.01), (0.01, 0.01), (0.01, 0.04), (0.0, 0.04))
    grown = ring_area(moved_ring(ell, 0.001))
    assert grown == pytest.approx(0.0007 + 0.16 * 0.001 + 4 * 1e-6)
    assert ring_area(moved_ring(tuple(reversed(ell)), 0.001)) == pytest.approx(grown)
    small = replace(part, sheet=Sheet(rectangle(0, 0, 0.05, 0.012), (), (), 0.003))
    held = cuts_of(small, 0.0)
    assert held.tabs == 2
    length = sum(math.dist(a, b) for line in held.outside for a, b in pairwise(line))
    assert length == pytest.approx(2 * (50 + 12) - 2 * 0.4)
    disc = replace(part, sheet=Sheet(circle(0, 0, 0.02), (), (), 0.003))
    length = sum(math.dist(a, b) for line in cuts_of(disc, 0.0).outside for a, b in pairwise(line))
    assert length == pytest.approx(math.pi * 20 - 2 * 0.4, rel=1e-3)
    with pytest.raises(InputError, match=r"narrower than the cut; found 4 mm; allowed: wider than 5 mm"):
        cuts_of(part, 0.005)
    with pytest.raises(InputError, match="not flat"):
        cuts_of(Part("tube", "tube", "", "cut", "acrylic", 1, {}), 0.0)


def test_step_214_and_no_such_form(written, tmp_path):
    made, *_ = written
    one = replace(made.assembly, parts=tuple(p for p in made.assembly.parts if p.name == "tile"))
    small = Made(made.habitat, one, {"tile": made.solids["tile"]}, {"tile": made.measured["tile"]})
    write_parts(small, tmp_path / "a", formats=("step",), standard="214")
    write_parts(small, tmp_path / "b", formats=("step",), standard="214")
    text = (tmp_path / "a/step/tile.step").read_text()
    assert "AUTOMOTIVE_DESIGN" in text.split("FILE_SCHEMA", 1)[1].split(";", 1)[0]
    assert text == (tmp_path / "b/step/tile.step").read_text()
    with pytest.raises(InputError, match="no such form of STEP"):
        write_parts(small, tmp_path / "c", formats=("step",), standard="203")
    assert not (tmp_path / "c").exists()


# -- the command ------------------------------------------------------------------------------------------------


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as caught:
        main.run([str(one) for one in arguments])
    said = capsys.readouterr()
    return caught.value.code, said.out, said.err


def test_the_command_lists_checks_and_writes(capsys, tmp_path):
    file, out = HABITATS / "single-pot.toml", tmp_path / "made"
    code, text, _ = run(
        capsys, "parts", file, "--out", out, "--format", "stl,svg,drawing", "--kerf", "0.15 mm", "--serial", "SP-004"
    )
    assert code == 0
    assert "Engraved with SP-004: " in text
    assert "RULE" not in text
    for said in ("pot wall", "Made as proved", "No two parts share space", "Cautions", "Laser:", "gas out", "Written:"):
        assert said in text
    assert {p.name for p in out.iterdir()} == {"stl", "svg", "drawings", "parts.json"}
    code, text, _ = run(capsys, "parts", file, "--json")
    found = json.loads(text)
    assert code == 0
    habitat = read_habitat(file)
    assert found["habitat"] == habitat.name
    assert {row["severity"] for row in found["compared"]} <= {"ok", "warning"}
    assert found["overlaps"] == []
    assert found["taken_apart"]["stuck"] == []
    page = (ROOT / "docs/guide/json.md").read_text().split("\n## `nestwright parts`\n")[1].split("\n## ")[0]
    for key in found:
        assert f"| `{key}` |" in page
    for key in found["parts"][0]:
        assert f"| `parts.{key}` |" in page
    for key in found["compared"][0]:
        assert f"| `compared.{key}` |" in page


def test_a_broken_rule_has_the_last_word():
    """Regression: files were written and the command ended well, with the broken rule far above on the screen."""
    from nestwright.cli.parts import _against
    from nestwright.habitat.findings import Finding

    error, warning = Finding("error", "too narrow", field="vent"), Finding("warning", "see to it", field="vent")
    assert _against((), (warning,)) == ""
    assert _against((), (warning, error)).startswith("1 RULE IS BROKEN")
    assert "do not make these parts" in _against((), (error, error))


def test_one_part_alone(capsys, tmp_path):
    code, text, _ = run(capsys, "parts", HABITATS / "single-pot.toml", "--only", "lid/pot lid", "--json")
    assert code == 0
    assert [p["name"] for p in json.loads(text)["parts"]] == ["pot lid"]
    code, _, err = run(capsys, "parts", HABITATS / "single-pot.toml", "--only", "ldi")
    assert code == 2
    assert "did you mean 'lid'" in err


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--format", "stp"), "did you mean 'step'"),
        (("--step", "203"), "allowed: 242, 214"),
        (("--kerf", "9 mm"), "0 mm to 5 mm"),
        (("--kerf", "broad"), "--kerf"),
        (("--serial", "SP-004"), "--serial: has nothing to be engraved on"),
        (("--serial", "SP_4 §", "--out", "never"), "signs that cannot be engraved; found '_§'"),
    ],
)
def test_wrong_options_are_told_before_the_work(capsys, options, said):
    code, _, err = run(capsys, "parts", HABITATS / "single-pot.toml", *options)
    assert code == 2
    assert said in err


def test_nothing_is_left_of_a_refused_or_stopped_folder(capsys, tmp_path, monkeypatch):
    from nestwright.parts import folder, making

    file = HABITATS / "single-pot.toml"
    (tmp_path / "full").mkdir()
    (tmp_path / "full/mine.txt").write_text("mine")
    code, _, err = run(capsys, "parts", file, "--out", tmp_path / "full")
    assert code == 2
    assert "not empty" in err

    def stop(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(folder, "svg_text", stop)
    code, _, _ = run(capsys, "parts", file, "--out", tmp_path / "new", "--format", "stl,svg")
    assert code == 130
    # a part that is not what was proved: no file is written, and both figures are told
    real = making.parts_of

    def wide(habitat):
        assembly = real(habitat)
        parts = [replace(p, sizes=p.sizes | {"inner": 0.104, "inner_top": 0.104}) if p.name == "pot wall" else p
                 for p in assembly.parts]  # fmt: skip
        return replace(assembly, parts=tuple(parts))

    monkeypatch.setattr(making, "parts_of", wide)
    code, _, err = run(capsys, "parts", file, "--out", tmp_path / "new", "--format", "svg")
    assert code == 2
    assert "pot: side: the made parts are not what was proved; found 2265" in err
    assert "allowed: 21991 mm2, as proved" in err
    assert [p.name for p in tmp_path.iterdir()] == ["full"]


def test_listing_and_sums_need_no_modeller():
    """Bills and batches read the parts: they must not pay for the import."""
    import subprocess
    import sys

    code = (
        "import sys; from nestwright.cli import parts, cost, making; "
        "from nestwright.parts import listing, measure, folder, agreement, together, solids; "
        "from nestwright.habitat.file import read_habitat; "
        f"listing.parts_of(read_habitat({str(HABITATS / 'single-pot.toml')!r})); "
        "print([m for m in ('build123d', 'OCP', 'ezdxf', 'trimesh') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_measures_of_a_fitting_are_nothing():
    assert measured_from_sizes(Part("probe", "fitting", "sensor.probe", "bought", "PVC", 1, {})).mass == 0


@pytest.mark.parametrize("name", ["pot lid", "Größe 12/B", "forage front"])
def test_names_are_engraved_clear_of_every_cut(name):
    # reference: ezdxf's test of points in polygons, which knows nothing of how the place was found
    from ezdxf.math import Vec2, is_point_in_polygon_2d

    def along(line, closed=False):
        pairs = pairwise((*line, line[0]) if closed else line)
        return [(a[0] + (b[0] - a[0]) * k / 20, a[1] + (b[1] - a[1]) * k / 20) for a, b in pairs for k in range(21)]

    for outline in (circle(0, 0, 0.1), rectangle(0, 0, 0.08, 0.05)):
        openings = (circle(0, -0.012, 0.02), rectangle(0, 0.012, 0.03, 0.01))
        part = Part(name, "lid", "", "laser", "acrylic", 1, {}, sheet=Sheet(outline, openings, (), 0.003))
        lines = cuts_of(part, 0.0, named=True).engraved
        drawn = np.array([p for line in lines for p in along(line)])
        rings = [[(1e3 * x, 1e3 * y) for x, y in ring] for ring in (outline, *openings)]
        for x, y in drawn:
            inside = [is_point_in_polygon_2d(Vec2(x, y), [Vec2(p) for p in ring]) > 0 for ring in rings]
            assert inside == [True, False, False]
        rims = np.array([p for ring in rings for p in along(ring, closed=True)])
        assert np.hypot(*(drawn[:, None] - rims[None]).transpose(2, 0, 1)).min() > 0.9
        assert np.ptp(drawn[:, 1]) == pytest.approx(3.0)
        doc = ezdxf.read(io.StringIO(dxf_bytes(part, 0.0, named=True).decode()))
        assert doc.audit().errors == []
        assert len(doc.modelspace().query('LWPOLYLINE[layer=="ENGRAVE"]')) == len(lines)
    assert cuts_of(part, 0.0).engraved == ()
    with_serial = len(cuts_of(part, 0.0, named=True, serial="SP-004").engraved)
    assert with_serial > len(lines), "the serial stands beside the name"
    assert engraving(part, "SP-004")[0] == f"{name} SP-004"
    narrow = replace(part, sheet=Sheet(rectangle(0, 0, 0.03, 0.012), (), (), 0.003))
    assert engraving(replace(narrow, name="a long name of a part"), "SP-004")[0] == "SP-004"
    assert engraving(replace(part, way="milled"), "SP-004") == ("", ())
    small = replace(part, sheet=Sheet(circle(0, 0, 0.012), (), (), 0.003))
    assert cuts_of(small, 0.0, named=True).engraved == ()
