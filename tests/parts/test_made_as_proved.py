"""The made parts are what was proved, share no space and come apart; else both figures are told."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.cli import main
from nestwright.habitat.file import read_habitat
from nestwright.habitat.sizes import size
from nestwright.habitat.standing import share_under, standing_volume
from nestwright.parts.agreement import compare_with_proof
from nestwright.parts.listing import parts_of
from nestwright.parts.solids import solid_of
from nestwright.parts.together import overlaps, taken_apart

HABITATS = Path(__file__).parents[2] / "examples/workshop/habitats"


def _made(name):
    habitat = read_habitat(HABITATS / f"{name}.toml")
    assembly = parts_of(habitat)
    return habitat, assembly, {p.name: solid_of(p) for p in assembly.parts if p.kind != "fitting"}


def _again(assembly, solids, name, **changed):
    """The same with one part made otherwise."""
    parts = []
    for part in assembly.parts:
        if part.name == name:
            part = replace(part, sizes=part.sizes | changed.get("sizes", {}), place=changed.get("place", part.place))
            solids = solids | {name: solid_of(part)}
        parts.append(part)
    return replace(assembly, parts=tuple(parts)), solids


@pytest.mark.parametrize("name", ["single-pot", "three-pot", "heated-bench", "glass-case"])
def test_the_examples_are_made_as_proved_and_go_together(name):
    habitat, assembly, solids = _made(name)
    rows = compare_with_proof(habitat, assembly, solids)
    assert [str(row) for row in rows if row.severity == "error"] == []
    told = {row.what for row in rows}
    for chamber in habitat.chambers:
        assert {f"{chamber.name}: {what}" for what in ("inner space", "side", "top", "base")} <= told
    assert {f"{p.name}: bore of the tube" for p in habitat.passages} <= told
    assert {f"{g.above}: openings of the grid" for g in habitat.grids} <= told
    # a vent of holes or slots is counted with the others of its face
    assert {f"{v.chamber}: openings in the {v.face}" for v in habitat.vents} <= told
    for row in rows:
        assert abs(row.off) <= 0.01, row
    assert {f"{c.name}: air beside its contents" for c in habitat.chambers} <= told
    assert overlaps(assembly, solids) == ()
    apart = taken_apart(assembly, solids)
    assert apart.stuck == ()
    standing = {p.name for p in assembly.parts if p.kind not in ("fitting", "mould")}
    assert {n for names, _ in apart.steps for n in names} == standing


def test_a_part_made_otherwise_is_told_with_both_figures():
    habitat, assembly, solids = _made("single-pot")
    # a wider tube, a bell that stands higher, a thinner wall that leaves more room: by hand, mm and mL
    wide = _again(assembly, solids, "pot wall", sizes={"inner": 0.104, "inner_top": 0.104})
    bad = {row.what: row for row in compare_with_proof(habitat, *wide) if row.severity == "error"}
    assert "pot: inner space" in bad
    assert bad["pot: side"].made == pytest.approx(bad["pot: side"].proved * 1.03, rel=5e-3)
    x, y, z, turn = next(p.place for p in assembly.parts if p.name == "pot bell")
    high = _again(assembly, solids, "pot bell", place=(x, y, z + 0.0015, turn))
    bad = {row.what: row for row in compare_with_proof(habitat, *high) if row.severity == "error"}
    assert bad["pot: gap under the bell"].off == pytest.approx(1.5 / 1.5639, rel=0.01)


def test_parts_in_one_place_and_a_part_that_cannot_come_out_are_told():
    _, assembly, solids = _made("single-pot")
    x, y, z, turn = next(p.place for p in assembly.parts if p.name == "pot bell")
    low, made = _again(assembly, solids, "pot bell", place=(x, y, z - 0.003, turn))
    (found,) = overlaps(low, made)
    assert {found.one, found.other} == {"pot bell", "pot grid"}
    # a lid glued on shuts in what stands below it
    glued = [replace(j, kind="glued") if j.inner in ("pot lid",) or ("stands" in j.kind and "grid on" in j.name) else j
             for j in assembly.joints]  # fmt: skip
    stuck = taken_apart(replace(assembly, joints=tuple(glued)), solids).stuck
    assert any("pot bell" in group for group in stuck)
    assert any("tile" in group for group in stuck)


def test_a_length_that_no_straight_tube_has_is_refused_before_a_file_is_written(tmp_path, capsys):
    file, out = tmp_path / "three-pot.toml", tmp_path / "parts"
    file.write_text((HABITATS / "three-pot.toml").read_text().replace('length = "81.7 mm"', 'length = "84 mm"', 1))
    with pytest.raises(SystemExit) as caught:
        main.run(["parts", str(file), "--out", str(out)])
    assert caught.value.code == 2
    said = capsys.readouterr().err
    assert "passage.leaf way.length" in said
    assert "81.733 mm made" in " ".join(said.split())
    assert not out.exists()


def test_air_of_the_proof_is_what_is_left_beside_body_and_walls():
    """By hand: a block of 90 mL water and 160 g gypsum of 2.32 g/mL is 159 mL; a bell 70 x 50 mm of 2 mm wall 34 mL."""
    habitat = read_habitat(HABITATS / "single-pot.toml")
    pot, sump = (habitat.chamber(name) for name in ("pot", "sump"))
    assert standing_volume(habitat, sump) == pytest.approx(90e-6 + 160e-3 / size("gypsum_density"), rel=1e-9)
    around = math.pi / 4 * ((74**2 - 70**2) * 50 + 74**2 * 2) * 1e-9
    feet = 3 * 3 * 2 * 1.564e-9
    inside = math.pi / 4 * 70**2 * 50 * 1e-9
    assert standing_volume(habitat, pot) == pytest.approx(inside + around + feet, rel=1e-5)


def test_share_of_a_meshed_port_under_a_bell_box():
    """A port of 80 mm under a box of 60 x 200 mm: the circle less two segments 10 mm high."""
    bench = read_habitat(HABITATS / "heated-bench.toml")
    grid = next(g for g in bench.grids if g.pattern.kind == "mesh")
    bell = replace(bench.bells[0], shape=replace(bench.bells[0].shape, width=0.06, depth=0.2))
    r, d = 40.0, 30.0
    segment = r * r * math.acos(d / r) - d * math.sqrt(r * r - d * d)
    grid = replace(grid, pattern=replace(grid.pattern, width=0.08))
    found = share_under(grid, bell, bench.chamber(grid.above))
    assert found == pytest.approx(1 - 2 * segment / (math.pi * r * r), rel=1e-5)
