"""Rules of making: a broken one names place and figure; a workshop's own rules and machines take their place."""

import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.data import read_values
from nestwright.errors import FileError
from nestwright.parts.machine import Machine
from nestwright.parts.machines import read_machines
from nestwright.parts.model import Assembly, Feature, Measured, Part, Sheet
from nestwright.parts.nesting import Bed
from nestwright.parts.process import broken_rules
from nestwright.parts.process_rules import Processes, shipped_processes
from nestwright.parts.tolerances import Offset

OWN = Path(__file__).parents[2] / "examples/workshop/parts/machines.toml"
SHIPPED = shipped_processes()


def part(*features, way="printed", **more):
    return Part("collar", "port", "vent.crown", way, "PETG", 1, {}, features=features, line=21, **more)


def whole(*parts):
    return Assembly("Small pot", "2", "0" * 64, parts, ())


def broken(feature, processes=SHIPPED, way="printed"):
    return broken_rules(whole(part(feature, way=way)), processes)


def test_a_broken_rule_is_named_with_part_feature_place_size_and_figure():
    (one,) = broken(Feature("wall", "rim", 0.0003, (0.01, 0.0, 0.02), "ants"))
    assert one.severity == "error"
    assert one.line == 21
    assert one.message == (
        "collar: rim at (10.0, 0.0, 20.0) mm: wall 0.3 mm cannot be printed; at least 0.45 mm (judgement)"
    )
    assert one.to_dict()["at_mm"] == [10.0, 0.0, 20.0]


@pytest.mark.parametrize("name", [n for n in SHIPPED.rules if n.split(".")[1] not in
                                  ("flatness", "tolerance", "stretch", "kerf")])  # fmt: skip
def test_every_rule_has_an_error_a_warning_and_a_size_that_passes(name):
    way, rule = name.split(".")
    limit = SHIPPED.rules[name]
    kind = {"pin": "spigot"}.get(rule, rule)
    largest = rule in ("bridge", "overhang", "depth")
    bad, doubtful, good = (
        (limit.high * 1.01, limit.value * 1.01, limit.value)
        if largest
        else (limit.low * 0.99, limit.value * 0.99, limit.value)
    )
    (found,) = broken(Feature(kind, "x", bad), way=way)
    assert (found.severity, found.rule) == ("error", rule)
    assert [b.severity for b in broken(Feature(kind, "x", doubtful), way=way)] == ["warning"]
    assert broken(Feature(kind, "x", good), way=way) == ()


def test_angles_are_told_in_degrees_and_gaps_of_nothing_are_no_gaps():
    (found,) = broken(Feature("overhang", "shoulder", math.radians(70)))
    assert "overhang 70 deg cannot be printed; at most 65 deg" in found.message
    assert broken(Feature("gap", "seat", 0.0)) == ()


def test_bought_parts_are_not_judged_and_openings_are_judged_without_features():
    from nestwright.habitat.model import Pattern

    grid = Pattern("hole", 0.0002, 0.0, 40, 0.0, 0.0, 0.003)
    assert [b.rule for b in broken_rules(whole(part(pattern=grid, way="laser")))] == ["hole"]
    assert broken_rules(whole(part(Feature("wall", "x", 1e-5), way="bought"))) == ()


def test_openings_alike_are_told_once_and_a_tubes_wall_is_that_of_the_stock():
    holes = [Feature("hole", f"collar {n}", 0.0005, (0.01 * n, 0.0, 0.0)) for n in (1, 2, 3)]
    (found,) = broken_rules(whole(part(*holes)))
    assert (found.feature, found.at) == ("collar (3)", (0.01, 0.0, 0.0))
    tube = replace(part(Feature("wall", "wall", 0.0005), way="cut"), sizes={"outer": 0.012})
    assert broken_rules(whole(tube)) == ()
    assert [b.rule for b in broken_rules(whole(replace(tube, sizes={})))] == ["wall"]


@given(st.floats(-0.0005, 0.0005), st.floats(0.0002, 0.004))
def test_a_rule_is_judged_on_what_is_drawn(hole, size):
    # a hole that comes out small is drawn larger, so the material between two of them becomes thinner
    machine = Processes(SHIPPED.rules, (Machine("p", "printed", 20.0, offset=Offset(hole)),))
    for kind, drawn in (("hole", size - hole), ("land", size + hole)):
        told = broken(Feature(kind, "x", size), machine)
        plain = broken(Feature(kind, "x", drawn))
        assert [b.severity for b in told] == [b.severity for b in plain]


