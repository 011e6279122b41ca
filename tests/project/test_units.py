"""Units of the habitat file against pint, and back again."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestwright.units import (
    _PINT,
    KINDS,
    UnitProblem,
    format_quantity,
    from_si,
    parse_band,
    parse_layer,
    parse_quantity,
    to_si,
)

pint = pytest.importorskip("pint")
REGISTRY = pint.UnitRegistry()
# Our spelling where pint's differs; "ppm" and "%" are pint's own.
PINT_NAMES = {**_PINT, "cm2": "cm**2", "mm2": "mm**2", "m2": "m**2", "cm3": "cm**3", "m3": "m**3", "%": "percent"}
PINT_SI = {"m2": "m**2", "m3": "m**3", "1": "dimensionless"}
EVERY_UNIT = [(kind.name, unit) for kind in KINDS.values() for unit in kind.units]


@pytest.mark.parametrize(("kind", "unit"), EVERY_UNIT)
def test_every_unit_has_the_factor_that_pint_has(kind: str, unit: str) -> None:
    spec = KINDS[kind]
    name, si = PINT_NAMES.get(unit, unit), PINT_SI.get(spec.si, spec.si)
    if kind == "difference":
        si = "delta_degC"
        name = {"K": "delta_degC", "degC": "delta_degC"}.get(unit, name)
    if kind.startswith("water") and "L" in unit:  # by convention of the file 1 mL of water counts as 1 g
        name = name.replace("mL", "g").replace("L", "kg")
    expected = REGISTRY.Quantity(7.25, name).to(si).magnitude
    assert to_si(spec, 7.25, unit) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "si"),
    [
        ("120 mm", "length", 0.12),
        ("40mm", "length", 0.04),
        (" 1e1 cm ", "length", 0.1),
        ("2 in", "length", 0.0508),  # 1 in = 25.4 mm exactly (international inch, 1959)
        ("75.2 degF", "temperature", 297.15),  # 24 degC
        ("24 °C", "temperature", 297.15),
        ("1.8 delta_degF", "difference", 1.0),
        ("8 g/day", "water rate", 0.008 / 86400),
        ("180 ml", "water", 0.18),
        ("1.5 fl oz", "volume", 44.36029434375e-6),  # 1 US fl oz = 29.5735295625 mL exactly
        ("1.5fl_oz", "volume", 44.36029434375e-6),
        ("20 %", "share", 0.2),
        ("400 ppm", "share", 4e-4),
        ("14 days", "interval", 14 * 86400.0),
        ("-40 mm", "position", -0.04),
    ],
)
def test_a_text_is_read_into_si(text: str, kind: str, si: float) -> None:
    assert parse_quantity(text, kind) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "word"),
    [
        ("3 kg", "length", "wrong unit"),
        ("3", "length", "unit is missing"),
        ("-3 mm", "length", "negative"),
        ("0 mm", "length", "larger than zero"),
        ("300 m", "length", "too large"),
        ("nan mm", "length", "cannot be read"),
        ("inf mm", "length", "cannot be read"),
        ("1e999 mm", "length", "too large"),
        ("٣ mm", "length", "cannot be read"),
        (3, "length", "written as a text"),
        (True, "length", "written as a text"),
        ("3 4 mm", "length", "cannot be read"),
        ("120 %", "share", "too large"),
        ("90 degC", "difference", "too large"),
    ],
)
def test_what_is_no_such_text_is_refused(text: object, kind: str, word: str) -> None:
    with pytest.raises(UnitProblem) as caught:
        parse_quantity(text, kind)
    assert word in caught.value.message
    assert KINDS[kind].example in caught.value.allowed


def test_a_misspelt_unit_names_the_nearest() -> None:
    with pytest.raises(UnitProblem) as caught:
        parse_quantity("8 g/days", "water rate")
    assert caught.value.nearest == "g/day"


@given(st.sampled_from(EVERY_UNIT), st.floats(0, 1))
def test_written_and_read_again_it_is_the_same_value(which: tuple[str, str], share: float) -> None:
    kind, unit = which
    spec = KINDS[kind]
    value = spec.low + share * (spec.high - spec.low)
    assert from_si(spec, to_si(spec, value, unit), unit) == pytest.approx(value, rel=1e-12, abs=1e-12)
    text = format_quantity(value, kind, unit)
    if (
        spec.low < value < spec.high * (1 - 1e-9) and 1e-6 < share < 1 - 1e-6
    ):  # at the very end the last digit may fall outside
        assert parse_quantity(text, kind) == pytest.approx(value, rel=1e-9, abs=1e-9)


@given(st.one_of(st.text(), st.integers(), st.floats(), st.none(), st.lists(st.text())), st.sampled_from(sorted(KINDS)))
def test_anything_else_raises_only_the_one_problem(value: object, kind: str) -> None:
    for read in (parse_quantity, parse_band):
        try:
            result = read(value, kind)
        except UnitProblem:
            continue
        ends = result if isinstance(result, tuple) else (result,)
        assert all(end is None or math.isfinite(end) for end in ends)


def test_layers_and_bands() -> None:
    assert parse_layer("20 mm polyethylene foam") == (pytest.approx(0.02), "polyethylene foam")
    assert parse_band("22 degC to 26 degC", "temperature") == (pytest.approx(295.15), pytest.approx(299.15))
    assert parse_band("at most 3 %", "share") == (None, pytest.approx(0.03))
    assert parse_band("at least 15 %", "share") == (pytest.approx(0.15), None)
    for text in ("26 degC to 22 degC", "22 to 26 degC", "below 3 degC", ""):
        with pytest.raises(UnitProblem):
            parse_band(text, "temperature")
    for text in ("acrylic", "3 mm", "3 acrylic", "3 kg acrylic", "-3 mm acrylic", ""):
        with pytest.raises(UnitProblem):
            parse_layer(text)
