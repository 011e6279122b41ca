"""Solids of every kind: one closed, valid, watertight body, its volume and surface by closed form; sound as meshes."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.habitat.file import read_habitat
from nestwright.parts.coupon import coupon
from nestwright.parts.listing import parts_of
from nestwright.parts.measure import measured, measured_from_sizes
from nestwright.parts.model import Feature, Part
from nestwright.parts.solids import solid_of
from nestwright.parts.triangles import triangles_of

HABITATS = Path(__file__).parents[2] / "examples/workshop/habitats"
EXAMPLES = ["single-pot", "three-pot", "heated-bench", "glass-case"]


@pytest.fixture(scope="session")
def made():
    """Every part of the examples, and of a pot with holes, with its solid."""
    found = []
    holed = Path(__file__).parents[1] / "habitat" / "designs" / "single-pot.toml"
    for file in (*(HABITATS / f"{name}.toml" for name in EXAMPLES), holed):
        parts = parts_of(read_habitat(file)).parts
        found += [(part, solid_of(part)) for part in parts if part.kind != "fitting"]
    return found


def test_volumes_and_sizes_are_those_of_closed_forms(made):
    assert len({part.kind for part, _ in made}) >= 17
    for part, solid in made:
        assert solid.is_valid
        got, told = measured(part, solid), measured_from_sizes(part)
        assert got.volume == pytest.approx(told.volume, rel=1e-3), part.name
        assert got.surface == pytest.approx(told.surface, rel=5e-3), part.name
        assert got.mass == pytest.approx(told.mass, rel=1e-3), part.name
        bent = part.kind == "mesh" and part.sizes.get("wall_radius")  # its box is that of the flat disc that is cut
        if part.kind not in ("port", "tube") and not bent:  # those lean, and a collar has a saddle
            assert got.box == pytest.approx(told.box, abs=1e-5), part.name


def test_solids_are_watertight_meshes(made):
    """By two libraries that know nothing of each other: trimesh and manifold3d."""
    import manifold3d
    import numpy as np
    import trimesh

    for part, solid in made:
        found = triangles_of(solid)
        assert found.closed, part.name
        mesh = trimesh.Trimesh(found.corners, found.faces, process=False)
        assert mesh.is_watertight, part.name
        assert mesh.volume == pytest.approx(found.volume, rel=1e-9), part.name
        assert mesh.volume == pytest.approx(solid.volume, rel=0.01), part.name
        raw = manifold3d.Mesh(found.corners.astype(np.float32), found.faces.astype(np.uint32))
        assert manifold3d.Manifold(raw).status() == manifold3d.Error.NoError, part.name


def _part(kind, sizes, **more):
    return Part("one", kind, "chamber.one", "printed", "PETG", 1, sizes, **more)


@pytest.mark.parametrize(
    ("kind", "sizes", "volume"),
    [
        # closed forms: cone frustum pi h (R2 + Rr + r2) / 3, boxes, discs; mm3
        (
            "body",
            {"inner": 0.1, "inner_top": 0.08, "length": 0.05, "thickness": 0.003, "floor": 0.004},
            math.pi * 50 / 3 * (53**2 + 53 * 43 + 43**2 - 50**2 - 50 * 40 - 40**2) + math.pi * 53**2 * 4,
        ),
        (
            "body",
            {"width": 0.08, "depth": 0.06, "length": 0.05, "thickness": 0.002, "floor": 0.003},
            84 * 64 * 53 - 80 * 60 * 50,
        ),
        (
            "bell",
            {
                "width": 0.08,
                "depth": 0.06,
                "length": 0.05,
                "thickness": 0.002,
                "roof": 0.002,
                "gap": 0.002,
                "foot": 0.003,
                "feet": 4.0,
            },
            84 * 64 * 52 - 80 * 60 * 50 + 4 * 5 * 2 * 2,
        ),
        (
            "stand",
            {"width": 0.08, "depth": 0.06, "length": 0.05, "thickness": 0.004, "floor": 0.0},
            (88 * 68 - 80 * 60) * 50,
        ),
        (
            "block",
            {"top_width": 0.1, "top_depth": 0.08, "low_width": 0.09, "low_depth": 0.07, "height": 0.03, "box": 1.0},
            30 / 6 * (100 * 80 + 90 * 70 + 4 * 95 * 75),
        ),
        (
            "mesh frame",
            {"outer": 0.046, "bore": 0.03, "seat": 0.0382, "seat_depth": 0.0006, "height": 0.0022, "down": 1.0},
            math.pi * (23**2 - 15**2) * 2.2 - math.pi * (19.1**2 - 15**2) * 0.6,
        ),
    ],
)
def test_forms_that_the_examples_do_not_have(kind, sizes, volume):
    part = _part(kind, sizes)
    assert solid_of(part).volume == pytest.approx(volume, rel=1e-6)
    assert measured_from_sizes(part).volume * 1e9 == pytest.approx(volume, rel=1e-6)


def test_slots_in_round_walls_and_floors():
    sizes = {
        "inner": 0.1,
        "inner_top": 0.1,
        "length": 0.05,
        "thickness": 0.003,
        "floor": 0.003,
        "length of side": 0.02,
        "length of low": 0.02,
    }
    features = (
        Feature("slot", "side", 0.0012, (0.0, 0.05, 0.02), "ants"),
        Feature("slot", "low", 0.0012, (0.0, 0.01, -0.003), "ants"),
    )
    part = _part("body", sizes, features=features)
    plain = _part("body", sizes)
    taken = solid_of(plain).volume - solid_of(part).volume
    assert taken == pytest.approx(2 * 1.2 * 20 * 3, rel=0.02)


def test_the_test_piece_has_a_solid():
    assert solid_of(coupon()).volume > 0


def test_a_fitting_has_none_and_impossible_sizes_make_no_body():
    with pytest.raises(InputError, match="bought as it is"):
        solid_of(_part("fitting", {}))
    hole = Feature("slot", "cut", 0.03, (0.01, 0.0, 0.01), "ants")
    sizes = {
        "inner": 0.02,
        "inner_top": 0.02,
        "length": 0.02,
        "thickness": 0.002,
        "floor": 0.0,
        "length of cut": 0.0199,
    }
    other = replace(hole, name="other", at=(-0.01, 0.0, 0.01))
    cut_in_two = _part("body", sizes | {"length of other": 0.0199}, features=(hole, other))
    with pytest.raises(InputError, match="no single closed body"):
        solid_of(cut_in_two)