def test_a_part_larger_than_every_bed_is_told():
    sheet = Sheet(((0, 0), (0.5, 0), (0.5, 0.3), (0, 0.3)), (), (), 0.003)
    laser = Processes(SHIPPED.rules, (Machine("laser", "laser", 6.0, Bed("laser", 0.3, 0.6)),))
    small = replace(laser, machines=(Machine("laser", "laser", 6.0, Bed("laser", 0.3, 0.4)),))
    panel = part(way="laser", sheet=sheet)
    assert broken_rules(whole(panel), laser) == ()  # laid across
    (found,) = broken_rules(whole(panel), small)
    assert (found.rule, found.severity) == ("bed", "error")
    printer = Processes(SHIPPED.rules, (Machine("p", "printed", 20.0, Bed("p", 0.2, 0.2), 0.25),))
    tall = {"collar": Measured("collar", 0, 0, 0, (0.05, 0.24, 0.05))}
    assert broken_rules(whole(part()), printer, tall) == ()  # stood up
    tall["collar"] = replace(tall["collar"], box=(0.05, 0.26, 0.05))
    assert [b.rule for b in broken_rules(whole(part()), printer, tall)] == ["bed"]


ONE = 'format = 1\n[[machine]]\nname = "a"\nway = "hand"\nhours = 6\n'


def test_an_own_file_takes_the_place_of_the_shipped_rules():
    own = read_machines(OWN).processes
    assert own.rule("printed", "bridge").value == pytest.approx(0.015)
    assert own.rule("printed", "bridge").mark == "own"
    assert own.rule("printed", "wall") == SHIPPED.rule("printed", "wall")
    found = own.offset("printed")
    assert [round(x * 1e6, 6) for x in (found.hole, found.spigot, found.error)] == [-180, 90, 20]
    assert own.offset("laser") is None
    assert own.kerf("laser") == pytest.approx(0.00016)
    assert own.kerf("cut") == 0  # a saw follows the line by hand
    # 0.15 mm + 0.5 mm/m over 0.2 m; 2 mm/m over 0.1 m
    assert own.spread("laser", 0.2) == pytest.approx(0.00025)
    assert own.bow("laser", 0.1) == pytest.approx(0.0002)


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("format = 0", 1, "1"),
        ('format = 1\n[rules]\n"printed.wal" = 1', 3, "did you mean 'printed.wall'"),
        ('format = 1\n[rules]\n"printed.wall" = [3, 2, 1]', 3, "from small to large"),
        ("format = 1\n[rules]\nprinted.wall = true", 3, "no value of a rule"),
        ('format = 1\nrules = 3', 2, "table"),
        (f'{ONE}hole_offset = "3 mm"', 6, "2 mm"),
        (f'{ONE}hole_offset = 0.2', 6, "unit"),
        (f'{ONE}offset_error = "-0.1 mm"', 6, "offset_error"),
        (f'{ONE}scale = 2', 6, "1.1"),
        (f'{ONE}bed = "220 mm"', 6, "bed"),
        ('format = 1\nmachines = 3', 2, "did you mean 'machine'"),
        ('format = 1\nmachine = 3', 2, "machine"),
    ],
)  # fmt: skip
def test_a_fault_of_the_file_is_told_with_its_line(tmp_path, text, line, said):
    path = tmp_path / "machines.toml"
    path.write_text(text)
    with pytest.raises(FileError) as caught:
        read_machines(path)
    assert caught.value.line == line
    assert said in str(caught.value)


@pytest.mark.parametrize("value", [pytest.param(v, id=n) for n, v in read_values("processes.toml").items()])
def test_every_shipped_rule_says_where_it_comes_from_and_how_far_it_is_argued_about(value):
    assert 0 <= value.low < value.high
    assert value.low <= value.value <= value.high
    assert value.unit in ("mm", "mm/m", "deg", "1")
    assert len(value.source) > 5
    assert value.mark in ("published", "secondary", "derived", "judgement")
