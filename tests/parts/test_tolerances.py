"""Limits and fits against published values and the standard's own formulas; sizes drawn for a measured machine."""

import csv
import math
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.parts import tolerances as t

REFERENCE = Path(__file__).parents[1] / "reference/iso_286.csv"
STEPS = (3, 6, 10, 18, 30, 50, 80, 120, 180, 250, 315, 400, 500)
C_STEPS = (*(3, 6, 10, 18, 30, 40, 50, 65, 80, 100, 120, 140, 160, 180), 200, 225, 250, 280, 315, 355, 400, 450, 500)


@pytest.mark.parametrize("row", list(csv.DictReader(REFERENCE.open())), ids=lambda r: f"{r['size_mm']}{r['class']}")
def test_limits_are_those_of_the_standard(row):
    found = [round(x * 1e6, 6) for x in t.limits(row["class"], float(row["size_mm"]) / 1000)]
    assert found == [float(row["low_um"]), float(row["high_um"])], row["source"]


def mean_of(size, steps):
    """Geometric mean of a step, mm; the first runs from 1 to 3 (ISO 286-1:1988, annex A)."""
    low, high = next((a, b) for a, b in zip((1, *steps), steps, strict=False) if b >= size)
    return math.sqrt(low * high)


@pytest.mark.parametrize("row", t.table(), ids=lambda r: f"to {r['to_mm']:g} mm")
def test_the_table_is_the_standards_formulas_rounded(row):
    # ISO 286-1:1988 annex A: IT5 7i, IT6 10i, 16, 25, 40, 64, 100, 160, 250i; i = 0.45 D^(1/3) + 0.001 D
    d = mean_of(row["to_mm"], STEPS)
    i = 0.45 * d ** (1 / 3) + 0.001 * d
    for grade, times in zip(range(5, 14), (7, 10, 16, 25, 40, 64, 100, 160, 250), strict=True):
        # the first step is rounded up to preferred numbers; above it to 1 um, later to 5, 10 and 20
        slack = 0.16 if row["to_mm"] == 3 else 0.055
        assert row[f"IT{grade}"] == pytest.approx(times * i, rel=slack, abs=0.75), grade
    # the same annex: d 16 D^0.44, f 5.5 D^0.41, g 2.5 D^0.34, k 0.6 D^(1/3), c 95 + 0.8 D (below 30 mm c is not
    # what its formula gives, in the open tables neither: there they are the check, see the reference file)
    if row["to_mm"] > 30:
        assert -row["c"] == pytest.approx(95 + 0.8 * mean_of(row["to_mm"], C_STEPS), rel=0.03)
    assert -row["d"] == pytest.approx(16 * d**0.44, rel=0.025)
    assert -row["f"] == pytest.approx(5.5 * d**0.41, abs=1)
    assert -row["g"] == pytest.approx(2.5 * d**0.34, abs=1.02)
    assert row["k"] == pytest.approx(0.6 * d ** (1 / 3), abs=0.75)
    # p: IT7 and 0 to 5 um more; the first step of p is that of IT6
    assert row["p"] == 6 if row["to_mm"] == 3 else 0 <= row["p"] - row["IT7"] <= 5


@pytest.mark.parametrize(
    ("name", "kind", "clearance"),
    # 25 mm, ISO preferred fits: published clearances, values from memory
    [("H7/g6", "clearance", (7, 41)), ("H7/k6", "transition", (-15, 19)), ("H7/p6", "interference", (-35, -1))],
)
def test_a_fit_is_told_by_its_clearance(name, kind, clearance):
    made = t.fit(name, 0.025)
    assert made.kind == kind
    assert tuple(round(x * 1e6) for x in made.clearance) == clearance


@pytest.mark.parametrize(("name", "size"), [("H9", 0.0), ("H9", 0.51), ("H99", 0.02), ("z9", 0.02)])
def test_classes_and_sizes_outside_the_table_are_refused(name, size):
    with pytest.raises(InputError):
        t.limits(name, size)
    with pytest.raises(InputError):
        t.fit(f"{name}/h9", size)


def test_general_tolerances_are_those_of_class_m():
    # ISO 2768-1:1989 table 1, class m; value from memory
    assert [round(t.general(mm / 1000) * 1000, 3) for mm in (3, 6, 30, 31, 120, 400, 401)] == [
        0.1, 0.1, 0.2, 0.3, 0.3, 0.5, 0.8,
    ]  # fmt: skip


@given(
    st.floats(0.001, 0.5),
    st.floats(-0.0005, 0.0005),
    st.floats(-0.0005, 0.0005),
    st.floats(0.98, 1.02),
    st.sampled_from(t.CLASSES),
)
def test_what_a_machine_makes_of_the_drawn_size_lies_in_the_middle_of_its_tolerance(size, hole, spigot, scale, name):
    offset = t.Offset(hole, spigot, scale)
    kind = "hole" if name[0] == "H" else "spigot"
    low, high = t.limits(name, size)
    made = t.made_size(t.drawn_for(name, size, offset), kind, offset)
    assert size + low < made < size + high
    assert made == pytest.approx(size + (low + high) / 2, abs=1e-12)


def test_an_offset_that_leaves_nothing_is_refused():
    with pytest.raises(InputError, match="leaves nothing"):
        t.compensated(0.0003, "spigot", t.Offset(spigot=0.0004))
