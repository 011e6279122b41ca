"""The test piece, and offsets read from it against a reference library and against machines whose offset is known."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from nestwright.errors import InputError
from nestwright.parts.coupon import COUPON_WAYS, coupon, coupon_solid, offset_from
from nestwright.parts.model import Assembly
from nestwright.parts.process import broken_rules
from nestwright.parts.tolerances import compensated

DRAWN = [0.003, 0.004, 0.006, 0.008, 0.012, 0.016]


def made(offset, scale=1.0, noise=0.0, seed=1):
    rng = np.random.default_rng(seed)
    return [(d, scale * d + offset + noise * rng.standard_normal()) for d in DRAWN]


@pytest.mark.parametrize("way", COUPON_WAYS)
def test_every_size_stands_on_the_plate_apart_from_the_others(way):
    piece = coupon(way)
    w, d = piece.sizes["width"], piece.sizes["depth"]
    spots = [f for f in piece.features if not f.name.startswith("disc")]
    long = {"slot": 0.012, "wall": 0.012}
    boxes = [
        (f.at[0] - f.size / 2, f.at[1] - long.get(f.kind, f.size) / 2,
         f.at[0] + f.size / 2, f.at[1] + long.get(f.kind, f.size) / 2) for f in spots
    ]  # fmt: skip
    for n, (a, b, c, e) in enumerate(boxes):
        assert 0 < a < c < w
        assert 0 < b < e < d
        for x, y, z, t in boxes[:n]:
            assert c < x or z < a or e < y or t < b
    kinds = {f.kind for f in piece.features}
    assert {"hole", "spigot"} <= kinds
    assert sorted(f.size for f in piece.features if f.kind == "hole") == sorted(
        f.size for f in piece.features if f.kind == "spigot"
    )
    if way == "printed":  # the narrowest steps are there to fail, the widest pass
        failing = broken_rules(Assembly("x", "1", "", (piece,), ()))
        assert {b.rule for b in failing} == {"slot", "wall", "text"}
        assert not any(b.size > 0.0011 and b.rule == "wall" for b in failing)


@pytest.mark.parametrize("way", ["milled", "casting"])
def test_ways_without_a_test_piece_are_refused(way):
    with pytest.raises(InputError, match="no test piece"):
        coupon(way)


def test_a_machine_that_is_off_by_the_same_everywhere_is_found():
    found = offset_from(made(-0.0002), made(0.0001))
    assert not found.stretched
    assert found.offset.hole == pytest.approx(-0.0002)
    assert found.offset.spigot == pytest.approx(0.0001)
    assert found.offset.scale == 1.0
    assert found.scatter < 1e-12


def test_the_line_is_that_of_a_reference_library():
    pairs = made(-0.00015, 0.995, 1e-5)
    found = offset_from(pairs)
    line = stats.linregress(*zip(*pairs, strict=True))
    assert found.stretched
    assert found.scale == pytest.approx(line.slope, rel=1e-9)
    assert found.scale_error == pytest.approx(line.stderr, rel=1e-6)
    assert found.offset.hole == pytest.approx(line.intercept, rel=1e-6)
    assert found.hole_error == pytest.approx(line.intercept_stderr, rel=1e-6)


def test_without_stretch_the_offset_is_the_mean_with_its_standard_error():
    pairs = made(-0.0002, 1.0, 3e-5, seed=3)
    found = offset_from(pairs)
    off = [b - a for a, b in pairs]
    assert not found.stretched
    assert found.offset.hole == pytest.approx(np.mean(off))
    assert found.hole_error == pytest.approx(stats.sem(off))
    assert found.to_dict()["hole_offset_mm"] == round(float(np.mean(off)) * 1e3, 3)
    assert found.to_dict()["spigot_offset_mm"] is None


def test_errors_cover_the_truth_as_often_as_they_say():
    # two standard errors of a mean of six: 90 % by Student's t (5 degrees of freedom: 89.8 %)
    found = [offset_from(made(-0.0002, 1.0, 4e-5, seed)) for seed in range(400)]
    hits = [abs(f.offset.hole + 0.0002) < 2 * f.hole_error for f in found if not f.stretched]
    share = 1 - 2 * stats.t.sf(2, 5)
    assert abs(np.mean(hits) - share) < 3 * math.sqrt(share * (1 - share) / len(hits))


@settings(max_examples=50, deadline=None)
@given(st.floats(-0.0005, 0.0005), st.floats(-0.0005, 0.0005), st.floats(0.98, 1.02))
def test_what_is_drawn_by_a_found_offset_comes_out_at_size(hole, spigot, scale):
    found = offset_from(made(hole, scale), made(spigot, scale)).offset
    for kind, off in (("hole", hole), ("spigot", spigot)):
        assert scale * compensated(0.010, kind, found) + off == pytest.approx(0.010, abs=1e-9)


@pytest.mark.parametrize(
    ("holes", "spigots"),
    [((), ()), (made(0)[:2], ()), ([(0.01, 0.013)] * 3, ()), (made(0), [(0.0, 0.001)] * 3), ([(math.nan, 1)] * 3, ())],
)
def test_what_cannot_be_read_is_refused(holes, spigots):
    with pytest.raises(InputError):
        offset_from(holes, spigots)


def test_the_solid_is_one_closed_body_of_the_right_volume():
    pytest.importorskip("build123d")
    piece = coupon("printed")
    solid = coupon_solid(piece)
    assert len(solid.solids()) == 1
    assert solid.is_valid
    plate = piece.sizes["width"] * piece.sizes["depth"] * 0.003
    # closed form of everything but the letters, which are 0.6 mm high and lie within squares of their height
    for f in piece.features:
        area = {"hole": -0.003 * math.pi / 4 * f.size**2, "spigot": 0.006 * math.pi / 4 * f.size**2,
                "slot": -0.003 * f.size * 0.012, "wall": 0.006 * f.size * 0.012}.get(f.kind, 0.0)  # fmt: skip
        plate += area
    letters = solid.volume * 1e-9 - plate
    assert 0 < letters < 0.0006 * sum(f.size**2 for f in piece.features if f.kind == "text")
