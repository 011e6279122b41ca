"""The made parts are what was proved, share no space and come apart; else both figures are told."""

from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.habitat.file import read_habitat
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
        assert (row.severity == "ok") == (abs(row.off) <= 0.01) or "openings under the bell" in row.what
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
