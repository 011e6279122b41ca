"""The drawn section: whole XML, the result's numbers, no text over another."""

import importlib.util
import xml.etree.ElementTree as ET
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest

from nestwright.charts.section import section_svg
from nestwright.charts.section_key import humidity_colour
from nestwright.climate.proof import prove
from nestwright.climate.rooms import read_room
from nestwright.habitat.file import read_habitat

spec = importlib.util.spec_from_file_location("charts_made", Path(__file__).with_name("conftest.py"))
made = importlib.util.module_from_spec(spec)
spec.loader.exec_module(made)
FILES = sorted(made.EXAMPLES.glob("*.toml"))


@pytest.fixture(scope="module", params=FILES, ids=lambda p: p.stem)
def drawn(request):
    habitat = read_habitat(request.param)
    proof = prove(habitat, read_room("22 degC, 50 %"), uncertainty=False)
    return habitat, proof, section_svg(habitat, proof)


def texts(svg):
    return [e for e in ET.fromstring(svg).iter() if e.tag.endswith("}text")]


def words(svg):
    return ["".join(e.itertext()).replace("\u00a0", " ") for e in texts(svg)]


def box(element):
    """Box of a text, with 0.53 of the type's height for the mean width of a letter (Helvetica's is about that)."""
    size = float(element.get("font-size", 14))
    content = "".join(element.itertext())
    wide, x, y = 0.53 * size * len(content), float(element.get("x")), float(element.get("y"))
    left = x - {"middle": wide / 2, "end": wide}.get(element.get("text-anchor"), 0)
    if "rotate" in element.get("transform", ""):
        middle = y - 4.8
        return x - size / 2, middle - wide / 2, x + size / 2, middle + wide / 2
    return left, y - 0.72 * size, left + wide, y


@pytest.mark.parametrize("width", [640, 380])
def test_no_text_lies_over_another_or_outside(drawn, width):
    svg = drawn[2] if width == 640 else section_svg(*drawn[:2], width)
    root = ET.fromstring(svg)
    wide, high = float(root.get("width")), float(root.get("height"))
    assert wide == width
    assert min(float(e.get("font-size", 14)) for e in texts(svg)) >= 13
    boxes = [(box(e), "".join(e.itertext())) for e in texts(svg)]
    for (a, one), (b, two) in combinations(boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (one, two)
    for (x0, y0, x1, y1), content in boxes:
        assert min(x0, y0, wide - x1, high - y1) >= 0, content


def test_numbers_are_those_of_the_proof(drawn):
    habitat, proof, svg = drawn
    shown = words(svg)
    for zone in proof.zones:
        assert f"{zone.temperature - 273.15:.1f}" in shown
        assert f"{zone.relative_humidity * 100:.1f}" in shown
    for entry in proof.exchange:
        assert entry["label"] in shown
    for part in (*habitat.waters, *habitat.heaters, *habitat.sensors):
        assert part.name in shown


def test_air_is_told_in_the_readers_degrees(drawn):
    shown = words(section_svg(*drawn[:2], fahrenheit=True))
    assert "°F" in shown
    assert "°C" not in shown
    for zone in drawn[1].zones:
        assert f"{(zone.temperature - 273.15) * 1.8 + 32:.1f}" in shown


def test_flows_are_in_litres_an_hour_and_grams_a_day(proof):
    shown = words(section_svg(read_habitat(made.EXAMPLES / "single-pot.toml"), proof))
    # 3.4567e-7 m3/s x 3.6e6 = 1.244 L/h; 8.9129e-10 kg/s x 8.64e7 = 0.0770 g/day.
    assert "A → room  1.2" in shown
    assert "A → room  0.077" in shown


def test_colour_follows_humidity(drawn):
    _, proof, svg = drawn
    for zone in proof.zones:
        assert humidity_colour(zone.relative_humidity) in svg
    assert humidity_colour(0.1) == humidity_colour(0.3) == "#f7f0db"


def test_without_a_proof_nothing_is_claimed(drawn):
    shown = " ".join(words(section_svg(drawn[0])))
    assert "°C" not in shown
    assert "% RH" not in shown
    assert "limit" not in shown


@pytest.mark.parametrize("name", made.HOSTILE.values(), ids=made.HOSTILE)
def test_hostile_names_stay_text(name, proof):
    habitat = read_habitat(made.EXAMPLES / "single-pot.toml")
    pot, sump = habitat.chambers
    other = name[:9000] + "2"
    bad = replace(
        habitat,
        name=name,
        revision=name,
        chambers=(replace(pot, name=name), replace(sump, name=other)),
        bells=tuple(replace(b, chamber=name) for b in habitat.bells),
        grids=tuple(replace(g, above=name, below=other) for g in habitat.grids),
        waters=tuple(replace(w, chamber=other, name=name) for w in habitat.waters),
        gardens=tuple(replace(g, chamber=name) for g in habitat.gardens),
        vents=tuple(replace(v, chamber=name, name=name, to=name + "x") for v in habitat.vents),
        sensors=tuple(replace(s, chamber=name, name=name) for s in habitat.sensors),
    )
    svg = section_svg(bad, replace(proof, room=name))
    assert not [e for e in ET.fromstring(svg).iter() if e.tag.endswith("script")]
    assert max(map(len, words(svg))) < 120
    assert not [c for c in svg if ord(c) < 32 and c != "\n"]
    assert "\u202e" not in svg


def test_a_long_row_of_chambers_is_drawn_whole():
    habitat = read_habitat(made.EXAMPLES / "single-pot.toml")
    pot = habitat.chambers[0]
    row = tuple(replace(pot, name=f"pot {k}", place=(0.3 * k, 0.0, 0.036)) for k in range(40))
    sensors = tuple(
        replace(habitat.sensors[0], name=f"probe {k}", chamber=f"pot {k}", under_bell=False) for k in range(40)
    )
    long = replace(habitat, chambers=row, bells=(), grids=(), waters=(), gardens=(), vents=(), sensors=sensors)
    shown = words(section_svg(long))
    assert {"pot 39", "AN", "probe 39", "an"} <= set(shown)
