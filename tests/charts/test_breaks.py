"""Long tubes are cut short, and nothing else changes its size."""

import math
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.charts.breaks import along, find_breaks
from nestwright.charts.section import section_svg
from nestwright.habitat.file import read_habitat
from nestwright.habitat.section import section_shapes

THREE = Path(__file__).parents[2] / "examples" / "workshop" / "habitats" / "three-pot.toml"


@pytest.fixture
def spread():
    """The three pots with the dump 2 m farther off."""
    habitat = read_habitat(THREE)
    last = max(habitat.chambers, key=lambda c: c.place[0])
    far = replace(last, place=(last.place[0] + 2.0, *last.place[1:]))
    return replace(habitat, chambers=tuple(far if c.name == last.name else c for c in habitat.chambers))


def words(svg):
    return ["".join(e.itertext()) for e in ET.fromstring(svg).iter() if e.tag.endswith("}text")]


def test_the_examples_are_whole():
    for path in THREE.parent.glob("*.toml"):
        assert find_breaks(section_shapes(read_habitat(path))) == ()


def test_only_the_long_stretch_is_cut_and_no_chamber_changes(spread):
    section = section_shapes(spread)
    (cut,) = find_breaks(section)
    assert cut.high - cut.low > 2.0 > 0.3 > cut.shown
    for piece in section.pieces:
        if piece.kind != "passage":
            a, _, b, _ = piece.box
            assert along(b, (cut,)) - along(a, (cut,)) == pytest.approx(b - a)
    assert along(cut.high, (cut,)) - along(cut.low, (cut,)) == pytest.approx(cut.shown)


def test_the_cut_says_so_and_gives_the_true_length(spread):
    section = section_shapes(spread)
    (cut,) = find_breaks(section)
    shown = words(section_svg(spread))
    assert any("but for tubes cut short" in w for w in shown)
    assert f"{(cut.high - cut.low) * 1000:.1f}".removesuffix(".0") in shown
    x0, _, x1, _ = section.box
    assert f"{(x1 - x0) * 1000:.1f}".removesuffix(".0") + " over all" in shown
    assert not any("cut short" in w for w in words(section_svg(read_habitat(THREE))))


def test_arrows_grow_by_half_a_pixel_for_a_factor_of_ten(proof):
    habitat = read_habitat(THREE.with_name("single-pot.toml"))

    def width(flow):
        entry = {"from": "pot", "to": "room", "kind": "air", "value": flow / 3.6e6, "label": "crown"}
        root = ET.fromstring(section_svg(habitat, replace(proof, exchange=(entry,))))
        (found,) = [
            e for e in root.iter() if e.get("marker-end") == "url(#air)" and float(e.get("y1")) < 400 and e.get("x1")
        ][:1]
        return float(found.get("stroke-width"))

    # 0.01 L/h is the least flow that is printed: 1 px.
    assert [width(10.0**k) for k in (-1, 0, 1, 5)] == pytest.approx([1.5, 2.0, 2.5, 3.0])
    assert math.isclose(width(0.01), 1.0)
