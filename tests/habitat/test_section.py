"""The vertical cut: outlines have the sizes and places of the file."""

import math
from dataclasses import replace
from pathlib import Path

import pytest

from nestwright.habitat.file import read_habitat
from nestwright.habitat.section import section_shapes

EXAMPLES = sorted((Path(__file__).parents[2] / "examples" / "workshop" / "habitats").glob("*.toml"))


@pytest.fixture(params=EXAMPLES, ids=lambda p: p.stem)
def habitat(request):
    return read_habitat(request.param)


def only(section, kind, name):
    found = [p for p in section.pieces if p.kind == kind and p.name == name]
    assert len(found) == 1
    return found[0]


def area(points):
    """Shoelace formula."""
    pairs = zip(points, points[1:] + points[:1], strict=True)
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairs)) / 2


def test_air_stands_where_the_file_says(habitat):
    section = section_shapes(habitat)
    for chamber in habitat.chambers:
        x0, z0, x1, z1 = only(section, "air", chamber.name).box
        assert z0 == pytest.approx(chamber.place[2])
        assert z1 - z0 == pytest.approx(chamber.shape.height)
        assert (x0 + x1) / 2 == pytest.approx(chamber.place[0])
        assert x1 - x0 == pytest.approx(max(chamber.shape.width, chamber.shape.top_width))


def test_walls_have_the_area_of_their_layers(habitat):
    section = section_shapes(habitat)
    for chamber in habitat.chambers:
        walls = [p for p in section.pieces if p.kind == "wall" and p.name == chamber.name]
        thick = {f: sum(layer.thickness for layer in chamber.wall(f).layers) for f in ("side", "base")}
        base = thick["base"] * (chamber.shape.width + 2 * thick["side"])
        assert sum(area(p.points) for p in walls) == pytest.approx(2 * thick["side"] * chamber.shape.height + base)


def test_every_part_of_the_file_is_drawn(habitat):
    section = section_shapes(habitat)
    drawn = {(p.kind, p.name) for p in section.pieces}
    for kind, parts in [("water", habitat.waters), ("heater", habitat.heaters), ("sensor", habitat.sensors)]:
        assert {(kind, p.name) for p in parts} <= drawn
    openings = [o.name for o in section.openings]
    assert len(openings) == len(set(openings))
    assert {v.name for v in habitat.vents} | {p.name for p in habitat.passages} <= set(openings)


def test_a_bell_leaves_its_gap_and_stands_inside(habitat):
    section = section_shapes(habitat)
    for bell in habitat.bells:
        inner = only(section, "air", bell.chamber).box
        outer = only(section, "bell", f"{bell.chamber}/bell").box
        assert outer[1] - inner[1] == pytest.approx(bell.rim_gap)
        assert inner[0] < outer[0]
        assert outer[2] < inner[2]
        assert outer[3] < inner[3]


def test_a_garden_is_half_a_ball_of_its_volume():
    section = section_shapes(read_habitat(next(p for p in EXAMPLES if p.stem == "single-pot")))
    x0, z0, x1, z1 = only(section, "garden", "pot garden").box
    # Volume of half a ball, 2/3 pi r^3; the file says 60 mL.
    assert 2 / 3 * math.pi * ((x1 - x0) / 2) ** 3 == pytest.approx(60e-6)
    assert z1 - z0 == pytest.approx((x1 - x0) / 2)


def test_a_garden_too_large_stays_under_its_bell():
    habitat = read_habitat(next(p for p in EXAMPLES if p.stem == "single-pot"))
    garden = replace(habitat.gardens[0], volume=0.01)
    section = section_shapes(replace(habitat, gardens=(garden,)))
    inner, ball = (only(section, k, n).box for k, n in (("bell air", "pot/bell"), ("garden", "pot garden")))
    assert inner[0] < ball[0]
    assert ball[2] < inner[2]
    assert ball[3] < inner[3]


def test_what_stands_in_a_chamber_stays_in_it(habitat):
    section = section_shapes(habitat)
    for piece in section.pieces:
        if piece.kind in ("water", "sensor", "garden"):
            x0, z0, x1, z1 = only(section, "air", piece.zone.removesuffix("/bell")).box
            assert x0 - 1e-9 <= piece.box[0]
            assert piece.box[2] <= x1 + 1e-9
            assert z0 - 1e-9 <= piece.box[1]
            assert piece.box[3] <= z1 + 1e-9


def test_sensors_of_one_chamber_stand_apart(habitat):
    from nestwright.habitat.model import Sensor

    chamber = habitat.chambers[0]
    sensors = tuple(Sensor(f"probe {k}", chamber.name, 10.0) for k in range(8))
    section = section_shapes(replace(habitat, sensors=sensors))
    boxes = [only(section, "sensor", s.name).box for s in sensors]
    assert len({(round(b[0], 6), round(b[1], 6)) for b in boxes}) == 8
