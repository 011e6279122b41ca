"""Whatever single value of a habitat file is spoilt, the reader says so in its one way and never breaks."""

import copy
import tomllib
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from nestwright.errors import InputError
from nestwright.habitat.check import check_habitat
from nestwright.habitat.file import habitat_from_dict, read_habitat

FOLDER = Path(__file__).parent / "designs"
DOCS = [tomllib.loads(p.read_text()) for p in sorted(FOLDER.glob("*.toml"))]
BENCH = (FOLDER / "heated-bench.toml").read_text()


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place of a nested design, tables and lists included."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    found = [path] if path else []
    for step, below in inner:
        found += _places(below, (*path, step))
    return found


PLACES = [(i, path) for i, doc in enumerate(DOCS) for path in _places(doc)]

# Values of every sort that TOML has, texts that nearly mean something, and extreme sizes.
SPOILT = st.one_of(
    st.text(max_size=20),
    st.integers(),
    st.floats(),
    st.booleans(),
    st.dates(),
    st.lists(st.text(max_size=5), max_size=4),
    st.dictionaries(st.text(max_size=5), st.integers(), max_size=3),
    st.sampled_from(["", "room", "garden-a", "sump", "when empty", "1 mm", "0 mm", "-1 mm", "10 m", "1e-6 m", "1 um"]),
    st.sampled_from(["0 %", "100 %", "1 ppm", "0 W", "0 K", "10 m3", "0 mL", "1e308 mm", "3 mm acrylic", "nan mm"]),
    st.sampled_from([0, 1, -1, 1_000_000, 10**400, "side", "top", "base", "mesh", "hole", "slot", "cone", "box"]),
)


def _fault(read: Any, given: Any) -> InputError | None:
    """The input error that reading gives, if any; every other exception is a fault of the reader and passes."""
    try:
        read(given)
    except InputError as error:
        return error
    return None


def _spoil(doc: dict[str, Any], path: tuple[Any, ...], value: Any) -> dict[str, Any]:
    doc = copy.deepcopy(doc)
    spot: Any = doc
    for step in path[:-1]:
        spot = spot[step]
    spot[path[-1]] = value
    return doc


@settings(max_examples=600, deadline=None)
@given(st.sampled_from(PLACES), SPOILT)
def test_one_spoilt_value_gives_an_input_error_or_a_usable_design(
    place: tuple[int, tuple[Any, ...]], value: Any
) -> None:
    doc = _spoil(DOCS[place[0]], place[1], value)
    fault = _fault(habitat_from_dict, doc)
    if fault is not None:
        assert fault.message
        assert fault.field
        return
    habitat = habitat_from_dict(doc)
    assert all(f.severity == "warning" for f in check_habitat(habitat))
    assert all(c.shape.volume > 0 for c in habitat.chambers)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(PLACES))
def test_one_value_left_out_gives_an_input_error_or_a_usable_design(place: tuple[int, tuple[Any, ...]]) -> None:
    doc = copy.deepcopy(DOCS[place[0]])
    spot: Any = doc
    for step in place[1][:-1]:
        spot = spot[step]
    del spot[place[1][-1]]
    fault = _fault(habitat_from_dict, doc)
    assert fault is None or fault.field or "missing" in fault.message


@settings(max_examples=200, deadline=None)
@given(st.integers(0, len(BENCH) - 1), st.integers(0, 40), st.text(max_size=3))
def test_a_broken_text_gives_an_input_error_with_the_file(tmp_path_factory: Any, at: int, cut: int, put: str) -> None:
    path = tmp_path_factory.getbasetemp() / "broken.toml"
    path.write_text(BENCH[:at] + put + BENCH[at + cut :], encoding="utf-8")
    fault = _fault(read_habitat, path)
    assert fault is None or str(path) in str(fault)
